//! What is wanted of an export.

/// Which series of an export to read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Wanted<'a> {
    /// The roster's `column`; `None`: the only one there is.
    pub(super) column: Option<&'a str>,
    /// The roster's `logger`: it picks the rows where a column names loggers.
    pub(super) logger: &'a str,
}
