//! Signals that end a run: it cleans up first, and what stood before stands whole.
//!
//! Settled here, and why:
//! - **A hang-up** is ignored where the program was started so (`nohup`; told from `/proc`), other signals never.
#![expect(clippy::disallowed_methods, reason = "one thread waits for signals")]

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::error::Result;

/// Signals are looked out for.
#[derive(Debug)]
pub struct Signals {
    ending: Arc<AtomicBool>,
}

impl Signals {
    /// Ends the program with 130, 143 or 129 at SIGINT, SIGTERM or SIGHUP, after its unfinished results are gone; results that
    /// are being moved into place are all moved first. A second signal ends it at once. A file that grows over the limit
    /// of the process is a write that fails, no death. Elsewhere than on Unix the next run into the folder cleans up.
    ///
    /// # Errors
    /// [`crate::error::Error::Disk`] where the system has no room for that.
    pub fn watch() -> Result<Self> {
        let signals = Self { ending: Arc::new(AtomicBool::new(false)) };
        #[cfg(unix)]
        signals.clean_up().map_err(|source| crate::error::Error::Disk {
            path: "signals".into(),
            action: "could not be watched",
            source,
            hint: "free memory or threads, and try again",
        })?;
        Ok(signals)
    }

    /// Leaves the end to a signal, where one came: its exit code counts, even where the work was done meanwhile.
    pub fn give_way(&self) {
        while self.ending.load(Ordering::SeqCst) {
            std::thread::park();
        }
    }

    #[cfg(unix)]
    fn clean_up(&self) -> std::io::Result<()> {
        use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM, SIGXFSZ};
        use signal_hook::flag;

        use crate::files;

        flag::register(SIGXFSZ, Arc::new(AtomicBool::new(false)))?;
        let ends = if files::ignores_hangup() { &[SIGINT, SIGTERM][..] } else { &[SIGINT, SIGTERM, SIGHUP] };
        for signal in ends {
            flag::register_conditional_shutdown(*signal, 128 + signal, self.ending.clone())?;
            flag::register(*signal, self.ending.clone())?;
        }
        let mut signals = signal_hook::iterator::Signals::new(ends)?;
        let wait = move || {
            if let Some(signal) = signals.forever().next() {
                files::abandon();
                std::process::exit(128 + signal);
            }
        };
        std::thread::Builder::new().name("signals".to_owned()).spawn(wait).map(drop)
    }
}
