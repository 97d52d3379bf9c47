//! What of a folder is not in the roster: files, columns that are not judged, tables that no logger wrote. Each is told once.

/// Names that are told of a kind; more are counted.
const SHOWN: usize = 12;

/// What was left out, and why.
#[derive(Debug, Default)]
pub(super) struct LeftOut {
    files: Vec<(String, String)>,
    columns: Vec<(String, String)>,
    tables: Vec<String>,
}

impl LeftOut {
    /// A file, or a series of temperatures in it, that no row names.
    pub(super) fn file(&mut self, file: String, why: String) {
        self.files.push((file, why));
    }

    /// A column that holds another quantity than the temperature of a room.
    pub(super) fn column(&mut self, column: &str, file: &str, why: &str) {
        self.columns.push((format!("{column}: {why}"), file.to_owned()));
    }

    /// A table that is no export of a logger.
    pub(super) fn table(&mut self, file: String) {
        self.tables.push(file);
    }

    pub(super) fn files(&mut self, all: impl IntoIterator<Item = (String, String)>) {
        self.files.extend(all);
    }

    /// A line for each reason.
    pub(super) fn lines(&self) -> Vec<String> {
        let told = |(why, files): (String, Vec<String>)| {
            format!("not in the roster: {}: {}", some(&files), why.replace("\n  ", "; "))
        };
        let files = by_reason(self.files.iter().map(|(file, why)| (why, file))).into_iter().map(told);
        let columns = by_reason(self.columns.iter().map(|(what, file)| (what, file)));
        let columns = columns.into_iter().map(|(what, files)| {
            let (column, why) = what.split_once(": ").unwrap_or((&what, ""));
            format!("column not judged, no logger is missing for it: {column} in {}: {why}", some(&files))
        });
        let tables = (!self.tables.is_empty()).then(|| {
            format!(
                "not logger exports: {} (tables of times and words, without readings)",
                some(&self.tables)
            )
        });
        files.chain(columns).chain(tables).collect()
    }
}

/// The names of each reason, in the order in which reasons came.
fn by_reason<'a>(all: impl Iterator<Item = (&'a String, &'a String)>) -> Vec<(String, Vec<String>)> {
    let mut grouped: Vec<(String, Vec<String>)> = Vec::new();
    for (why, name) in all {
        match grouped.iter_mut().find(|(known, _)| known == why) {
            Some((_, names)) => names.push(name.clone()),
            None => grouped.push((why.clone(), vec![name.clone()])),
        }
    }
    grouped
}

fn some(names: &[String]) -> String {
    let mut told: Vec<String> = names.iter().take(SHOWN).cloned().collect();
    if names.len() > SHOWN {
        told.push(format!("and {} more", names.len() - SHOWN));
    }
    told.join(", ")
}
