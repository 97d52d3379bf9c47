//! Counting: found among all there were.

/// Found among all there were.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Found {
    pub(crate) there: u32,
    pub(crate) found: u32,
}

impl Found {
    pub(crate) fn add(&mut self, found: bool) {
        self.there += 1;
        self.found += u32::from(found);
    }

    /// In %.
    pub(crate) fn share(self) -> f64 {
        100.0 * f64::from(self.found) / f64::from(self.there.max(1))
    }

    /// `97 %`, or nothing where there was nothing.
    pub(crate) fn show(self) -> String {
        if self.there == 0 { String::new() } else { format!("{:.0} %", self.share()) }
    }
}
