//! Whether rooms have heating of their own, where anybody knows.

/// Whether a room has heating of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heated {
    /// It has.
    Yes,
    /// It has none.
    No,
    /// Nobody said.
    Unknown,
}

impl Heated {
    /// Whether it surely has.
    pub fn surely(self) -> bool {
        self == Heated::Yes
    }

    /// The word of the roster.
    pub const fn word(self) -> &'static str {
        match self {
            Heated::Yes => "yes",
            Heated::No => "no",
            Heated::Unknown => "unknown",
        }
    }
}
