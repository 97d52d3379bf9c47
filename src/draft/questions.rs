//! The open questions of a draft one by one, with what speaks for each answer, and the answers written down.

use super::clocks::{PLACES, STEADY};
use super::write::{DECIDE, Draft, place_of};
use crate::clock::Zone;
use crate::site::{ClockSetting, Dates};

/// One question that a person must answer before the audit runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// What is asked.
    pub asks: String,
    /// What speaks for an answer.
    pub speaks: Vec<String>,
    /// The answers there are; empty: any text.
    pub choices: Vec<String>,
    /// The answer that speaks for itself.
    pub proposed: Option<String>,
    about: About,
}

/// What an answer is written into.
#[derive(Clone, Debug, PartialEq)]
enum About {
    TimeZone,
    Clock,
    Outdoor(&'static str),
    /// A cell of some rows.
    Cell {
        column: String,
        rows: Vec<usize>,
    },
    /// Which of some rows stays.
    OneOf(Vec<usize>),
}

impl Draft {
    /// What is open, in the order in which it stands in the two files.
    pub fn questions(&self) -> Vec<Question> {
        let mut all = self.of_the_site();
        for (at, row) in self.rows.iter().enumerate() {
            for (column, note) in row.open() {
                let rows = self.asked_together(at, column);
                // A question about several rows is asked at the first of them.
                if rows.first() == Some(&at) {
                    all.push(self.about_rows(column, note, rows));
                }
            }
        }
        all
    }

    fn of_the_site(&self) -> Vec<Question> {
        let free = |asks: &str, speaks: Vec<String>, proposed: Option<&str>, about| Question {
            asks: asks.to_owned(),
            speaks,
            choices: Vec::new(),
            proposed: proposed.map(str::to_owned),
            about,
        };
        let mut all = Vec::new();
        if self.known.zone.is_none() {
            let asks = "Time zone of the site (IANA name, such as America/Chicago)";
            all.push(free(asks, Vec::new(), None, About::TimeZone));
        }
        if !self.clocks_open.is_empty() && self.known.clock.is_none() {
            let asks = "Clock of the exports that state none (civil, utc, or fixed -05:00)";
            let names: Vec<&str> = self.clocks_open.iter().take(4).map(String::as_str).collect();
            let speaks = format!("{} exports, such as {}", self.clocks_open.len(), names.join(", "));
            all.push(free(asks, vec![speaks], Some("civil"), About::Clock));
        }
        for what in self.outdoor.iter().flat_map(|o| o.open()) {
            let file = self.outdoor.as_ref().map_or("", |o| o.file.as_str());
            let mut question =
                free(&format!("{what} of the outdoor file {file}"), Vec::new(), None, About::Outdoor(what));
            if what == "unit" {
                question.choices = ["°C", "°F"].map(str::to_owned).into();
            }
            all.push(question);
        }
        all
    }

    /// The rows that one answer serves: a home those of its folder, a time or unit those of its file.
    fn asked_together(&self, at: usize, column: &str) -> Vec<usize> {
        let row = &self.rows[at];
        let open = |o: &usize| self.rows[*o].open().any(|(name, _)| name == column);
        let same = |o: &usize| {
            let other = &self.rows[*o];
            match column {
                "home" => other.home_proposed == row.home_proposed,
                "heated" => (other.cell("home"), other.cell("room")) == (row.cell("home"), row.cell("room")),
                "room" => ["logger", "column"].iter().all(|c| other.cell(c) == row.cell(c)),
                "column" => other.cell("file") == row.cell("file") && other.cell("room") == row.cell("room"),
                _ => other.cell("file") == row.cell("file"),
            }
        };
        (0..self.rows.len()).filter(open).filter(same).collect()
    }

    fn about_rows(&self, column: &str, note: &str, rows: Vec<usize>) -> Question {
        let first = &self.rows[rows[0]];
        let files: Vec<&str> = rows.iter().take(6).map(|at| self.rows[*at].cell("file")).collect();
        let more = if rows.len() > 6 { format!(" and {} more", rows.len() - 6) } else { String::new() };
        let (choices, proposed): (Vec<String>, _) = match column {
            "heated" => (["yes", "no", "unknown"].map(str::to_owned).into(), None),
            "unit" => (vec!["°C".to_owned(), "°F".to_owned()], None),
            "column" => (rows.iter().map(|at| self.rows[*at].cell("column").to_owned()).collect(), None),
            "home" => (Vec::new(), first.home_proposed.clone()),
            _ => (Vec::new(), None),
        };
        let asks = match column {
            "home" => format!("Home of {}{more}", files.join(", ")),
            "room" => format!("Room of {}{more} (none: it stood in no room, its row goes)", files.join(", ")),
            "heated" => {
                let open = first.cell("room") == DECIDE;
                let what =
                    if open { format!("the room of {}", files[0]) } else { first.cell("room").to_owned() };
                format!("Has {what} heating of its own?")
            }
            "column" => format!(
                "Which column of {} is the temperature of {}?",
                first.cell("file"),
                first.cell("room")
            ),
            other => format!("{other} of {}{more}", files.join(", ")),
        };
        let about = match column {
            "column" => About::OneOf(rows.clone()),
            _ => About::Cell { column: column.to_owned(), rows: rows.clone() },
        };
        let mut speaks = vec![note.trim_start_matches("decide: ").to_owned()];
        speaks.extend(first.notes.iter().filter(|n| !n.starts_with(DECIDE)).cloned());
        Question { asks, speaks, choices, proposed, about }
    }

    /// Writes an answer down; `false` where it is none, and nothing changed.
    pub fn answer(&mut self, question: &Question, answer: &str) -> bool {
        let answer = answer.trim();
        let chosen = question.choices.is_empty() || question.choices.iter().any(|c| c == answer);
        if answer.is_empty() || answer == DECIDE || !chosen {
            return false;
        }
        match &question.about {
            About::TimeZone => {
                let zone = Zone::parse(answer).filter(Zone::is_of_a_place);
                self.known.zone = zone.map(|z| z.name());
                self.settle_clocks();
                zone.is_some()
            }
            About::Clock => {
                self.known.clock = ClockSetting::parse(answer).map(|c| c.show());
                self.known.clock.is_some()
            }
            About::Outdoor(what) => self.answer_outdoor(what, answer),
            About::Cell { column, rows } if column == "room" && answer == "none" => {
                self.remove(|at| rows.contains(&at));
                true
            }
            About::Cell { column, rows } => {
                fits(column, answer) && {
                    rows.iter().for_each(|at| self.write(*at, column, answer));
                    true
                }
            }
            About::OneOf(rows) => {
                let kept = rows.iter().copied().find(|at| self.rows[*at].cell("column") == answer);
                if let Some(kept) = kept {
                    self.write(kept, "column", answer);
                    self.remove(|at| at != kept && rows.contains(&at));
                }
                kept.is_some()
            }
        }
    }

    /// Clocks that were asked for because the time zone was open, and that it settles: where the note says what the times of
    /// a record show in that place, that is it; where it says it of other places only, the record follows the clocks here.
    fn settle_clocks(&mut self) {
        let Some(zone) = self.known.zone.filter(|zone| PLACES.contains(zone)) else { return };
        for at in 0..self.rows.len() {
            let note = self.rows[at].notes.iter().find_map(|n| n.strip_prefix(STEADY));
            let Some(note) = note.and_then(|n| n.split_once(": ")).map(|(places, _)| places.to_owned())
            else {
                continue;
            };
            let here = note.split(", ").find_map(|place| place.strip_suffix(&format!(" in {zone}")));
            let clock = here.unwrap_or_default().to_owned();
            self.write(at, "clock", &clock);
        }
    }

    fn remove(&mut self, goes: impl Fn(usize) -> bool) {
        let mut at = 0;
        self.rows.retain(|_| {
            at += 1;
            !goes(at - 1)
        });
    }

    fn answer_outdoor(&mut self, what: &str, answer: &str) -> bool {
        let Some(outdoor) = self.outdoor.as_mut().filter(|_| fits(what, answer)) else { return false };
        let cell = match what {
            "unit" => &mut outdoor.unit,
            "clock" => &mut outdoor.clock,
            _ => &mut outdoor.dates,
        };
        *cell = Some(answer.to_owned());
        true
    }

    /// Fills a cell in; what asked for it is no note any more.
    fn write(&mut self, at: usize, column: &str, answer: &str) {
        let row = &mut self.rows[at];
        if let Some(place) = place_of(column) {
            row.cells[place] = answer.to_owned();
        }
        let asked = |note: &String| {
            let what = note.strip_prefix("decide: ").unwrap_or_default();
            what.split([' ', '(']).next() == Some(column)
        };
        row.notes.retain(|note| !asked(note));
    }
}

/// Whether the roster will understand an answer.
fn fits(column: &str, answer: &str) -> bool {
    match column {
        "clock" => ClockSetting::parse(answer).is_some(),
        "dates" => Dates::parse(answer).is_some(),
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Known, draft};
    use super::*;
    use crate::exports::inspect;

    fn drafted(files: &[(&str, &str)]) -> Draft {
        let row = |n: usize, columns: usize, file: usize| {
            let cells: String =
                (0..columns).map(|k| format!(",{}.{}", 20 + k + 40 * file, (n + k) % 7)).collect();
            format!("2026-01-{:02} {:02}:00{cells}\n", 5 + n / 24, n % 24)
        };
        let text = |header: &str, file: usize| {
            let rows: String = (0..60).map(|n| row(n, header.matches(',').count(), file)).collect();
            format!("{header}\n{rows}")
        };
        let all = files.iter().enumerate();
        let seen: Vec<_> =
            all.map(|(at, (name, header))| inspect(name, text(header, at).as_bytes(), None)).collect();
        draft(&seen, &Known { name: "Alder Row".to_owned(), ..Known::default() })
    }

    fn asked(draft: &Draft, start: &str) -> Question {
        let all = draft.questions();
        all.iter().find(|q| q.asks.starts_with(start)).unwrap_or_else(|| panic!("{start}: {all:?}")).clone()
    }

    #[test]
    fn answers_are_written_down_and_what_is_none_changes_nothing() {
        let mut draft =
            drafted(&[("crypt.csv", "time,temperature (°C)"), ("robes.csv", "time,temperature (°F)")]);
        let zone = asked(&draft, "Time zone");
        assert!(!draft.answer(&zone, "Mars/North") && !draft.answer(&zone, "EST"));
        assert!(draft.answer(&zone, "America/Chicago") && draft.site().contains("\"America/Chicago\""));
        let clock = asked(&draft, "Clock");
        assert!(!draft.answer(&clock, "summer") && draft.answer(&clock, "fixed -06:00"));
        let home = asked(&draft, "Home of crypt.csv, robes.csv");
        assert_eq!(home.proposed.as_deref(), Some("Alder Row"), "one answer for one folder");
        assert!(draft.answer(&home, "The chapel"));
        let heated = asked(&draft, "Has crypt heating");
        assert!(!draft.answer(&heated, "perhaps") && draft.answer(&heated, "no"));
        assert!(draft.answer(&asked(&draft, "Has robes heating"), "yes"));
        assert_eq!(draft.questions(), []);
        let roster = String::from_utf8(draft.roster()).unwrap();
        assert!(!roster.contains("decide"), "{roster}");
        assert!(
            roster.contains("The chapel,crypt,other,no,") && roster.contains("The chapel,robes,other,yes,")
        );
    }

    #[test]
    fn a_clock_that_the_time_zone_settles_was_asked_for_all_the_same() {
        // Through the night in which clocks are put forward in Europe, and not in America.
        let row = |n: usize| format!("2026-03-{:02} {:02}:{:02}\n", 27 + n / 48, n % 48 / 2, n % 2 * 30);
        let row = |n: usize| row(n).trim().to_owned() + &format!(",{}.{}\n", 20 + n % 3, n % 7);
        let text = format!("time,temperature (°C)\n{}", (0..200).map(row).collect::<String>());
        let seen = [inspect("1A/living.csv", text.as_bytes(), None)];
        let known = Known { name: "Alder Row".to_owned(), ..Known::default() };
        for (zone, clock) in [("Europe/London", "utc"), ("America/Chicago", "")] {
            let mut draft = draft(&seen, &known);
            assert_eq!(draft.rows[0].cell("clock"), "decide", "{:?}", draft.rows[0].notes);
            assert!(draft.answer(&asked(&draft, "Time zone"), zone));
            let of_row = draft.questions().into_iter().find(|q| q.asks.starts_with("clock of"));
            assert_eq!((draft.rows[0].cell("clock"), of_row), (clock, None), "{zone}");
        }
    }

    #[test]
    fn of_several_columns_the_one_named_stays() {
        let mut draft = drafted(&[("1A/living.csv", "time,probe A (°C),probe B (°C)")]);
        let column = asked(&draft, "Which column");
        assert_eq!(column.choices, ["probe A (°C)", "probe B (°C)"]);
        assert!(draft.answer(&column, "probe B (°C)"));
        assert_eq!((draft.rows(), draft.rows[0].cell("column")), (1, "probe B (°C)"));
    }

    #[test]
    fn a_logger_that_stood_in_no_room_loses_its_row() {
        let files = [("1A/living.csv", "time,temperature (°C)"), ("1A/spare.csv", "time,temperature (°C)")];
        let mut draft = drafted(&files);
        let room = asked(&draft, "Room of 1A/spare.csv");
        assert!(
            room.speaks[0].starts_with("room (\"spare\" names none; nearest to 1A/living.csv: 40.0 K apart"),
            "{room:?}"
        );
        assert!(draft.answer(&room, "none"));
        assert_eq!((draft.rows(), draft.rows[0].cell("room")), (1, "living"));
        let mut draft = drafted(&files);
        assert!(draft.answer(&asked(&draft, "Room of"), "pantry") && !draft.answer(&room, "decide"));
        assert_eq!(draft.rows[1].cell("room"), "pantry");
    }
}
