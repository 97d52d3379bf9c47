//! How pressing a finding is.

/// How pressing a finding is, the most pressing first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// People may come to harm: today.
    Urgent,
    /// Somebody must go there.
    Act,
    /// Keep an eye on it.
    Watch,
    /// For the record.
    Note,
}

impl Severity {
    /// All severities, the most pressing first.
    pub const ALL: [Severity; 4] = [Severity::Urgent, Severity::Act, Severity::Watch, Severity::Note];

    /// The word in tables.
    pub const fn word(self) -> &'static str {
        match self {
            Severity::Urgent => "urgent",
            Severity::Act => "act",
            Severity::Watch => "watch",
            Severity::Note => "note",
        }
    }
}

impl Severity {
    /// What it asks for.
    pub const fn definition(self) -> &'static str {
        match self {
            Severity::Urgent => {
                "people may come to harm, and it lasted to the last day of the record: go today"
            }
            Severity::Act => {
                "somebody must go there (a finding about the home), or settle it before anything is decided (a finding about a record)"
            }
            Severity::Watch => {
                "keep an eye on it: seen, but not sure or not much, or over; or a logger is to be looked at first"
            }
            Severity::Note => "for the record: nothing need be done",
        }
    }
}
