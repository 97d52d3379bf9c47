//! Work side by side, results in order: the only way in which anything runs on several threads.
#![expect(clippy::disallowed_methods, reason = "the one place that has threads for the work")]

use std::collections::BTreeMap;
use std::sync::mpsc::channel;
use std::sync::{Condvar, Mutex, PoisonError};

use crate::error::{Error, Result};

/// Results that may wait for an earlier one, beside one in work per thread.
const AHEAD: usize = 2;

/// Where the work stands.
#[derive(Default)]
struct Progress {
    next: usize,
    handed_on: usize,
    stopped: bool,
}

/// Lets everybody go when one thread gives up.
struct StopOnDrop<'a>(&'a Mutex<Progress>, &'a Condvar);

impl Drop for StopOnDrop<'_> {
    fn drop(&mut self) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).stopped = true;
        self.1.notify_all();
    }
}

/// The threads that everything runs on.
pub(super) struct Threads(rayon::ThreadPool);

impl Threads {
    /// Starts them: one per core where no number is given.
    ///
    /// # Errors
    /// [`Error::NoThreads`] where the system has none to give.
    pub(super) fn start(threads: Option<u16>) -> Result<Self> {
        let number = threads.map(usize::from);
        let pool = rayon::ThreadPoolBuilder::new().num_threads(number.unwrap_or(0)).build();
        pool.map(Self).map_err(|error| Error::NoThreads { threads: number, source: Box::new(error) })
    }

    /// Does the work for each item, and hands the results on in the order of the items, while later ones are in work. No more
    /// items are in flight than there are threads, and [`AHEAD`].
    ///
    /// # Errors
    /// The first error in the order of the items, of the work or of what it is handed on to.
    pub(super) fn in_order<T: Sync, R: Send>(
        &self,
        items: &[T],
        work: impl Fn(&T) -> Result<R> + Sync,
        mut hand_on: impl FnMut(R) -> Result<()>,
    ) -> Result<()> {
        let threads = self.0.current_num_threads();
        let (progress, moved) = (Mutex::new(Progress::default()), Condvar::new());
        let take = || {
            let mut at = progress.lock().unwrap_or_else(PoisonError::into_inner);
            loop {
                if at.stopped || at.next == items.len() {
                    return None;
                }
                if at.next < at.handed_on + threads + AHEAD {
                    at.next += 1;
                    return Some(at.next - 1);
                }
                at = moved.wait(at).unwrap_or_else(PoisonError::into_inner);
            }
        };
        self.0.in_place_scope(|scope| {
            let _stop = StopOnDrop(&progress, &moved);
            let (done, results) = channel();
            for _ in 0..threads.min(items.len()) {
                let (done, take, work) = (done.clone(), &take, &work);
                let (progress, moved) = (&progress, &moved);
                scope.spawn(move |_| {
                    while let Some(i) = take() {
                        let stop = StopOnDrop(progress, moved);
                        let result = work(&items[i]);
                        std::mem::forget(stop);
                        if done.send((i, result)).is_err() {
                            return;
                        }
                    }
                });
            }
            drop(done);
            let mut waiting = BTreeMap::new();
            let mut next = 0;
            for (i, result) in results {
                waiting.insert(i, result);
                while let Some(result) = waiting.remove(&next) {
                    hand_on(result?)?;
                    next += 1;
                    progress.lock().unwrap_or_else(PoisonError::into_inner).handed_on = next;
                    moved.notify_all();
                }
            }
            Ok(())
        })
    }

    /// Does the work for each item; the results are in the order of the items.
    ///
    /// # Errors
    /// The first error in that order.
    pub(super) fn each<T: Sync, R: Send>(
        &self,
        items: &[T],
        work: impl Fn(&T) -> Result<R> + Sync,
    ) -> Result<Vec<R>> {
        let mut all = Vec::with_capacity(items.len());
        self.in_order(items, work, |one| {
            all.push(one);
            Ok(())
        })?;
        Ok(all)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    #[test]
    fn results_come_in_order_whoever_is_first() {
        let items: Vec<u64> = (0..200).collect();
        let mut seen = Vec::new();
        let slow_first = |i: &u64| {
            std::thread::sleep(std::time::Duration::from_micros(if i.is_multiple_of(7) { 900 } else { 10 }));
            Ok(*i)
        };
        Threads::start(Some(3))
            .unwrap()
            .in_order(&items, slow_first, |i| {
                seen.push(i);
                Ok(())
            })
            .unwrap();
        assert_eq!(seen, items);
    }

    #[test]
    fn the_first_error_stops_the_work() {
        let items: Vec<u64> = (0..100).collect();
        let imbalance = |file: &str| Error::Imbalance { file: file.to_owned(), seen: 1, accounted: 0 };
        let mut seen = 0;
        let work = |i: &u64| if *i >= 40 { Err(imbalance(&i.to_string())) } else { Ok(*i) };
        let told = Threads::start(Some(3)).unwrap().in_order(&items, work, |_| {
            seen += 1;
            Ok(())
        });
        assert!(told.unwrap_err().to_string().contains("40"));
        assert_eq!(seen, 40);
        let refused = Threads::start(Some(3)).unwrap().in_order(
            &items,
            |i| Ok(*i),
            |i| if i == 5 { Err(imbalance("five")) } else { Ok(()) },
        );
        assert!(refused.is_err());
    }
}
