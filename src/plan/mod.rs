//! Before loggers are placed: what goes where, what the roster does not say yet, and how many days an answer will take.
//!
//! Settled here, and why:
//! - **One row of the roster is one placement**: whoever walks through the homes with the list ticks off rows, so a room in
//!   which one logger follows another has two.
//! - **What is missing is told with what it costs**, because an empty cell is allowed: it takes something away from the
//!   answer, and nobody sees that on the day the loggers are placed.

mod days;
mod lacks;
mod placing;
mod side_by_side;
mod words;

pub use days::{CHECKED_K, DayVariation, Days, Outlook, Reach, days_to_even, sure_within};
pub use lacks::Lack;
pub use placing::{ADVICE, Advice, HEIGHT_FROM_M, HEIGHT_M, HEIGHT_TO_M};
pub use side_by_side::{LEAST_TOGETHER_H, SETTLING_H, STEPS, TOGETHER_H, lines_to_paste};

use crate::clock::Span;
use crate::site::{Heated, Home, Placement, Purpose, Room, Site};

/// What is to be done before the first reading.
#[derive(Debug)]
pub struct CampaignPlan<'a> {
    /// The site.
    pub site: &'a Site,
    /// Its homes in roster order.
    pub homes: Vec<HomePlan<'a>>,
    /// What roster and site file do not say yet, the dearest first.
    pub lacks: Vec<Lack>,
    /// How much days differ, for the number of days.
    pub variation: DayVariation,
}

/// The placements of a home.
#[derive(Debug)]
pub struct HomePlan<'a> {
    /// The home.
    pub home: &'a Home,
    /// One for each row of the roster, rooms in roster order; a room without a logger has one without.
    pub places: Vec<Place<'a>>,
    /// What its loggers can show; `None`: no unheated room beside a heated one.
    pub outlook: Option<Outlook>,
}

/// A room, and the logger that goes there.
#[derive(Clone, Copy, Debug)]
pub struct Place<'a> {
    /// The room.
    pub room: &'a Room,
    /// The logger; `None`: none is named yet.
    pub placement: Option<&'a Placement>,
}

impl Place<'_> {
    /// Height above the floor in m, where the roster says it.
    pub fn stated_height_m(&self) -> Option<f64> {
        self.placement?.height_m
    }

    /// The height in words: as the roster says, else about [`HEIGHT_M`].
    pub fn height(&self) -> String {
        self.stated_height_m().map_or(format!("about {HEIGHT_M} m"), |h| format!("{h:.2} m"))
    }

    /// The logger as the roster has it.
    pub fn logger(&self) -> Option<&str> {
        self.placement.map(|p| p.logger.told())
    }

    /// From when to when it stands there, in local time, where the roster says so.
    pub fn when(&self, site: &Site) -> String {
        let Some(span) = self.placement.map(|p| p.span) else { return String::new() };
        let from = (span.from > Span::ALWAYS.from).then(|| format!("from {}", site.zone.show(span.from)));
        let to = (span.to < Span::ALWAYS.to).then(|| format!("to {}", site.zone.show(span.to)));
        [from, to].into_iter().flatten().collect::<Vec<_>>().join(" ")
    }

    /// Use and heating in words: `bedroom, heated`.
    pub fn kind(&self) -> String {
        let heated = match self.room.heated {
            Heated::Yes => "heated",
            Heated::No => "not heated",
            Heated::Unknown => "heated?",
        };
        let word = if self.room.purpose == Purpose::Other { "other room" } else { self.room.purpose.word() };
        format!("{word}, {heated}")
    }
}

impl<'a> CampaignPlan<'a> {
    /// The plan of a site; `variation`: how much days differ.
    pub fn of(site: &'a Site, variation: DayVariation) -> Self {
        let home = |home: &'a Home| HomePlan {
            home,
            places: home.rooms.iter().flat_map(places).collect(),
            outlook: Outlook::of(site, home, variation),
        };
        let homes: Vec<HomePlan<'a>> = site.homes.iter().map(home).collect();
        let lacks = lacks::lacks(site, &homes);
        Self { site, homes, lacks, variation }
    }

    /// Every placement with its home, in roster order.
    pub fn places(&self) -> impl Iterator<Item = (&'a Home, Place<'a>)> {
        self.homes.iter().flat_map(|h| h.places.iter().map(|place| (h.home, *place)))
    }

    /// Loggers by name, each once, in roster order.
    pub fn loggers(&self) -> Vec<&'a str> {
        let mut names: Vec<&str> = Vec::new();
        for placement in self.places().filter_map(|(_, place)| place.placement) {
            if !names.contains(&placement.logger.told()) {
                names.push(placement.logger.told());
            }
        }
        names
    }

    /// Rooms for which no logger is named.
    pub fn without_logger(&self) -> usize {
        self.places().filter(|(_, place)| place.placement.is_none()).count()
    }

    /// The whole days that a home must have on record.
    pub fn asked_days(&self) -> u32 {
        days::asked_days(self.site)
    }

    /// The home of which the loggers show least: what holds for it holds for all.
    pub fn widest(&self) -> Option<&HomePlan<'a>> {
        let known = self.homes.iter().filter(|h| h.outlook.is_some());
        let sensors = |h: &HomePlan<'_>| h.outlook.as_ref().map_or(0.0, |o| o.plain_k);
        known.reduce(|a, b| if sensors(b) > sensors(a) { b } else { a })
    }
}

fn places(room: &Room) -> Vec<Place<'_>> {
    match room.placements.as_slice() {
        [] => vec![Place { room, placement: None }],
        some => some.iter().map(|p| Place { room, placement: Some(p) }).collect(),
    }
}
