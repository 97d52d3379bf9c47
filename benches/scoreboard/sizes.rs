//! What was found of each size: whether a thing is found says little where nobody knows how large it was.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use evenrooms::simulate::{FaultKind, Trouble};

use super::found::Found;
use super::table::words;

/// Something that comes in sizes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Sized {
    /// Something wrong with a home.
    Trouble(Trouble),
    /// A fault of a logger.
    Fault(FaultKind),
}

/// Of each thing: its sizes, and whether it was found.
#[derive(Debug, Default)]
pub(crate) struct Sizes(BTreeMap<Sized, Vec<(f64, bool)>>);

/// A share of so much, in %, counts as found.
const MOSTLY: f64 = 95.0;
/// Fewer cases than this say nothing about a share of 95 %.
const FEWEST: u32 = 20;

impl Sized {
    /// What its size is, and where the bands between small and large end.
    fn scale(self) -> Option<(&'static str, &'static [f64])> {
        Some(match self {
            Sized::Fault(FaultKind::StepOffset | FaultKind::SlowDrift) => ("K", &[0.7, 1.0, 2.0]),
            Sized::Fault(FaultKind::InSun) => ("K in full sun", &[3.0, 6.0, 10.0]),
            Sized::Fault(FaultKind::BesideHeater) => ("K at full heat", &[2.5, 5.0, 10.0]),
            Sized::Fault(FaultKind::SpikeBurst) => ("K", &[4.0, 6.0, 10.0]),
            Sized::Fault(FaultKind::InBag) => ("K", &[3.0, 4.0, 6.0]),
            Sized::Fault(FaultKind::Swapped | FaultKind::SwappedLater | FaultKind::MovedToRoom) => {
                ("K between the rooms", &[0.7, 1.0, 2.0])
            }
            Sized::Fault(FaultKind::Stuck | FaultKind::MovedOutdoors) => ("h", &[12.0, 24.0, 72.0]),
            Sized::Fault(FaultKind::WrongZone) => ("h", &[1.5, 2.5, 4.5]),
            Sized::Trouble(Trouble::HeatFailure) => ("h", &[8.0, 24.0, 48.0]),
            Sized::Trouble(Trouble::ColdRoom) => ("share of heat missing", &[0.6, 0.8, 0.99]),
            Sized::Trouble(Trouble::NoRecovery) => ("share of heat missing", &[0.45, 0.55, 0.65]),
            Sized::Trouble(Trouble::ClosedDoor) => ("times the usual loss", &[1.8, 2.4, 3.0]),
            Sized::Trouble(Trouble::UnevenHome) => ("K between setpoints", &[2.5, 3.5, 5.0]),
            Sized::Trouble(Trouble::Overheating) => ("K too warm", &[2.5, 3.5, 5.0]),
            _ => return None,
        })
    }

    fn words(self) -> String {
        match self {
            Sized::Trouble(kind) => format!("event: {}", words(kind)),
            Sized::Fault(kind) => format!("fault: {}", words(kind)),
        }
    }
}

impl Sizes {
    /// Counts a thing; its sign does not matter, and one without a size is not counted.
    pub(crate) fn add(&mut self, of: Sized, size: f64, found: bool) {
        if size.abs() > 0.0 {
            self.0.entry(of).or_default().push((size.abs(), found));
        }
    }

    /// The table for people; nothing where nothing has a size.
    pub(crate) fn table(&self) -> String {
        let mut text = String::from(
            "\n| found by size | size | smallest | | | largest | found in 95 % from |\n|---|---|---|---|---|---|---|\n",
        );
        let mut rows = 0;
        for (of, cases) in &self.0 {
            let Some((unit, bounds)) = of.scale() else { continue };
            let _ = write!(text, "| {} | {unit} |", of.words());
            for band in bands(bounds) {
                let mut found = Found::default();
                cases.iter().filter(|(size, _)| band.holds(*size)).for_each(|(_, seen)| found.add(*seen));
                let of_band = match found.there {
                    0 => String::new(),
                    _ => format!("{}: {} of {} ({})", band.words(), found.found, found.there, found.show()),
                };
                let _ = write!(text, " {of_band} |");
            }
            let from = mostly_found_from(cases).map_or("no size".to_owned(), |size| format!("{size:.2}"));
            let _ = writeln!(text, " {from} |");
            rows += 1;
        }
        if rows == 0 { String::new() } else { text }
    }
}

/// The smallest size from which on, with all larger ones, 95 % are found.
pub(crate) fn mostly_found_from(cases: &[(f64, bool)]) -> Option<f64> {
    let mut falling = cases.to_vec();
    falling.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (mut found, mut from) = (Found::default(), None);
    for (size, seen) in falling {
        found.add(seen);
        if found.there >= FEWEST && found.share() >= MOSTLY {
            from = Some(size);
        }
    }
    from
}

/// Sizes from one bound up to the next.
struct Band {
    from: f64,
    to: Option<f64>,
}

impl Band {
    fn holds(&self, size: f64) -> bool {
        size >= self.from && self.to.is_none_or(|to| size < to)
    }

    fn words(&self) -> String {
        match self.to {
            Some(to) if self.from <= 0.0 => format!("below {to}"),
            Some(to) => format!("{} to {to}", self.from),
            None => format!("{} and over", self.from),
        }
    }
}

fn bands(bounds: &[f64]) -> impl Iterator<Item = Band> + use<'_> {
    let ends = bounds.iter().map(|x| Some(*x)).chain([None]);
    [0.0].into_iter().chain(bounds.iter().copied()).zip(ends).map(|(from, to)| Band { from, to })
}
