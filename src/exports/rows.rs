//! Readings on their way, column by column, each with the line and the download it came from.

/// A row: which line of which download it came from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Row {
    /// Milliseconds since the Unix epoch.
    pub(super) t: i64,
    /// °C, NaN where it has no value.
    pub(super) x: f64,
    /// Relative humidity in %, NaN where it has none.
    pub(super) humidity: f64,
    pub(super) line: u32,
    /// Number of the download.
    pub(super) source: u32,
}

/// Rows, as columns of one length; that of the humidity is empty as long as no row has one, that of the downloads as long
/// as there is only the first.
#[derive(Clone, Debug, Default)]
pub(super) struct Rows {
    pub(super) times_ms: Vec<i64>,
    pub(super) degc: Vec<f64>,
    pub(super) humidity: Vec<f64>,
    pub(super) lines: Vec<u32>,
    sources: Vec<u32>,
}

impl Rows {
    pub(super) fn len(&self) -> usize {
        self.times_ms.len()
    }

    pub(super) fn row(&self, i: usize) -> Row {
        let humidity = self.humidity.get(i).copied().unwrap_or(f64::NAN);
        let source = self.sources.get(i).copied().unwrap_or(0);
        Row { t: self.times_ms[i], x: self.degc[i], humidity, line: self.lines[i], source }
    }

    pub(super) fn push(&mut self, row: Row) {
        if !row.humidity.is_nan() || !self.humidity.is_empty() {
            self.humidity.resize(self.len(), f64::NAN);
            self.humidity.push(row.humidity);
        }
        if row.source > 0 || !self.sources.is_empty() {
            self.sources.resize(self.len(), 0);
            self.sources.push(row.source);
        }
        self.times_ms.push(row.t);
        self.degc.push(row.x);
        self.lines.push(row.line);
    }

    /// The rows of one download; `humidity` is empty where it has none.
    pub(super) fn of_one(times_ms: Vec<i64>, degc: Vec<f64>, humidity: Vec<f64>, lines: Vec<u32>) -> Self {
        Self { times_ms, degc, humidity, lines, sources: Vec::new() }
    }

    /// Adds all rows of a download, those of the first as the columns they are.
    pub(super) fn append(&mut self, source: u32, of_one: Self) {
        if source == 0 && self.len() == 0 {
            *self = of_one;
            return;
        }
        let Self { times_ms, degc, humidity, lines, .. } = of_one;
        if !humidity.is_empty() || !self.humidity.is_empty() {
            self.humidity.resize(self.len(), f64::NAN);
            self.humidity.extend(humidity);
            self.humidity.resize(self.len() + times_ms.len(), f64::NAN);
        }
        if source > 0 || !self.sources.is_empty() {
            self.sources.resize(self.len(), 0);
            self.sources.resize(self.len() + times_ms.len(), source);
        }
        self.times_ms.extend(times_ms);
        self.degc.extend(degc);
        self.lines.extend(lines);
    }

    /// Moves a row to the place of an earlier one, or leaves it where it is.
    pub(super) fn move_to(&mut self, from: usize, to: usize) {
        fn within<T: Copy>(column: &mut [T], from: usize, to: usize) {
            if let Some(x) = column.get(from).copied() {
                column[to] = x;
            }
        }
        within(&mut self.times_ms, from, to);
        within(&mut self.degc, from, to);
        within(&mut self.humidity, from, to);
        within(&mut self.lines, from, to);
        within(&mut self.sources, from, to);
    }

    /// Leaves only the first rows.
    pub(super) fn truncate(&mut self, rows: usize) {
        fn cut<T>(column: &mut Vec<T>, rows: usize) {
            column.truncate(rows);
            // Of an export of which most rows are set aside the others should not hold its memory.
            if column.len() < column.capacity() / 2 {
                column.shrink_to_fit();
            }
        }
        cut(&mut self.times_ms, rows);
        cut(&mut self.degc, rows);
        cut(&mut self.humidity, rows);
        cut(&mut self.lines, rows);
        cut(&mut self.sources, rows);
    }

    /// From which download each run of rows came, and how many they are.
    pub(super) fn downloads(&self) -> Vec<(u32, usize)> {
        match self.sources.is_empty() {
            true => vec![(0, self.len())],
            false => self.sources.chunk_by(|a, b| a == b).map(|of_one| (of_one[0], of_one.len())).collect(),
        }
    }

    /// Brings the rows into the order of time; rows of one time stay as they are.
    pub(super) fn sort(&mut self) {
        if self.times_ms.is_sorted() {
            return;
        }
        let mut order: Vec<u32> = (0..self.len() as u32).collect();
        order.sort_by_key(|i| self.times_ms[*i as usize]);
        // One column after the other, so that no second copy of the rows is held.
        bring_into(&order, &mut self.times_ms);
        bring_into(&order, &mut self.degc);
        bring_into(&order, &mut self.humidity);
        bring_into(&order, &mut self.lines);
        bring_into(&order, &mut self.sources);
    }

    /// Ranges of neighbours of which each is `near` the one before it.
    pub(super) fn parts(
        &self,
        near: impl Fn(i64, i64) -> bool,
    ) -> impl Iterator<Item = std::ops::Range<usize>> {
        let mut at = 0;
        self.times_ms.chunk_by(move |a, b| near(*a, *b)).map(move |part| {
            at += part.len();
            at - part.len()..at
        })
    }

    /// Takes out some rows; `places` rises.
    pub(super) fn take_out(&mut self, places: &[u32]) {
        close_up(&mut self.times_ms, places);
        close_up(&mut self.degc, places);
        close_up(&mut self.humidity, places);
        close_up(&mut self.lines, places);
        close_up(&mut self.sources, places);
    }
}

impl FromIterator<Row> for Rows {
    fn from_iter<I: IntoIterator<Item = Row>>(rows: I) -> Self {
        let mut all = Self::default();
        rows.into_iter().for_each(|row| all.push(row));
        all
    }
}

/// Brings a column, where there is one, into an order.
fn bring_into<T: Copy>(order: &[u32], column: &mut Vec<T>) {
    if !column.is_empty() {
        *column = order.iter().map(|i| column[*i as usize]).collect();
    }
}

/// Moves what stands between some places of a column, where there is one, together over them.
fn close_up<T: Copy>(column: &mut Vec<T>, places: &[u32]) {
    let Some(first) = places.first().filter(|_| !column.is_empty()) else { return };
    let mut to = *first as usize;
    let ends = places[1..].iter().map(|end| *end as usize).chain([column.len()]);
    for (place, end) in places.iter().zip(ends) {
        let from = *place as usize + 1;
        column.copy_within(from..end, to);
        to += end - from;
    }
    column.truncate(to);
    // Of an export of which most rows are set aside the others should not hold its memory.
    if column.len() < column.capacity() / 2 {
        column.shrink_to_fit();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(times: &[i64]) -> Rows {
        let row = |(i, t): (usize, &i64)| Row {
            t: *t,
            x: *t as f64 / 10.0,
            humidity: if i > 2 { 40.0 } else { f64::NAN },
            line: i as u32 + 1,
            source: 0,
        };
        times.iter().enumerate().map(row).collect()
    }

    #[test]
    fn taking_out_leaves_the_others_in_order() {
        for places in [&[][..], &[0], &[0, 1], &[2, 4], &[5], &[0, 1, 2, 3, 4, 5]] {
            let mut some = rows(&[10, 20, 30, 40, 50, 60]);
            let all = some.clone();
            some.take_out(places);
            let kept: Vec<usize> = (0..6).filter(|i| !places.contains(&(*i as u32))).collect();
            let got: Vec<String> = (0..some.len()).map(|i| format!("{:?}", some.row(i))).collect();
            assert_eq!(got, kept.iter().map(|i| format!("{:?}", all.row(*i))).collect::<Vec<_>>());
        }
    }

    #[test]
    fn sorting_keeps_rows_whole_and_parts_end_where_neighbours_are_far() {
        let mut some = rows(&[30, 10, 20, 10]);
        some.sort();
        assert_eq!((&some.times_ms[..], &some.lines[..]), (&[10, 10, 20, 30][..], &[2, 4, 3, 1][..]));
        assert!(some.row(0).humidity.is_nan() && some.row(1).humidity > 39.0);
        assert_eq!(some.parts(|a, b| a == b).collect::<Vec<_>>(), [0..2, 2..3, 3..4]);
    }

    #[test]
    fn a_humidity_may_begin_with_a_later_download() {
        let mut some = Rows::default();
        some.append(0, Rows::of_one(vec![10, 20], vec![1.0, 2.0], vec![], vec![1, 2]));
        some.append(1, Rows::of_one(vec![30], vec![3.0], vec![55.0], vec![1]));
        some.append(2, Rows::of_one(vec![40], vec![4.0], vec![], vec![1]));
        assert_eq!(some.humidity.len(), some.len());
        assert!(some.row(1).humidity.is_nan() && some.row(3).humidity.is_nan());
        assert_eq!(some.row(2), Row { t: 30, x: 3.0, humidity: 55.0, line: 1, source: 1 });
    }
}
