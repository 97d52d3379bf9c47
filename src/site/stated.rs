//! What a site file states, as it stands there: what it leaves out goes by defaults.

/// One setting as it stands in the site file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stated {
    /// The names of its tables and its own, such as `band.night.lower`.
    pub path: String,
    /// Its value as written; empty under pseudonyms, for it may be a name.
    pub written: String,
    /// Line of the site file.
    pub line: u32,
}

/// Settings in the order of the file, each once.
pub(super) fn in_order(mut stated: Vec<Stated>) -> Vec<Stated> {
    stated.sort_by(|a, b| a.line.cmp(&b.line).then_with(|| a.path.cmp(&b.path)));
    stated.dedup();
    stated
}
