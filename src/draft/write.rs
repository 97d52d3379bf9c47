//! The drafted rows, and what is left to decide in them.

use std::collections::BTreeSet;

use super::together::Together;
use super::{Candidate, Known};
use crate::texts::{guarded, quoted_toml, shown};

/// What stands where a person must decide; the audit refuses it, so that nothing undecided slips through.
pub(super) const DECIDE: &str = "decide";

/// The two files, and what is left to decide.
#[derive(Debug)]
pub struct Draft {
    pub(super) known: DraftSite,
    pub(super) rows: Vec<Row>,
    pub(super) outdoor: Option<Outdoor>,
    /// A line for an outdoor series that only its values speak for.
    pub(super) outdoor_suspected: Option<String>,
    pub(super) together: Option<Together>,
    pub(super) fahrenheit: usize,
    /// Exports that state no clock.
    pub(super) clocks_open: BTreeSet<String>,
    pub(super) left_out: Vec<String>,
}

#[derive(Debug)]
pub(super) struct DraftSite {
    pub(super) name: String,
    pub(super) exports: String,
    pub(super) zone: Option<&'static str>,
    pub(super) clock: Option<String>,
}

/// One row of the roster.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub(super) cells: [String; CELLS],
    pub(super) notes: Vec<String>,
    /// What may be the home, where it is open.
    pub(super) home_proposed: Option<String>,
}

/// The outdoor series of the site file.
#[derive(Clone, Debug)]
pub(super) struct Outdoor {
    pub(super) file: String,
    pub(super) column: Option<String>,
    pub(super) clock: Option<String>,
    pub(super) dates: Option<String>,
    /// Outdoors, values do not tell the unit.
    pub(super) unit: Option<String>,
    pub(super) why: String,
}

const CELLS: usize = 12;
const HEADER: [&str; CELLS] =
    ["home", "room", "use", "heated", "logger", "file", "column", "unit", "clock", "dates", "from", "to"];

/// The place of a column of the roster.
pub(super) fn place_of(column: &str) -> Option<usize> {
    HEADER.iter().position(|name| *name == column)
}

impl Row {
    pub(super) fn cell(&self, column: &str) -> &str {
        place_of(column).map_or("", |at| &self.cells[at])
    }

    /// The columns that a person must decide, with the note that says so.
    pub(super) fn open(&self) -> impl Iterator<Item = (&str, &str)> {
        self.notes.iter().filter_map(|note| {
            let what = note.strip_prefix(DECIDE)?.trim_start_matches([':', ' ']);
            Some((what.split([' ', '(']).next().unwrap_or(what), note.as_str()))
        })
    }
}

impl Draft {
    pub(super) fn new(known: &Known, together: Option<Together>) -> Self {
        let site = DraftSite {
            name: known.name.clone(),
            exports: known.exports.clone(),
            zone: known.zone.map(|z| z.name()),
            clock: known.clock.map(|c| c.show()),
        };
        Self {
            known: site,
            rows: Vec::new(),
            outdoor: None,
            outdoor_suspected: None,
            together,
            fahrenheit: 0,
            clocks_open: BTreeSet::new(),
            left_out: Vec::new(),
        }
    }

    /// Sets the outdoor series, or the room that may be it.
    pub(super) fn set_outdoor(&mut self, found: Option<&Candidate<'_>>, suspect: Option<&Candidate<'_>>) {
        self.outdoor_suspected = suspect.map(|c| Outdoor::of(c).line());
        self.outdoor = found.map(Outdoor::of);
        if let Some(c) = found {
            self.note_clock(c);
        }
    }

    fn note_clock(&mut self, c: &Candidate<'_>) {
        let open = c.text.clock.starts_with("not stated") && c.clock.is_none();
        self.clocks_open.extend(open.then(|| c.file.clone()));
    }

    pub(super) fn add(&mut self, c: &Candidate<'_>) {
        let unit = c.series.unit_stated.as_ref().or(c.series.unit_told_by_values.as_ref());
        self.fahrenheit += usize::from(unit.is_some_and(|u| u == "°F"));
        self.note_clock(c);
        let heated = c.guess.and_then(|g| g.heated).map(|h| if h { "yes" } else { "no" });
        let mut notes = c.notes.clone();
        if c.home.is_none() {
            let proposed = c.home_proposed.as_ref().map_or(String::new(), |home| format!(": \"{home}\"?"));
            notes.insert(0, format!("decide: home (no name says it; one folder, one home{proposed})"));
        }
        if heated.is_none() && !notes.iter().any(|n| n.starts_with("decide: heated")) {
            notes.push("decide: heated (yes, no or unknown)".to_owned());
        }
        match (&c.said, c.guess) {
            (Some(word), Some(_)) => {
                let what = if heated.is_some() { "use and heated" } else { "use" };
                notes.push(format!("proposed: {what} (from the word {word})"));
            }
            _ => notes.push("check: use".to_owned()),
        }
        let decide = || DECIDE.to_owned();
        let stated = c.series.unit_stated.is_some();
        let cells = [
            c.home.clone().unwrap_or_else(decide),
            c.room.clone().unwrap_or_else(|| if c.nowhere.is_some() { decide() } else { c.logger.clone() }),
            c.guess.map_or("other", |g| g.purpose.word()).to_owned(),
            heated.map_or_else(decide, str::to_owned),
            c.logger.clone(),
            c.file.clone(),
            c.column.clone().unwrap_or_default(),
            if stated { String::new() } else { unit.cloned().unwrap_or_else(decide) },
            c.clock.clone().unwrap_or_default(),
            c.dates.clone().unwrap_or_default(),
            c.from.clone().unwrap_or_default(),
            c.to.clone().unwrap_or_default(),
        ];
        self.rows.push(Row { cells, notes, home_proposed: c.home_proposed.clone() });
    }

    /// How many roster rows were drafted.
    pub fn rows(&self) -> usize {
        self.rows.len()
    }

    /// What is not in the roster, and why: files, columns that are not judged, tables that are no exports.
    pub fn left_out(&self) -> &[String] {
        &self.left_out
    }

    /// What a person must decide before the audit runs: one message for all cells of a kind.
    pub fn decisions(&self) -> Vec<String> {
        let mut all = Vec::new();
        if self.known.zone.is_none() {
            all.push("site.toml: decide: time_zone".to_owned());
        }
        if !self.clocks_open.is_empty() && self.known.clock.is_none() {
            all.push(format!(
                "site.toml: decide: clock (of {} exports that do not state one)",
                self.clocks_open.len()
            ));
        }
        if let Some(outdoor) = &self.outdoor {
            let open = outdoor.open();
            all.extend(
                (!open.is_empty()).then(|| format!("site.toml: decide: {} of outdoor", open.join(" and "))),
            );
        }
        let mut kinds: Vec<(&str, Vec<&str>, Vec<usize>)> = Vec::new();
        for (at, row) in self.rows.iter().enumerate() {
            for (column, note) in row.open() {
                let kind = match kinds.iter_mut().find(|(known, _, _)| *known == column) {
                    Some(kind) => kind,
                    None => {
                        kinds.push((column, Vec::new(), Vec::new()));
                        kinds.last_mut().expect("one was just put there")
                    }
                };
                kind.1.push(note);
                kind.2.push(at + 2);
            }
        }
        all.extend(kinds.into_iter().map(|(column, mut notes, lines)| {
            notes.dedup();
            let what = match notes.as_slice() {
                [one] => (*one).to_owned(),
                _ => format!("decide: {column} (what speaks for it stands in `note`)"),
            };
            format!("roster.csv: {what}, {}", ranges(&lines))
        }));
        all
    }

    /// The roster.
    pub fn roster(&self) -> Vec<u8> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        let header: Vec<String> = HEADER.iter().copied().chain(["note"]).map(str::to_owned).collect();
        let row = |row: &Row| {
            let note = row.notes.join("; ");
            row.cells.iter().chain([&note]).map(|cell| guarded(cell).into_owned()).collect::<Vec<_>>()
        };
        for record in std::iter::once(header).chain(self.rows.iter().map(row)) {
            writer
                .write_record(&record)
                .expect("writing to memory does not fail, and all rows have the header's length");
        }
        writer.into_inner().expect("writing to memory does not fail")
    }
}

/// The unit that the values of the rooms in the same file tell, where they agree.
fn unit_beside(c: &Candidate<'_>) -> Option<String> {
    let rooms = c.text.series.iter().filter(|s| s.says_temperature && s.column != c.series.column);
    let mut units: Vec<Option<&String>> =
        rooms.map(|s| s.unit_stated.as_ref().or(s.unit_told_by_values.as_ref())).collect();
    units.dedup();
    if let [Some(unit)] = units.as_slice() { Some((*unit).clone()) } else { None }
}

impl Outdoor {
    fn of(c: &Candidate<'_>) -> Self {
        let why = match &c.said {
            Some(word) => format!("proposed, from the word {word}"),
            None => "its values are colder than most, and change more".to_owned(),
        };
        Self {
            file: c.file.clone(),
            column: c.column.clone(),
            clock: c.clock.clone(),
            dates: c.dates.clone(),
            unit: c.series.unit_stated.is_none().then(|| unit_beside(c).unwrap_or_else(|| DECIDE.to_owned())),
            why,
        }
    }

    /// What a person must decide of it.
    pub(super) fn open(&self) -> Vec<&'static str> {
        let open = |cell: &Option<String>| cell.as_deref() == Some(DECIDE);
        let all = [("unit", open(&self.unit)), ("clock", open(&self.clock)), ("dates", open(&self.dates))];
        all.into_iter().filter(|(_, open)| *open).map(|(name, _)| name).collect()
    }

    pub(super) fn line(&self) -> String {
        let mut parts = vec![format!("file = {}", quoted_toml(&self.file))];
        let cells =
            [("column", &self.column), ("clock", &self.clock), ("dates", &self.dates), ("unit", &self.unit)];
        parts.extend(
            cells.iter().filter_map(|(name, cell)| Some(format!("{name} = {}", quoted_toml(cell.as_ref()?)))),
        );
        format!("outdoor = {{ {} }}    # {}\n", parts.join(", "), shown(&self.why))
    }
}

/// `line 9`, `lines 2-5, 9`.
fn ranges(lines: &[usize]) -> String {
    let runs = lines.chunk_by(|a, b| a + 1 == *b);
    let show = |run: &[usize]| {
        if run.len() == 1 { run[0].to_string() } else { format!("{}-{}", run[0], run[run.len() - 1]) }
    };
    let word = if lines.len() == 1 { "line" } else { "lines" };
    format!("{word} {}", runs.map(show).collect::<Vec<_>>().join(", "))
}
