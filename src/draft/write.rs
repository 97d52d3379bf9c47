//! The text of the two drafted files.

use std::collections::BTreeSet;

use super::{Candidate, Known};

/// What stands where a person must decide; the audit refuses it, so that nothing undecided slips through.
const DECIDE: &str = "decide";

/// The two files, and what is left to decide.
#[derive(Debug)]
pub struct Draft {
    known: DraftSite,
    rows: Vec<Vec<String>>,
    outdoor: Option<String>,
    fahrenheit: usize,
    /// Exports that state no clock.
    clocks_open: BTreeSet<String>,
    left_out: Vec<String>,
    /// What to decide, and in which lines of the roster.
    decisions: Vec<(String, Vec<usize>)>,
}

#[derive(Debug)]
struct DraftSite {
    name: String,
    exports: String,
    zone: Option<&'static str>,
    clock: Option<String>,
}

const HEADER: [&str; 12] =
    ["home", "room", "use", "heated", "logger", "file", "column", "unit", "clock", "from", "to", "note"];

impl Draft {
    pub(super) fn new(known: &Known) -> Self {
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
            fahrenheit: 0,
            clocks_open: BTreeSet::new(),
            left_out: Vec::new(),
            decisions: Vec::new(),
        }
    }

    pub(super) fn add(&mut self, c: &Candidate<'_>) {
        let unit = c.series.unit_stated.as_ref().or(c.series.unit_told_by_values.as_ref());
        self.fahrenheit += usize::from(unit.is_some_and(|u| u == "°F"));
        let open = c.text.clock.starts_with("not stated") && c.clock.is_none();
        self.clocks_open.extend(open.then(|| c.file.clone()));
        if c.guess.is_some_and(|g| g.outdoors) && self.outdoor.is_none() {
            self.outdoor = Some(outdoor_line(c));
            return;
        }
        let heated = c.guess.and_then(|g| g.heated).map(|h| if h { "yes" } else { "no" });
        let mut notes = c.notes.clone();
        if heated.is_none() {
            notes.push("decide: heated (yes or no)".to_owned());
        }
        if c.guess.is_none() {
            notes.push("check: use".to_owned());
        }
        let line = self.rows.len() + 2;
        for note in notes.iter().filter(|n| n.starts_with(DECIDE)) {
            match self.decisions.iter_mut().find(|(what, _)| what == note) {
                Some((_, lines)) => lines.push(line),
                None => self.decisions.push((note.clone(), vec![line])),
            }
        }
        let stated = c.series.unit_stated.is_some();
        self.rows.push(vec![
            c.home.clone().unwrap_or_else(|| DECIDE.to_owned()),
            c.room.clone().unwrap_or_else(|| c.logger.clone()),
            c.guess.map_or("other", |g| g.purpose.word()).to_owned(),
            heated.unwrap_or(DECIDE).to_owned(),
            c.logger.clone(),
            c.file.clone(),
            c.column.unwrap_or_default().to_owned(),
            if stated { String::new() } else { unit.cloned().unwrap_or_else(|| DECIDE.to_owned()) },
            c.clock.clone().unwrap_or_default(),
            String::new(),
            String::new(),
            notes.join("; "),
        ]);
    }

    pub(super) fn left_out(&mut self, file: &str, why: &str) {
        self.left_out.push(format!("{file}: {}", why.replace('\n', " ")));
    }

    /// How many roster rows were drafted.
    pub fn rows(&self) -> usize {
        self.rows.len()
    }

    /// Files that are not in the roster, and why.
    pub fn files_left_out(&self) -> &[String] {
        &self.left_out
    }

    /// What a person must decide before the audit runs.
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
        all.extend(
            self.decisions.iter().map(|(what, lines)| format!("roster.csv: {what}, {}", ranges(lines))),
        );
        all
    }

    /// The roster.
    pub fn roster(&self) -> Vec<u8> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        let rows = std::iter::once(HEADER.map(str::to_owned).to_vec()).chain(self.rows.iter().cloned());
        for row in rows {
            writer
                .write_record(&row)
                .expect("writing to memory does not fail, and all rows have the header's length");
        }
        writer.into_inner().expect("writing to memory does not fail")
    }

    /// The site file.
    pub fn site(&self) -> String {
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        let mut text = String::from(
            "# A first draft. Where it says \"decide\", a person must: the audit refuses it until then.\n",
        );
        for decision in self.decisions() {
            text.push_str(&format!("#   {decision}\n"));
        }
        if !self.left_out.is_empty() {
            text.push_str("# Not in the roster:\n");
            self.left_out.iter().for_each(|line| text.push_str(&format!("#   {line}\n")));
        }
        text.push_str(&format!("\n[site]\nname = {}\n", quoted(&self.known.name)));
        text.push_str(&format!(
            "time_zone = {}    # IANA name, such as \"America/Chicago\"\n",
            quoted(self.known.zone.unwrap_or(DECIDE))
        ));
        text.push_str(&format!("roster = \"roster.csv\"\nexports = {}\n", quoted(&self.known.exports)));
        let clock = match (&self.known.clock, self.clocks_open.len()) {
            (Some(clock), _) => quoted(clock),
            (None, 0) => quoted("civil"),
            (None, _) => quoted(DECIDE),
        };
        text.push_str(&format!("clock = {clock}    # of exports that do not say: \"civil\" follows daylight saving, \"fixed -05:00\" does not\n"));
        text.push_str(&self.outdoor.clone().unwrap_or_else(|| {
            "# outdoor = { file = \"weather.csv\", column = \"temp\", clock = \"utc\", unit = \"°C\" }\n"
                .to_owned()
        }));
        text.push_str(&format!(
            "units = \"{}\"    # for people\n",
            if self.fahrenheit * 2 > self.rows.len() { "F" } else { "C" }
        ));
        text.push_str("\n# The comfort band; without it no room is judged too cold or too warm.\n# [band]\n# lower = \"20 °C\"\n# upper = \"24 °C\"\n# night = { from = \"22:00\", to = \"06:00\", lower = \"17 °C\", upper = \"24 °C\" }    # where rooms may be cooler at night\n");
        text.push_str("\n# [[setback]]\n# days = \"mon-sun\"\n# from = \"22:00\"\n# to = \"06:00\"\n# occupied_target = \"21 °C\"\n");
        text
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

fn outdoor_line(c: &Candidate<'_>) -> String {
    let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
    let mut parts = vec![format!("file = {}", quoted(&c.file))];
    parts.extend(c.column.map(|column| format!("column = {}", quoted(column))));
    parts.extend(c.clock.as_ref().map(|clock| format!("clock = {}", quoted(clock))));
    // Outdoors, values do not tell the unit.
    let unit = c.series.unit_stated.is_none().then(|| format!("unit = \"{DECIDE}\""));
    parts.extend(unit);
    format!("outdoor = {{ {} }}\n", parts.join(", "))
}
