//! Names that exports know too.

use crate::texts::shown;

/// The name of a file or logger: as the roster and the exports have it, and as results tell it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Name {
    own: String,
    told: String,
}

impl Name {
    /// A name that results tell as it stands, with what acts on a terminal spelled out.
    pub fn new(own: impl Into<String>) -> Self {
        let own = own.into();
        Self { told: shown(&own).into_owned(), own }
    }

    /// As the roster and the exports have it: to find it there, never to tell it.
    pub fn own(&self) -> &str {
        &self.own
    }

    /// As results tell it.
    pub fn told(&self) -> &str {
        &self.told
    }

    /// The same, told by another name.
    pub(super) fn told_as(&mut self, told: String) {
        self.told = told;
    }
}
