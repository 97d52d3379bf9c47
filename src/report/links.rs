//! Where a home is found in the report.

use std::collections::BTreeMap;

use crate::audit::{Audit, HomeAudit};

/// The place of a home's section in the page: no two homes share one, whatever their names are.
pub(super) fn anchor(home: &str) -> String {
    let plain =
        |c: char| if c.is_ascii_alphanumeric() { c.to_string() } else { format!("_{:x}_", u32::from(c)) };
    format!("home-{}", home.chars().map(plain).collect::<String>())
}

/// Name of the page of a home, counted from 1 in the order of the roster: nothing of the home's own name, which no file system
/// need bear.
pub fn page_name(number: usize) -> String {
    format!("report/home-{number:04}.html")
}

/// Where a home is found.
pub(super) struct Links<'a> {
    /// The number of each home, where they have pages of their own.
    numbers: Option<BTreeMap<&'a str, usize>>,
}

impl<'a> Links<'a> {
    /// All homes on the page that leads to them.
    pub(super) const fn on_one_page() -> Self {
        Self { numbers: None }
    }

    /// Homes on pages of their own.
    pub(super) fn in_folder(audit: &'a Audit) -> Self {
        Self { numbers: Some((1..).zip(&audit.homes).map(|(n, h)| (h.name.as_str(), n)).collect()) }
    }

    /// The link to a home.
    pub(super) fn to(&self, home: &HomeAudit) -> String {
        match self.numbers.as_ref().and_then(|numbers| numbers.get(home.name.as_str())) {
            Some(number) => page_name(*number),
            None => format!("#{}", anchor(&home.name)),
        }
    }
}
