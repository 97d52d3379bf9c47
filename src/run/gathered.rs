//! The homes of a source one after another, and what they come to together: whoever writes tables into a folder, or hands
//! them on in memory, goes this way.

use std::collections::BTreeMap;
use std::path::PathBuf;

use super::source::Source;
use super::threads::Threads;
use super::unnamed::{UnnamedFiles, unnamed};
use crate::error::{Note, Result};
use crate::files::Input;
use crate::pipeline::{BesideRoster, Building, KeptHome, OpenedHome};
use crate::site::{Home, Site};

/// What all homes come to.
pub(super) struct Gathered {
    /// The site, with the accuracies that are in force.
    pub(super) site: Site,
    /// The homes held against each other.
    pub(super) building: Building,
    /// Notes about files.
    pub(super) notes: Vec<Note>,
    /// What was read of the homes.
    pub(super) inputs: Vec<Input>,
    unnamed: Option<UnnamedFiles>,
    digests: BTreeMap<String, String>,
}

impl Gathered {
    /// Does the work for each home, side by side, and hands it on in roster order; `hand_on` answers what is kept of a home,
    /// and `own` is what is no export wherever it lies.
    ///
    /// # Errors
    /// The first of reading, of the work, or of what it is handed on to.
    pub(super) fn of<R: Send>(
        source: &Source,
        own: &[PathBuf],
        threads: &Threads,
        work: impl Fn(OpenedHome) -> Result<R> + Sync,
        mut hand_on: impl FnMut(R) -> Result<KeptHome>,
    ) -> Result<Self> {
        let one = |home: &Home| {
            let (opened, inputs) = source.open(home)?;
            Ok((work(opened)?, inputs))
        };
        let (mut kept, mut inputs) = (Vec::new(), Vec::new());
        threads.in_order(&source.site().homes, one, |(home, read)| {
            kept.push(hand_on(home)?);
            inputs.extend(read);
            Ok(())
        })?;
        let homes = kept.iter().map(|kept: &KeptHome| kept.home.clone()).collect();
        let site = source.site().with(|facts| facts.homes = homes);
        let unnamed = source.of_exports().map(|exports| unnamed(&site, exports, own, &source.naming));
        let digests = digests(source.inputs.iter().chain(&inputs));
        let building = Building::of(&site, kept, beside(unnamed.as_ref(), &digests));
        let notes = unnamed.iter().flat_map(|files| files.notes(&building.copies)).collect();
        Ok(Self { site, building, notes, inputs, unnamed, digests })
    }

    /// What is known of files; `None`: the homes come from an aligned table.
    pub(super) fn files(&self) -> Option<BesideRoster<'_>> {
        beside(self.unnamed.as_ref(), &self.digests)
    }
}

fn beside<'a>(
    unnamed: Option<&'a UnnamedFiles>,
    digests: &'a BTreeMap<String, String>,
) -> Option<BesideRoster<'a>> {
    unnamed.map(|files| BesideRoster { unnamed: &files.series, digests })
}

/// The digest of each input, by its name in results.
pub(super) fn digests<'a>(inputs: impl IntoIterator<Item = &'a Input>) -> BTreeMap<String, String> {
    inputs.into_iter().map(|input| (input.name.clone(), input.sha256.clone())).collect()
}
