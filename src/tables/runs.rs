//! Values that last for many rows.

/// Values that last for many rows: each different one once, and how long each run of one is.
#[derive(Clone, Debug)]
pub(super) struct Runs<T> {
    pub(super) different: Vec<T>,
    pub(super) runs: Vec<(Option<u32>, usize)>,
}

impl<T> Default for Runs<T> {
    fn default() -> Self {
        Self { different: Vec::new(), runs: Vec::new() }
    }
}

impl<T: PartialEq> Runs<T> {
    /// The same value in every row.
    pub(super) fn one(value: Option<T>, rows: usize) -> Self {
        let mut runs = Self::default();
        runs.push(value, rows);
        runs
    }

    /// Adds rows with a value, or without.
    pub(super) fn push(&mut self, value: Option<T>, rows: usize) {
        // A run of no rows would be taken for the end by some readers.
        if rows == 0 {
            return;
        }
        let place = value.map(|value| {
            let known = self.different.iter().position(|d| *d == value);
            known.unwrap_or_else(|| {
                self.different.push(value);
                self.different.len() - 1
            }) as u32
        });
        match self.runs.last_mut() {
            Some((last, length)) if *last == place => *length += rows,
            _ => self.runs.push((place, rows)),
        }
    }

    /// The same runs of other values.
    pub(super) fn map<'s, U>(&'s self, to: impl FnMut(&'s T) -> U) -> Runs<U> {
        Runs { different: self.different.iter().map(to).collect(), runs: self.runs.clone() }
    }

    /// Each different value once.
    pub(super) fn different(&self) -> &[T] {
        &self.different
    }

    /// The runs: which of the different values, and for how many rows.
    pub(super) fn iter(&self) -> impl Iterator<Item = (Option<u32>, usize)> {
        self.runs.iter().copied()
    }

    pub(super) fn missing(&self) -> usize {
        self.runs.iter().filter(|(place, _)| place.is_none()).map(|(_, rows)| rows).sum()
    }
}
