//! How one export is written: a random combination of traits, told by a seed.
//!
//! Any trait may meet any other, as far as the file stays one that a careful person can read: a comma is no decimal
//! mark between commas without quotes.

use crate::wild::calendar::Zone;
use crate::wild::rng::Rng;
use crate::wild::times::NARROW_BLANK;
use crate::wild::traits::{
    Clock, DateForm, Delimiter, Encoding, Events, Join, Order, Quotes, Said, Seconds, Shape, Times, Written,
};

/// How one export is written, and what a person states about it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plan {
    pub(crate) seed: u64,
    pub(crate) encoding: Encoding,
    pub(crate) line_end: &'static str,
    pub(crate) finished: bool,
    pub(crate) preamble: usize,
    pub(crate) header: bool,
    pub(crate) delimiter: Delimiter,
    pub(crate) comma: bool,
    pub(crate) quotes: Quotes,
    pub(crate) padding: bool,
    pub(crate) times: Times,
    pub(crate) zone: Zone,
    pub(crate) clock: Clock,
    pub(crate) clock_said: Said,
    pub(crate) fahrenheit: bool,
    pub(crate) unit_said: Said,
    /// A median of about 40, which is a cold room in °F or a hot one in °C.
    pub(crate) median_40: bool,
    pub(crate) decimals: usize,
    pub(crate) trimmed: bool,
    pub(crate) shape: Shape,
    pub(crate) rows: usize,
    pub(crate) step_min: i64,
    pub(crate) over_a_change: bool,
    pub(crate) order: Order,
    pub(crate) row_number: bool,
    pub(crate) humidity: bool,
    pub(crate) battery: bool,
    pub(crate) events: Events,
    pub(crate) values_first: bool,
    pub(crate) missing: &'static str,
    pub(crate) summary: bool,
    pub(crate) blank_lines: bool,
    pub(crate) repeated_header: bool,
    pub(crate) duplicates: bool,
    /// Whether lines before and after the data may look like data, or like statements about them.
    pub(crate) traps: bool,
    /// Whether the roster states what the dates mean, where the file leaves it open.
    pub(crate) dates_said: bool,
    /// Whether the roster names the column, where it need not.
    pub(crate) column_said: bool,
}

/// Marks for "no data".
const MARKS: [&str; 12] = ["", "", "", "---", "NaN", "n/a", "-", "-9999", "-999.9", "32767", "999.9", "9999"];

impl Plan {
    pub(crate) fn new(seed: u64) -> Self {
        let rng = &mut Rng::new(seed, "plan");
        let (delimiter, encoding, shape) = Self::layout(rng);
        let (zone, times) = (rng.pick(&Zone::ALL), Self::times(rng));
        let rows = match rng.below(10) {
            0..=2 => rng.within(10, 40),
            3..=8 => rng.within(40, 300),
            _ => rng.within(500, 2000),
        };
        let said = |rng: &mut Rng| {
            rng.pick(&[Said::Header, Said::Header, Said::Preamble, Said::Cell, Said::Roster, Said::Elsewhere])
        };
        let clock = match rng.below(4) {
            0 => Clock::Fixed(0),
            1 => Clock::Fixed(zone.standard_min()),
            _ => Clock::Civil,
        };
        let plan = Self {
            seed,
            encoding,
            line_end: rng.pick(&["\n", "\r\n", "\r\n", "\r"]),
            finished: rng.percent(80),
            preamble: if rng.percent(40) { 0 } else { rng.below(31) },
            header: rng.percent(80),
            delimiter,
            comma: rng.percent(35),
            quotes: rng.pick(&[Quotes::Needed, Quotes::Needed, Quotes::Texts, Quotes::All]),
            padding: rng.percent(15),
            times,
            zone,
            clock,
            clock_said: said(rng),
            fahrenheit: rng.percent(40),
            unit_said: said(rng),
            median_40: rng.percent(6),
            decimals: rng.pick(&[0, 1, 1, 1, 2, 2, 3]),
            trimmed: rng.percent(15),
            shape,
            rows: rows as usize,
            step_min: rng.pick(&[1, 2, 5, 5, 10, 10, 15, 30, 60, 7, 20, 12]),
            over_a_change: rng.percent(40),
            order: rng.pick(&[Order::OldestFirst, Order::OldestFirst, Order::NewestFirst, Order::TwoBlocks]),
            row_number: rng.percent(20),
            humidity: rng.percent(30),
            battery: rng.percent(15),
            events: rng.pick(&[Events::None, Events::None, Events::None, Events::Marks, Events::Rows]),
            values_first: rng.percent(6),
            missing: rng.pick(&MARKS),
            summary: rng.percent(15),
            blank_lines: rng.percent(20),
            repeated_header: rng.percent(10),
            duplicates: rng.percent(15),
            traps: true,
            dates_said: rng.percent(50),
            column_said: rng.percent(50),
        };
        plan.legal()
    }

    fn layout(rng: &mut Rng) -> (Delimiter, Encoding, Shape) {
        let wide_blanks = rng.percent(12);
        let delimiter = match wide_blanks {
            true => Delimiter::Wide,
            false => Delimiter::One(rng.pick(&[',', ',', ',', ';', ';', '\t', '\t', '|'])),
        };
        let mark = rng.percent(70);
        let encoding = match rng.below(10) {
            0..=3 => Encoding::Utf8,
            4 | 5 => Encoding::Utf8Mark,
            6 => Encoding::Utf16 { little: true, mark },
            7 => Encoding::Utf16 { little: false, mark },
            _ => Encoding::Windows1252,
        };
        let shape = match rng.below(10) {
            0..=5 => Shape::One,
            6 | 7 => Shape::Long { loggers: 2 + rng.below(4), in_turn: rng.percent(60) },
            _ => Shape::Wide(2 + rng.below(5)),
        };
        (delimiter, encoding, shape)
    }

    /// The same dialect with nothing around the data that could be mistaken for data.
    pub(crate) fn tame(mut self) -> Self {
        (self.traps, self.header, self.summary) = (false, true, false);
        self.legal()
    }

    fn times(rng: &mut Rng) -> Times {
        match rng.below(20) {
            0 => return Times::EpochSeconds,
            1 => return Times::EpochMilliseconds,
            2 => return Times::Serial(rng.percent(30)),
            _ => {}
        }
        let date = match rng.below(8) {
            0..=2 => DateForm::Ymd(rng.pick(&['-', '-', '-', '/', '.'])),
            3 | 4 => DateForm::Dmy(rng.pick(&['.', '/', '-'])),
            5 | 6 => DateForm::Mdy(rng.pick(&['/', '/', '-'])),
            _ => DateForm::Named(rng.below(10)),
        };
        Times::Written(Written {
            date,
            padded: rng.percent(70),
            short_year: rng.percent(15),
            half: rng.percent(25).then(|| rng.below(7)),
            seconds: rng.pick(&[Seconds::None, Seconds::Whole, Seconds::Whole, Seconds::Thousandths]),
            join: rng.pick(&[Join::Blank, Join::Blank, Join::T, Join::Apart, Join::ApartHalf]),
            offset: rng.percent(12).then(|| rng.below(5)),
        })
    }

    /// The nearest plan that a careful person could read: traits that exclude each other give way.
    pub(crate) fn legal(mut self) -> Self {
        let unicode = self.encoding != Encoding::Windows1252;
        match &mut self.times {
            Times::Written(w) => {
                w.short_year &= matches!(w.date, DateForm::Dmy(_) | DateForm::Mdy(_));
                w.half = w.half.map(|h| if h == NARROW_BLANK && !unicode { 0 } else { h });
                match w.join {
                    Join::T if w.half.is_some() || !matches!(w.date, DateForm::Ymd('-')) => {
                        w.join = Join::Blank
                    }
                    Join::ApartHalf if w.half.is_none() || w.offset.is_some() => w.join = Join::Apart,
                    _ => {}
                }
                let each = w.offset.is_some();
                if each {
                    self.clock_said = Said::Cell;
                } else if self.clock_said == Said::Cell {
                    self.clock_said = Said::Roster;
                }
            }
            Times::EpochSeconds | Times::EpochMilliseconds => {
                (self.clock, self.clock_said) = (Clock::Fixed(0), Said::Cell);
            }
            Times::Serial(_) if self.clock_said == Said::Cell => self.clock_said = Said::Roster,
            Times::Serial(_) => {}
        }
        for said in [&mut self.clock_said, &mut self.unit_said] {
            *said = match *said {
                Said::Header if !self.header => Said::Roster,
                Said::Preamble if self.preamble == 0 => Said::Roster,
                said => said,
            };
        }
        // A header or preamble that says "civil" names the zone, and a header has no room for that.
        if self.clock == Clock::Civil && self.clock_said == Said::Header {
            self.clock_said = Said::Roster;
        }
        if self.delimiter == Delimiter::Wide {
            (self.quotes, self.padding, self.events) = (Quotes::Needed, false, Events::None);
            if self.missing.is_empty() {
                self.missing = "---";
            }
        }
        if self.comma && self.delimiter == Delimiter::One(',') {
            self.quotes = Quotes::All;
        }
        let number = self.missing.trim_start_matches('-').starts_with(|c: char| c.is_ascii_digit());
        if number && self.unit_said == Said::Cell {
            self.missing = "---";
        }
        self.median_40 &= self.fahrenheit;
        self.repeated_header &= self.header;
        self
    }

    /// The mark between whole and fraction.
    pub(crate) fn decimal(&self) -> char {
        if self.comma { ',' } else { '.' }
    }
}
