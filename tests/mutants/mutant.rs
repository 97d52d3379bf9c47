//! In the copy only: which mutant runs, and which ones a process came by.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::sync::LazyLock;
use std::sync::atomic::{AtomicBool, Ordering};

/// More than there are.
const MOST: usize = 1 << 16;

static ON: LazyLock<Option<usize>> =
    LazyLock::new(|| std::env::var("EVENROOMS_MUTANT").ok().and_then(|id| id.parse().ok()));

static REACHED: LazyLock<Option<File>> = LazyLock::new(|| {
    let path = std::env::var_os("EVENROOMS_MUTANTS_REACHED")?;
    OpenOptions::new().append(true).create(true).open(path).ok()
});

static SEEN: [AtomicBool; MOST] = [const { AtomicBool::new(false) }; MOST];

/// Whether this mutant runs; the first question of a process after each one is written down.
pub(crate) fn is(id: usize) -> bool {
    if let Some(reached) = &*REACHED
        && !SEEN[id].swap(true, Ordering::Relaxed)
    {
        let mut reached: &File = reached;
        reached.write_all(format!("{id}\n").as_bytes()).expect("what was reached can be written down");
    }
    *ON == Some(id)
}

/// Two iterators of one kind, for functions that do not name the type they give.
#[derive(Clone)]
pub(crate) enum Either<A, B> {
    One(A),
    Other(B),
}

impl<T, A: Iterator<Item = T>, B: Iterator<Item = T>> Iterator for Either<A, B> {
    type Item = T;

    fn next(&mut self) -> Option<T> {
        match self {
            Self::One(one) => one.next(),
            Self::Other(other) => other.next(),
        }
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        match self {
            Self::One(one) => one.size_hint(),
            Self::Other(other) => other.size_hint(),
        }
    }
}

impl<T, A: ExactSizeIterator<Item = T>, B: ExactSizeIterator<Item = T>> ExactSizeIterator for Either<A, B> {}
