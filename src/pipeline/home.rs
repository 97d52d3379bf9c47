//! One home from the bytes of its exports to the grid, its records judged on the way.
//!
//! Settled here, and why:
//! - **Records are judged before metrics**: episodes are looked for on a first alignment; where any is found, the home is
//!   aligned anew without it, and what stands beside the others (steps, drift, sun, clocks) is told from the rest.

use std::sync::Arc;

use super::beside::{self, Placed};
use super::colocation::{Offsets, logger_key};
use super::result::{HomeResult, HomeRows};
use super::unjudged_time::unjudged_time;
use super::{standing, weather};
use crate::audit::HomeAudit;
use crate::cases;
use crate::clock::{Span, UtcTime};
use crate::error::{Note, Result};
use crate::exports::{self, Files, Purpose, SetAsides};
use crate::findings::{self, Evidence};
use crate::grid::{AlignedHome, RoomSeries, RoomValues};
use crate::metrics::{self, HomeHours, MetricIndex};
use crate::quality::colocation::Checked;
use crate::quality::copies::Sketch;
use crate::quality::episodes::{self, Episode, Seen, Witnesses};
use crate::quality::peer_check::{Doubts, LateIn};
use crate::quality::{Corrected, Flagged, LoggerRow, Moved, checks};
use crate::site::{Home, Placement, Room, Site};
use crate::tables::{ReadingsRows, RoomRows};
use crate::units::Accuracy;

/// A home on the grid, with what its exports said on the way.
pub struct OpenedHome {
    /// The building, with the accuracies that are in force.
    pub(super) site: Site,
    /// The home, with the accuracies that are in force.
    pub(super) home: Home,
    /// Loggers and notes; nothing is judged yet.
    pub(super) audit: HomeAudit,
    /// Rows of exports that did not become readings.
    pub(super) set_aside: SetAsides,
    /// Rows of the readings table.
    pub(super) readings: ReadingsRows,
    /// Its rooms.
    pub(super) aligned: AlignedHome,
    /// What is kept of each logger's series, in the order of the loggers, to find its copies.
    pub(super) sketches: Vec<Sketch>,
}

impl OpenedHome {
    /// From the exports of a home; `weather` holds the weather series as its only room.
    pub(super) fn of(
        site: &Site,
        home: &Home,
        files: &Files,
        offsets: &Offsets,
        weather: Option<&AlignedHome>,
    ) -> Result<Self> {
        let Flaggeds { mut loggers, mut notes, mut set_aside } = Flaggeds::of(site, home, files, offsets)?;
        let (aligned, judged) = judge_series(site, home, &mut loggers, weather, &mut notes);
        let mut audit = HomeAudit { name: home.name.clone(), notes, ..HomeAudit::default() };
        let rows = loggers.iter().map(|logger| logger.flagged.readings().len()).sum();
        let sketch = |l: &PlacedLogger<'_>| {
            let readings = l.flagged.readings();
            Sketch::of(readings.times_ms(), readings.degc())
        };
        let sketches = loggers.iter().map(sketch).collect();
        let mut readings = ReadingsRows::with_room_for(rows);
        for (mut logger, (episodes, doubts)) in loggers.into_iter().zip(judged) {
            let room = &home.rooms[logger.room].name;
            let files: Vec<&str> = logger.opened.ledgers.iter().map(|ledger| ledger.file.as_str()).collect();
            readings.add((room, logger.placement.logger.told()), &files, &logger.flagged);
            audit.loggers.push(logger.row(&home.name, room, &aligned, episodes, doubts));
            audit.ledgers.append(&mut logger.opened.ledgers);
        }
        forget_repeats(&mut audit.notes);
        if site.pseudonymised {
            without_texts(&mut audit.notes, &mut set_aside);
        }
        let doubts = audit.loggers.iter().map(|l| (l.room.as_str(), &l.doubts));
        let doubted = standing::doubted(home, &aligned, doubts);
        let aligned = aligned.with_doubted(&doubted);
        Ok(Self { site: site.clone(), home: home.clone(), audit, set_aside, readings, aligned, sketches })
    }

    /// From its rows of an earlier audit's aligned table; rooms without rows have no value. Nothing is known of loggers,
    /// readings and rows of exports.
    pub(super) fn restored(
        site: &Site,
        home: &Home,
        mut rows: Vec<RoomRows>,
        weather: Option<&AlignedHome>,
    ) -> Self {
        let values = |room: &Room| {
            let at = rows.iter().position(|r| r.room == room.name);
            let rows = at.map(|at| rows.swap_remove(at));
            let accuracy = rows.as_ref().map_or(room.accuracies(), |r| r.accuracy);
            let placed = room.placements.iter().map(|p| p.span).collect();
            let ends = rows.as_ref().map_or(Vec::new(), |r| r.suspect_ms.clone()).into_iter();
            let suspect = ends.map(|(a, b)| Span { from: UtcTime::from_ms(a), to: UtcTime::from_ms(b + 1) });
            let (times_ms, degc, humidity) =
                rows.map_or((Vec::new(), Vec::new(), None), |r| (r.times_ms, r.degc, r.humidity));
            RoomValues { times_ms, degc, humidity, placed, suspect: suspect.collect(), accuracy }
        };
        let aligned = AlignedHome::restore(site, home.rooms.iter().map(values).collect());
        let wrong = weather.and_then(|weather| weather::of_home(site, home, &aligned, weather));
        let aligned = under(aligned, weather.filter(|_| wrong.is_none()));
        let doubted = standing::doubted_anew(site, home, &aligned);
        let aligned = aligned.with_doubted(&doubted);
        let notes = wrong.into_iter().collect();
        let audit = HomeAudit { name: home.name.clone(), notes, ..HomeAudit::default() };
        Self {
            site: site.clone(),
            home: home.clone(),
            audit,
            set_aside: SetAsides::default(),
            readings: ReadingsRows::default(),
            aligned,
            sketches: Vec::new(),
        }
    }

    /// The home, with the accuracies that are in force.
    pub const fn home(&self) -> &Home {
        &self.home
    }

    /// Its rooms on the grid.
    pub const fn aligned(&self) -> &AlignedHome {
        &self.aligned
    }

    /// What is known of its loggers, and what a reader must know; nothing is judged.
    pub fn into_audit(self) -> HomeAudit {
        self.audit
    }

    /// To its metrics, events, findings and cases.
    pub fn judge(self) -> HomeResult {
        let OpenedHome { site, home, mut audit, set_aside, readings, aligned, sketches } = self;
        let computed = metrics::compute(&site, &home, &aligned);
        let evidence = Evidence {
            site: &site,
            home: &home,
            rows: &MetricIndex::of(&computed.rows),
            events: &computed.events,
            loggers: &audit.loggers,
            periods: &computed.periods,
        };
        let judged = findings::judge(evidence);
        audit.cases = cases::cases(&evidence, &judged);
        audit.criteria = cases::criteria(&evidence, &judged);
        audit.judged_period = site.judged_period().to_owned();
        let decides = computed.periods.iter().find(|(name, _)| *name == audit.judged_period);
        audit.judged_span = decides.map(|(_, span)| *span).filter(|span| span.from < span.to);
        audit.notes.extend(unjudged_time(&site, &computed.periods, &audit.loggers));
        (audit.findings, audit.not_judged) = (judged.findings, judged.not_judged);
        let hours = HomeHours::of(&site, &home, &aligned);
        let (metrics, events) = (computed.rows, computed.events);
        let rows = HomeRows { home, metrics, events, set_aside, audit, hours, sketches };
        HomeResult { site, rows, readings, aligned }
    }

    /// What the rules about loggers and records say, as an audit would; and what is kept of each logger's series.
    ///
    /// No metric, event or case is made.
    pub fn judge_records(self) -> (HomeAudit, Vec<Sketch>) {
        let OpenedHome { site, home, mut audit, aligned, sketches, .. } = self;
        let evidence = Evidence {
            site: &site,
            home: &home,
            rows: &MetricIndex::of(&[]),
            events: &[],
            loggers: &audit.loggers,
            periods: &metrics::judged_periods(&aligned),
        };
        let judged = findings::judge_records(evidence);
        (audit.findings, audit.not_judged) = (judged.findings, judged.not_judged);
        audit.judged_period = site.judged_period().to_owned();
        (audit, sketches)
    }
}

/// The loggers of a home, flagged; and what was noted and set aside on the way.
struct Flaggeds<'a> {
    loggers: Vec<PlacedLogger<'a>>,
    notes: Vec<Note>,
    set_aside: SetAsides,
}

impl<'a> Flaggeds<'a> {
    fn of(site: &Site, home: &'a Home, files: &Files, offsets: &Offsets) -> Result<Self> {
        let opened = exports::open_home(site, home, files, Purpose::Audit)?;
        let mut all = Self { loggers: Vec::new(), notes: Vec::new(), set_aside: SetAsides::default() };
        for ((room, placements), opened) in home.rooms.iter().map(|r| &r.placements).enumerate().zip(opened) {
            for (placement, mut opened) in placements.iter().zip(opened) {
                let name: Arc<str> = home.rooms[room].name.as_str().into();
                all.set_aside.append(&name, std::mem::take(&mut opened.set_aside));
                all.notes.append(&mut opened.notes);
                let checked = offsets.get(&logger_key(placement)).copied();
                let flagged = Flagged::new(std::mem::take(&mut opened.readings), &site.quality);
                let has_steam = home.rooms[room].has_steam();
                all.loggers.push(PlacedLogger { room, has_steam, placement, checked, opened, flagged });
            }
        }
        Ok(all)
    }
}

/// The rooms on the grid, and what the others say of each logger; what is found is marked in its readings, and in no value.
fn judge_series(
    site: &Site,
    home: &Home,
    loggers: &mut [PlacedLogger<'_>],
    weather: Option<&AlignedHome>,
    notes: &mut Vec<Note>,
) -> (AlignedHome, Vec<(Vec<Episode>, Doubts)>) {
    let aligned = align(site, home, loggers);
    let weather = weather.filter(|weather| {
        let wrong = weather::of_home(site, home, &aligned, weather);
        notes.extend(wrong.clone());
        wrong.is_none()
    });
    let aligned = under(aligned, weather);
    let judged = look_together(site, &aligned, loggers);
    if judged.iter().all(|(episodes, _)| episodes.is_empty()) {
        return (aligned, judged);
    }
    // What was found is in no number, and what stands beside the others is told from the rest.
    let aligned = under(align(site, home, loggers), weather);
    let rooms = beside::Rooms::of(site, &aligned);
    let unsettled = |(_, (episodes, _)): &(&PlacedLogger<'_>, &(Vec<Episode>, Doubts))| {
        episodes.iter().any(|e| matches!(e.seen, Seen::Unsettled { .. } | Seen::Away { .. }))
    };
    let unsettled: Vec<usize> =
        loggers.iter().zip(&judged).filter(unsettled).map(|(logger, _)| logger.room).collect();
    let placed: Vec<Placed> = loggers.iter().map(PlacedLogger::placed).collect();
    let doubts = beside::doubts(&rooms.side_by_side(), &aligned, &placed, &unsettled);
    (aligned, judged.into_iter().map(|(episodes, _)| episodes).zip(doubts).collect())
}

/// One logger in one room, flagged.
struct PlacedLogger<'a> {
    room: usize,
    has_steam: bool,
    placement: &'a Placement,
    checked: Option<Checked>,
    opened: exports::Opened,
    flagged: Flagged,
}

impl PlacedLogger<'_> {
    /// How good its readings are, by a side-by-side check where there was one.
    fn accuracy(&self) -> Accuracy {
        let good_to = match self.checked {
            Some(Checked::With(check)) => check.good_to,
            _ => None,
        };
        let degc = || self.flagged.readings().degc();
        good_to.map_or(self.placement.accuracies(), |good_to| good_to.for_readings(degc()))
    }

    fn placed(&self) -> Placed {
        Placed {
            room: self.room,
            has_steam: self.has_steam,
            span: self.placement.span,
            ends: beside::ends(self.flagged.readings()),
            stated: exports::is_stated(&self.opened.clock),
            resolution: Some(checks::resolution(self.flagged.readings().degc())),
        }
    }

    fn row(
        &self,
        home: &str,
        room: &str,
        aligned: &AlignedHome,
        episodes: Vec<Episode>,
        doubts: Doubts,
    ) -> LoggerRow {
        let row = LoggerRow::new(
            home,
            room,
            self.placement.logger.told(),
            &self.opened,
            &self.flagged,
            self.checked,
        );
        let shifted = doubts.shift.map(|s| Span { from: aligned.time(s.at), to: aligned.time(s.to) });
        let late_in = doubts.clock.and_then(|late| match (late.part, row.record()?) {
            (LateIn::Whole, _) => None,
            (LateIn::From(i), record) => Some(Span { from: aligned.time(i), ..record }),
            (LateIn::Until(i), record) => Some(Span { to: aligned.time(i), ..record }),
        });
        let record = row.record();
        let moved = doubts.in_room.zip(record).map(|(it, record)| Moved {
            span: Span { from: aligned.time(it.at), ..record },
            room: it.room,
            exchanged: it.exchanged,
        });
        LoggerRow { doubts, shifted, late_in, moved, episodes, ..row }
    }
}

fn align(site: &Site, home: &Home, loggers: &[PlacedLogger<'_>]) -> AlignedHome {
    let series = |(number, room): (usize, &Room)| {
        let here = loggers.iter().filter(|logger| logger.room == number);
        let corrected = |logger: &PlacedLogger<'_>| {
            let usable = Corrected::new(
                &logger.flagged,
                logger.checked.and_then(Checked::taken_off),
                site.quality.use_suspect,
            );
            (usable, logger.placement.span)
        };
        let known = here.clone().map(PlacedLogger::accuracy).reduce(Accuracy::wider);
        let accuracy = known.unwrap_or(room.accuracies());
        RoomSeries { placements: here.map(corrected).collect(), accuracy }
    };
    AlignedHome::align(site, &home.rooms.iter().enumerate().map(series).collect::<Vec<_>>())
}

/// What the other rooms of the home and the outdoor air say of each logger; what is found is marked in its readings.
fn look_together(
    site: &Site,
    aligned: &AlignedHome,
    loggers: &mut [PlacedLogger<'_>],
) -> Vec<(Vec<Episode>, Doubts)> {
    let rooms = beside::Rooms::of(site, aligned);
    let side = rooms.side_by_side();
    let first = aligned.time(0);
    let witnesses = Witnesses { side: &side, outdoor: aligned.outdoor(), first };
    let seen: Vec<episodes::Logger<'_>> = loggers
        .iter()
        .map(|l| episodes::Logger { room: l.room, flagged: &l.flagged, placed: l.placement.span })
        .collect();
    let found = episodes::find(&witnesses, &seen, &site.quality);
    let any = found.iter().any(|episodes| !episodes.is_empty());
    let doubts: Vec<Doubts> = if any {
        vec![Doubts::default(); loggers.len()]
    } else {
        let placed: Vec<Placed> = loggers.iter().map(PlacedLogger::placed).collect();
        beside::doubts(&side, aligned, &placed, &[])
    };
    for (logger, episodes) in loggers.iter_mut().zip(&found) {
        episodes.iter().for_each(|episode| episode.mark(&mut logger.flagged, &site.quality));
    }
    found.into_iter().zip(doubts).collect()
}

fn under(aligned: AlignedHome, weather: Option<&AlignedHome>) -> AlignedHome {
    match weather {
        Some(weather) => aligned.with_outdoor(weather),
        None => aligned,
    }
}

/// What came of exports, without any text out of them: results under pseudonyms tell none.
pub(super) fn without_texts(notes: &mut [Note], set_aside: &mut SetAsides) {
    notes.iter_mut().for_each(|note| note.what = note.what.without_names());
    set_aside.quiet();
}

/// A file with many columns says the same of each of them: once is enough.
fn forget_repeats(notes: &mut Vec<Note>) {
    let mut told = Vec::new();
    notes.retain(|note| {
        let new = !told.contains(note);
        if new {
            told.push(note.clone());
        }
        new
    });
}
