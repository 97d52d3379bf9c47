//! What may happen to a run from outside: it is killed, the disk is full, a file is not what it was. The results are those of
//! the run before or of this one, never a mixture; the next run goes on; nothing is left lying about.
//!
//! `EVENROOMS_SEED` tries other moments for the random kills.
#![cfg(unix)]
#![expect(clippy::unwrap_used, reason = "a test that cannot go on stops")]
#![expect(clippy::disallowed_methods, reason = "tests write their own inputs and read the results back")]

mod aligned;
mod deaths;
mod inputs;
mod limits;
mod owners;
mod pipes;
mod signals;
mod space;
mod stand;
mod two_at_once;
