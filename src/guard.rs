//! Libraries of other people that panic where they should answer: no reason to stop a run, and their words are not ours.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Once;

thread_local! {
    /// Whether this thread is in the hands of a library.
    static GUARDED: Cell<bool> = const { Cell::new(false) };
}

/// A library gave up on what it was given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct GaveUp;

/// Does what a library of other people has a part in; a panic is an answer like others, and nothing is said of it.
///
/// # Errors
/// [`GaveUp`] where there was a panic.
pub(crate) fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, GaveUp> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let others = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            if !GUARDED.get() {
                others(panic);
            }
        }));
    });
    let before = GUARDED.replace(true);
    let answer = catch_unwind(AssertUnwindSafe(work));
    GUARDED.set(before);
    answer.map_err(|_| GaveUp)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_is_an_answer_also_inside_another_guard() {
        let inner = || guarded(|| Vec::<u8>::new()[..].first().copied().expect("no first byte"));
        assert_eq!(inner(), Err(GaveUp));
        assert_eq!(guarded(|| (inner(), GUARDED.get())), Ok((Err(GaveUp), true)));
        assert!(!GUARDED.get());
    }
}
