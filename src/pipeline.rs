//! One home from the bytes of its exports to its findings. It meets neither disk nor terminal nor other threads, so that
//! the commands, the benches and the scoreboard all run the same.
//!
//! Settled here, and why:
//! - **Records are judged before metrics**: episodes are looked for on a first alignment; where any is found, the home is
//!   aligned anew without it, and what stands beside the others (steps, drift, sun, clocks) is told from the rest.

mod beside;
mod records;
mod standing;
mod weather;

pub use records::judge_records;
pub use weather::no_weather_of;

use beside::Placed;

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::audit::HomeAudit;
use crate::cases;
use crate::clock::{Span, UtcTime};
use crate::error::{Note, Result};
use crate::exports::{self, Files, Purpose};
use crate::findings::{self, Evidence, SeriesPlace};
use crate::grid::{AlignedHome, RoomSeries, RoomValues};
use crate::metrics::{self, Building, EVENNESS_VERDICT, HomeHours, MetricIndex, MetricRow};
use crate::quality::across::{Doubts, LateIn};
use crate::quality::colocation::Checked;
use crate::quality::copies::{self, Sketch};
use crate::quality::episodes::{self, Episode, Seen, Witnesses};
use crate::quality::{Corrected, Flagged, LoggerRow, Moved};
use crate::site::{Home, Placement, Room, Site};
use crate::tables::{self, Group, ReadingsRows, RoomRows};
use crate::units::{Celsius, KelvinDiff};

/// Pairs of extremes of a curve in the report.
pub const TRACE_PAIRS: usize = 750;

/// Which series of a site a logger's offset belongs to: the logger, and its column where it has several.
pub type LoggerKey = (String, Option<String>);

/// The key of a placement's series.
pub fn logger_key(placement: &Placement) -> LoggerKey {
    (placement.logger.own().to_owned(), placement.sources.first().and_then(|s| s.column.clone()))
}

/// What came of each logger in the side-by-side time.
pub type Offsets = BTreeMap<LoggerKey, Checked>;

/// What came of one home, with its rows of the large tables.
pub struct HomeWork {
    /// Metrics, findings, loggers, notes.
    pub audit: HomeAudit,
    /// Rows of the readings table.
    pub readings: Group,
    /// Rows of the aligned table.
    pub aligned: Group,
    /// What is kept of it for the building.
    pub hours: HomeHours,
    /// What is kept of each logger's series, in the order of the loggers, to find its copies.
    pub sketches: Vec<Sketch>,
}

/// A home on the grid, with what its exports said on the way.
pub struct OpenedHome {
    /// Loggers, rows set aside, notes.
    pub audit: HomeAudit,
    /// Rows of the readings table.
    pub readings: ReadingsRows,
    /// Its rooms.
    pub aligned: AlignedHome,
    /// What is kept of each logger's series, in the order of the loggers, to find its copies.
    pub sketches: Vec<Sketch>,
}

/// From the exports of one home to its findings; `weather` holds the weather series as its only room.
///
/// # Errors
/// [`crate::error::Error::Imbalance`], [`crate::error::Error::Encode`]: bugs, both.
pub fn audit_home(
    site: &Site,
    home: &Home,
    files: &Files,
    offsets: &Offsets,
    weather: Option<&AlignedHome>,
) -> Result<HomeWork> {
    judge_home(site, home, open_home(site, home, files, offsets, weather)?)
}

/// From the exports of one home to its rooms on the grid.
///
/// # Errors
/// As [`audit_home`].
pub fn open_home(
    site: &Site,
    home: &Home,
    files: &Files,
    offsets: &Offsets,
    weather: Option<&AlignedHome>,
) -> Result<OpenedHome> {
    let opened = exports::open_home(site, home, files, Purpose::Audit)?;
    let mut audit = HomeAudit { name: home.name.clone(), ..HomeAudit::default() };
    let mut loggers: Vec<PlacedLogger<'_>> = Vec::new();
    for ((room, placements), opened) in home.rooms.iter().map(|r| &r.placements).enumerate().zip(opened) {
        for (placement, mut opened) in placements.iter().zip(opened) {
            let name: Arc<str> = home.rooms[room].name.as_str().into();
            audit.set_aside.append(&name, std::mem::take(&mut opened.set_aside));
            audit.notes.append(&mut opened.notes);
            let checked = offsets.get(&logger_key(placement)).copied();
            let flagged = Flagged::new(std::mem::take(&mut opened.readings), &site.quality);
            loggers.push(PlacedLogger { room, placement, checked, opened, flagged });
        }
    }
    let mut aligned = align(site, home, &loggers);
    let weather = weather.filter(|weather| {
        let wrong = weather::of_home(site, home, &aligned, weather);
        audit.notes.extend(wrong.clone());
        wrong.is_none()
    });
    aligned = under(aligned, weather);
    let mut judged = look_together(site, &aligned, &mut loggers);
    if judged.iter().any(|(episodes, _)| !episodes.is_empty()) {
        // What was found is in no number, and what stands beside the others is told from the rest.
        aligned = under(align(site, home, &loggers), weather);
        let rooms = beside::Rooms::of(site, &aligned);
        let unsettled = |(_, (episodes, _)): &(&PlacedLogger<'_>, &(Vec<Episode>, Doubts))| {
            episodes.iter().any(|e| matches!(e.seen, Seen::Unsettled { .. } | Seen::Away { .. }))
        };
        let unsettled: Vec<usize> =
            loggers.iter().zip(&judged).filter(unsettled).map(|(logger, _)| logger.room).collect();
        let placed: Vec<Placed> = loggers.iter().map(PlacedLogger::placed).collect();
        let doubts = beside::doubts(&rooms.side_by_side(), &aligned, &placed, &unsettled);
        judged = judged.into_iter().map(|(episodes, _)| episodes).zip(doubts).collect();
    }
    let rows = loggers.iter().map(|logger| logger.flagged.readings().len()).sum();
    let sketch = |l: &PlacedLogger<'_>| {
        let readings = l.flagged.readings();
        Sketch::of(readings.times_ms(), readings.degc())
    };
    let sketches = loggers.iter().map(sketch).collect();
    let mut readings = ReadingsRows::with_room_for(rows);
    for (mut logger, (episodes, doubts)) in loggers.into_iter().zip(judged) {
        let room = &home.rooms[logger.room].name;
        readings.add(room, logger.placement.logger.told(), &logger.flagged);
        audit.loggers.push(logger.row(&home.name, room, &aligned, episodes, doubts));
        audit.ledgers.append(&mut logger.opened.ledgers);
    }
    forget_repeats(&mut audit.notes);
    let doubts = audit.loggers.iter().map(|l| (l.room.as_str(), &l.doubts));
    let doubted = standing::doubted(home, &aligned, doubts);
    let aligned = aligned.with_doubted(&doubted);
    Ok(OpenedHome { audit, readings, aligned, sketches })
}

/// One logger in one room, flagged.
struct PlacedLogger<'a> {
    room: usize,
    placement: &'a Placement,
    checked: Option<Checked>,
    opened: exports::Opened,
    flagged: Flagged,
}

impl PlacedLogger<'_> {
    fn placed(&self) -> Placed {
        Placed { room: self.room, span: self.placement.span, ends: beside::ends(self.flagged.readings()) }
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
        RoomSeries { placements: here.map(corrected).collect(), accuracy: room.accuracy() }
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

/// A home from its rows of an earlier audit's aligned table; rooms without rows have no value.
///
/// Nothing is known of loggers, readings and rows of exports.
pub fn restore_home(
    site: &Site,
    home: &Home,
    mut rows: Vec<RoomRows>,
    weather: Option<&AlignedHome>,
) -> OpenedHome {
    let values = |room: &Room| {
        let at = rows.iter().position(|r| r.room == room.name);
        let rows = at.map(|at| rows.swap_remove(at));
        let accuracy = rows.as_ref().map_or(room.accuracy(), |r| KelvinDiff::new(r.accuracy_k));
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
    OpenedHome { audit, readings: ReadingsRows::default(), aligned, sketches: Vec::new() }
}

fn under(aligned: AlignedHome, weather: Option<&AlignedHome>) -> AlignedHome {
    match weather {
        Some(weather) => aligned.with_outdoor(weather),
        None => aligned,
    }
}

/// From a home on the grid to its findings.
///
/// # Errors
/// [`crate::error::Error::Encode`]: a bug.
pub fn judge_home(site: &Site, home: &Home, opened: OpenedHome) -> Result<HomeWork> {
    let OpenedHome { mut audit, readings, aligned, sketches } = opened;
    let computed = metrics::compute(site, home, &aligned);
    let evidence = Evidence {
        site,
        home,
        rows: &MetricIndex::of(&computed.rows),
        events: &computed.events,
        loggers: &audit.loggers,
        periods: &computed.periods,
    };
    let judged = findings::judge(evidence);
    audit.cases = cases::cases(&evidence, &judged);
    audit.criteria = cases::criteria(&evidence, &judged);
    audit.judged_period = site.judged_period().to_owned();
    audit.notes.extend(not_judged_time(site, &computed.periods, &audit.loggers));
    audit.trace = aligned.trace(TRACE_PAIRS);
    audit.pictures = metrics::pictures(site, home, &aligned);
    (audit.findings, audit.not_judged) = (judged.findings, judged.not_judged);
    (audit.metrics, audit.events) = (computed.rows, computed.events);
    let hours = HomeHours::of(site, home, &aligned);
    let readings = readings.encode(&site.name, &home.name)?;
    Ok(HomeWork {
        audit,
        readings,
        aligned: tables::aligned_group(&site.name, home, &aligned)?,
        hours,
        sketches,
    })
}

/// A file of the exports folder that the roster does not name, and the sketch of a series in it.
pub type Unnamed = (String, Sketch);

/// Tells of series that are copies of each other, in the homes of their rooms; `sketches` holds those of each home's loggers,
/// `digests` the digest of each export. No room of which the readings are also those of another keeps a verdict on evenness.
/// The answer are the unnamed files that hold nothing beyond a file of the roster, which stands beside each.
pub fn tell_copies(
    site: &Site,
    homes: &mut [HomeAudit],
    sketches: &[Vec<Sketch>],
    unnamed: &[Unnamed],
    digests: &BTreeMap<String, String>,
) -> Vec<(String, String)> {
    let (mut series, mut all) = (Vec::new(), Vec::new());
    for (number, (home, sketches)) in homes.iter().zip(sketches).enumerate() {
        for (logger, sketch) in home.loggers.iter().zip(sketches) {
            series.push(SeriesPlace {
                room: Some((number, logger.room.clone())),
                logger: logger.logger.clone(),
                file: logger.file.clone(),
                record: sketch.record(),
            });
            all.push(sketch);
        }
    }
    for (file, sketch) in unnamed {
        let record = sketch.record();
        series.push(SeriesPlace { room: None, logger: file.clone(), file: file.clone(), record });
        all.push(sketch);
    }
    let mut pairs = copies::pairs(&all);
    let known: Vec<(usize, usize)> = pairs.iter().map(|(a, b, _)| (*a, *b)).collect();
    let same = same_files(&series, digests).into_iter().filter(|pair| !known.contains(pair));
    pairs.extend(same.filter_map(|(a, b)| Some((a, b, all[a].same(all[b])?))));
    for (home, finding) in findings::copies(site, &series, &pairs) {
        add_finding(site, &mut homes[home], finding);
    }
    for (home, audit) in site.homes.iter().zip(homes) {
        let without = findings::without_evenness(home, &mut audit.findings, &mut audit.not_judged);
        let keeps = |row: &MetricRow| {
            row.metric != &EVENNESS_VERDICT || row.room.as_ref().is_none_or(|room| !without.contains(room))
        };
        audit.metrics.retain(keeps);
        audit.findings.sort_by_key(|f| f.severity);
        cases::forget_findings(&mut audit.cases, &mut audit.criteria, &audit.findings, &without);
    }
    findings::older_copies(&series, &pairs)
}

/// Adds a finding that was known only once all homes were read.
fn add_finding(site: &Site, home: &mut HomeAudit, finding: crate::findings::Finding) {
    let days = |span| cases::show_days(span, site.zone);
    cases::add_finding(&mut home.cases, &finding, &home.judged_period, days);
    home.findings.push(finding);
    home.findings.sort_by_key(|f| f.severity);
}

/// Pairs of series whose files are the same byte by byte, each pair once.
fn same_files(series: &[SeriesPlace], digests: &BTreeMap<String, String>) -> Vec<(usize, usize)> {
    let mut of_digest: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (at, place) in series.iter().enumerate() {
        if let Some(digest) = digests.get(&place.file) {
            of_digest.entry(digest).or_default().push(at);
        }
    }
    // Of very many the neighbours are enough: each of them is named.
    let pairs = of_digest.values().flat_map(|same| same.windows(2).map(|pair| (pair[0], pair[1])));
    pairs.collect()
}

/// Holds every home against the others, once all are judged: rows of the building, and of each home into its audit;
/// findings about cold say how warm the rest of the building was.
pub fn beside_the_building(site: &Site, homes: &mut [HomeAudit], hours: &[HomeHours]) -> Building {
    let records = homes.iter().enumerate().filter_map(|(home, audit)| {
        let loggers = audit.loggers.iter().filter_map(LoggerRow::record);
        Some((home, findings::half_record(loggers)?))
    });
    for (home, finding) in findings::shorter_records(site, &records.collect::<Vec<_>>()) {
        add_finding(site, &mut homes[home], finding);
    }
    cases::building_cold(&mut homes.iter_mut().map(|home| &mut home.cases).collect::<Vec<_>>());
    let building = Building::of(site, hours);
    for ((audit, hours), rows) in homes.iter_mut().zip(hours).zip(&building.of_homes) {
        audit.metrics.extend(rows.iter().cloned());
        for finding in audit.findings.iter_mut().filter(|f| f.is_about_cold()) {
            if let Some((median, own)) = building.beside(hours, &finding.times) {
                finding.tell_building(site.units, Celsius::new(median), Celsius::new(own));
            }
        }
    }
    building
}

/// Hours of a record outside of what is judged that are worth a note.
const OUTSIDE_H: f64 = 24.0;

/// Where the site names no period: what loggers recorded while fewer than half of the home's rooms did, which is in no number.
fn not_judged_time(site: &Site, periods: &[(String, Span)], loggers: &[LoggerRow]) -> Vec<Note> {
    if !site.periods.is_empty() {
        return after_the_periods(site, periods, loggers).into_iter().collect();
    }
    let [(_, judged)] = periods else { return Vec::new() };
    let outside = |span: Span| {
        let inside = span.intersect(judged);
        span.hours() - if inside.from < inside.to { inside.hours() } else { 0.0 }
    };
    let note = |logger: &LoggerRow| {
        let own = logger.record()?;
        let empty = logger.holes.iter().chain(&logger.blanks).copied().map(outside).sum::<f64>();
        let hours = outside(own) - empty;
        // A record that lies outside altogether is a finding.
        (site.periods.is_empty() && own.overlaps(judged) && hours > OUTSIDE_H).then(|| Note {
            place: logger.file.clone(),
            line: None,
            what: format!(
                "logger {} in {} {} recorded {hours:.0} h while fewer than half of the home's rooms did: they are in no number",
                logger.logger, logger.home, logger.room
            )
            .into(),
            hint: "name a [[period]] in the site file that has them, and they are judged too".to_owned(),
            unreadable: false,
        })
    };
    loggers.iter().filter_map(note).collect()
}

/// A home that is recorded for a day and more after the last period: what happens there now is in no number.
fn after_the_periods(site: &Site, periods: &[(String, Span)], loggers: &[LoggerRow]) -> Option<Note> {
    let judged_to = periods.iter().map(|(_, span)| span.to).max()?;
    let last = loggers.iter().filter_map(LoggerRow::record).map(|record| record.to).max()?;
    let home = &loggers.first()?.home;
    (Span { from: judged_to, to: last }.hours() > OUTSIDE_H).then(|| Note {
        place: format!("home {home}"),
        line: None,
        what: format!(
            "its record goes on to {}, and no period holds what comes after {}: nothing is said of that time",
            site.zone.show(last),
            site.zone.show(judged_to)
        )
        .into(),
        hint: "add a [[period]] that reaches to the end of the record".to_owned(),
        unreadable: false,
    })
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
