//! Which column holds the ids of loggers where these are bare numbers, told by the times of their rows.
//!
//! Settled here, and why:
//! - **Numbers that name loggers** are known by a name of the roster among them, by taking turns, or because the rows of
//!   each number run regularly while all together do not; never where nothing measured would be left beside them.

use super::dialect::Dialect;
use super::headers::{is_another_quantity, is_row_number, temperature_columns};
use super::quantities::RowsOf;
use super::sheet::{Lines, MAX_LINE, Sheet, split};
use super::vocabulary::{Holds, speaks_of};

/// Rows looked at in each of three places of a file.
const WINDOW: usize = 2000;
/// Most loggers that are told so.
const MOST: usize = 500;
/// Letters of a name that is no measured value by chance.
const TELLING: usize = 3;
/// Shares of steps as long as the usual one: of one logger, and of several together.
const REGULAR: f64 = 0.97;
const TOGETHER: f64 = 0.90;

/// The rows of one place: times, and the cells of the columns that may name loggers.
struct Window<'s> {
    times_ms: Vec<i64>,
    cells: Vec<Vec<&'s str>>,
}

/// The column of whole numbers that names loggers; `None` for the rows of one logger, as nearly all files hold them.
///
/// It does where a number is one of the names asked for, where the numbers take turns, or where the rows of each number
/// run regularly while all together they do not.
pub(super) fn numbered_loggers(sheet: &Sheet<'_>, dialect: &Dialect, asked: &[&str]) -> Option<usize> {
    let columns = &dialect.columns;
    let may_name = |i: &usize| {
        let c = &columns[*i];
        let other = c.says_temperature() || is_row_number(&c.name) || is_another_quantity(&c.name);
        c.numeric && c.filled && !c.counts_rows && !c.unit_in_cells && !other && !dialect.time.holds(*i)
    };
    let candidates: Vec<usize> = (0..columns.len()).filter(may_name).collect();
    // Beside the names there must be something that the loggers measured.
    let measured = temperature_columns(dialect, None);
    let candidates: Vec<usize> =
        candidates.into_iter().filter(|at| measured.iter().any(|other| other != at)).collect();
    if candidates.is_empty() {
        return None;
    }
    let places = places(sheet, dialect, &candidates, None);
    let together = are_of_one(&places);
    let names = |at: &usize| {
        whole_numbers(&places, *at).is_some_and(|names| {
            asked.iter().any(|a| a.len() >= TELLING && names.contains(a))
                || take_turns(&places, *at, names.len())
                || (!together && splits(&places, *at, &names))
        })
    };
    (0..candidates.len()).find(names).map(|at| candidates[at])
}

/// A step back in time by more than daylight saving makes.
const FAR_BACK_MS: i64 = 3 * 3_600_000;

/// Whether the words of a column name loggers: their rows lie over each other in time, take turns, or stand in one block
/// each. Words about the weather come and go in a single series.
pub(super) fn words_name_loggers(
    sheet: &Sheet<'_>,
    dialect: &Dialect,
    at: usize,
    rows_of: Option<&RowsOf>,
) -> bool {
    let places = places(sheet, dialect, &[at], rows_of);
    let mut names: Vec<&str> = places.iter().flat_map(|p| p.cells[0].iter().copied()).collect();
    let runs = names.chunk_by(|a, b| a == b).count();
    names.sort_unstable();
    names.dedup();
    let remarks = speaks_of(&dialect.columns[at].name, Holds::Remark);
    places.iter().any(Window::lies_over_itself)
        || places.windows(2).any(|w| w[0].overlaps(&w[1]))
        || (!remarks
            && (runs == names.len()
                || take_turns(&places, 0, names.len())
                || (!are_of_one(&places) && splits(&places, 0, &names))))
}

/// Whether all rows together run as those of one logger: regularly, one way, and each place after the other.
fn are_of_one(places: &[Window<'_>]) -> bool {
    let turns_back = |p: &Window<'_>| {
        let falls = p.times_ms.windows(2).filter(|w| w[1] < w[0]).count();
        falls.min(p.times_ms.len().saturating_sub(1 + falls)) > 0
    };
    places.windows(2).all(|w| !w[0].overlaps(&w[1]))
        && places.iter().all(|p| share_of_usual(&p.times_ms) >= TOGETHER && !turns_back(p))
}

impl Window<'_> {
    /// Whether times come again, or step far back.
    fn lies_over_itself(&self) -> bool {
        let steps = || self.times_ms.windows(2).map(|w| w[1] - w[0]);
        let forward = steps().filter(|s| *s > 0).count();
        let backward = steps().filter(|s| *s < 0).count();
        let way = if backward > forward { -1 } else { 1 };
        let again = steps().filter(|s| *s == 0).count();
        again * 20 > self.times_ms.len() || steps().any(|s| s * way < -FAR_BACK_MS)
    }

    fn overlaps(&self, other: &Self) -> bool {
        let ends = |w: &Self| Some((*w.times_ms.iter().min()?, *w.times_ms.iter().max()?));
        ends(self).zip(ends(other)).is_some_and(|(a, b)| a.0.max(b.0) < a.1.min(b.1))
    }
}

/// A short file as a whole; of a long one its start, middle and end.
fn places<'s>(
    sheet: &'s Sheet<'_>,
    dialect: &Dialect,
    candidates: &[usize],
    rows_of: Option<&RowsOf>,
) -> Vec<Window<'s>> {
    let [start, middle, end] = sheet.thirds();
    let look = |lines, most| window(lines, dialect, (candidates, rows_of), most);
    let whole = look(start.clone(), 3 * WINDOW);
    if whole.times_ms.len() < 3 * WINDOW {
        return vec![whole];
    }
    [start, middle, end].map(|lines| look(lines, WINDOW)).into()
}

fn window<'s>(
    lines: Lines<'s>,
    dialect: &Dialect,
    (candidates, rows_of): (&[usize], Option<&RowsOf>),
    most: usize,
) -> Window<'s> {
    let mut seen = Window { times_ms: Vec::new(), cells: vec![Vec::new(); candidates.len()] };
    let mut cells = Vec::new();
    for (_, line) in lines.filter(|(_, l)| l.len() <= MAX_LINE) {
        split(line, dialect.delimiter, &mut cells);
        let Some(ms) = dialect.time_ms(&cells) else { continue };
        let measures = |r: &RowsOf| cells.get(r.column).is_some_and(|c| c.eq_ignore_ascii_case(&r.name));
        if !rows_of.is_none_or(measures) {
            continue;
        }
        seen.times_ms.push(ms);
        for (of_column, at) in seen.cells.iter_mut().zip(candidates) {
            of_column.push(cells.get(*at).copied().unwrap_or_default());
        }
        if seen.times_ms.len() == most {
            break;
        }
    }
    seen
}

/// The different whole numbers of a column, where they are few enough to name loggers.
fn whole_numbers<'s>(places: &[Window<'s>], at: usize) -> Option<Vec<&'s str>> {
    let mut names: Vec<&str> = places.iter().flat_map(|p| p.cells[at].iter().copied()).collect();
    let rows = names.len();
    names.sort_unstable();
    names.dedup();
    let whole = names.iter().all(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()));
    (whole && (2..=MOST).contains(&names.len()) && names.len() * 3 <= rows).then_some(names)
}

/// Whether the numbers come again in the same order, round after round.
fn take_turns(places: &[Window<'_>], at: usize, round: usize) -> bool {
    places.iter().all(|p| {
        let (early, late) = (&p.cells[at], p.cells[at].iter().skip(round));
        let alike = early.iter().zip(late).filter(|(a, b)| a == b).count();
        early.len() >= 3 * round && alike * 20 >= (early.len() - round) * 19
    })
}

/// Whether the rows of each number run regularly, in several series at once.
fn splits(places: &[Window<'_>], at: usize, names: &[&str]) -> bool {
    let of = |place: &Window<'_>, name: &str| -> Vec<i64> {
        let rows = place.times_ms.iter().zip(&place.cells[at]);
        rows.filter(|(_, n)| **n == name).map(|(t, _)| *t).collect()
    };
    let regular = |name: &&str| places.iter().all(|p| share_of_usual(&of(p, name)) >= REGULAR);
    // A humidity of 45 % may last for hours: a series that names a logger is there all along, or is the whole place.
    let lasting = |place: &Window<'_>| {
        let all = spread(&place.times_ms);
        let parts: Vec<Vec<i64>> = names.iter().map(|n| of(place, n)).filter(|p| !p.is_empty()).collect();
        parts.iter().all(|p| p.len() < 3 || spread(p) * 3 >= all * 2)
    };
    names.iter().all(regular) && places.iter().all(lasting)
}

fn spread(times_ms: &[i64]) -> i64 {
    times_ms.iter().max().zip(times_ms.iter().min()).map_or(0, |(b, a)| b - a)
}

/// The share of steps as long as the usual one, give or take a tenth; 1 where there are too few to tell.
fn share_of_usual(times_ms: &[i64]) -> f64 {
    let mut steps: Vec<i64> = times_ms.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
    if steps.len() < 3 {
        return 1.0;
    }
    steps.sort_unstable();
    let usual = steps[steps.len() / 2];
    let alike = steps.iter().filter(|s| (**s - usual).abs() * 10 <= usual).count();
    alike as f64 / steps.len() as f64
}
