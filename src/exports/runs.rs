//! Numbers of rows or lines, each with what is said of it; neighbours of which the same is said take no more room than one.

/// So many from a number on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Run<W> {
    pub(super) first: u32,
    pub(super) count: u32,
    pub(super) what: W,
}

/// Numbers, none twice.
#[derive(Clone, Debug)]
pub(super) struct Runs<W> {
    runs: Vec<Run<W>>,
    length: usize,
}

impl<W> Default for Runs<W> {
    fn default() -> Self {
        Self { runs: Vec::new(), length: 0 }
    }
}

impl<W: Copy + PartialEq> Runs<W> {
    /// How many numbers there are.
    pub(super) fn len(&self) -> usize {
        self.length
    }

    pub(super) fn is_empty(&self) -> bool {
        self.length == 0
    }

    pub(super) fn push(&mut self, number: u32, what: W) {
        match self.runs.last_mut() {
            Some(last) if last.what == what && last.first.checked_add(last.count) == Some(number) => {
                last.count += 1;
                self.length += 1;
            }
            _ => self.push_run(Run { first: number, count: 1, what }),
        }
    }

    /// Adds several at once.
    pub(super) fn push_run(&mut self, run: Run<W>) {
        self.length += run.count as usize;
        if run.count > 0 {
            self.runs.push(run);
        }
    }

    /// Brings them into rising order.
    pub(super) fn sort(&mut self) {
        if !self.runs.is_sorted_by_key(|run| run.first) {
            self.runs.sort_unstable_by_key(|run| run.first);
        }
    }

    pub(super) fn runs(&self) -> &[Run<W>] {
        &self.runs
    }

    /// The last number, where they rise.
    pub(super) fn last(&self) -> Option<u32> {
        self.runs.last().map(|run| run.first + (run.count - 1))
    }

    /// Each number, and what is said of it.
    pub(super) fn iter(&self) -> impl Iterator<Item = (u32, W)> {
        self.runs.iter().flat_map(|run| (0..run.count).map(|i| (run.first + i, run.what)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_share_a_run_and_come_back_one_by_one() {
        let numbers = [(3, 'a'), (4, 'a'), (5, 'b'), (7, 'b'), (8, 'b'), (1, 'b'), (2, 'b')];
        let mut runs = Runs::default();
        numbers.iter().for_each(|(number, what)| runs.push(*number, *what));
        assert_eq!((runs.len(), runs.runs().len()), (7, 4));
        assert!(runs.iter().eq(numbers));
        runs.sort();
        let mut sorted = numbers;
        sorted.sort_unstable();
        assert!(runs.iter().eq(sorted));
        assert_eq!(runs.last(), Some(8));
        assert!(Runs::<char>::default().last().is_none());
    }
}
