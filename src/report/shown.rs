//! Homes as the pictures of a building show them.

use crate::audit::{HomeAudit, HomeNumbers};
use crate::site::Home;

/// Homes with a picture on the weather here; every home has its own on its page. More homes than that are many.
pub(super) const MOST_SMALL: usize = 12;

/// A home with its rooms and its numbers.
pub(super) struct Shown<'a> {
    pub(super) home: &'a Home,
    pub(super) audit: &'a HomeAudit,
    pub(super) numbers: HomeNumbers<'a>,
}

/// Whether so many homes are shown that each has little room.
pub(super) fn many(homes: &[Shown<'_>]) -> bool {
    homes.len() > MOST_SMALL
}
