//! The same records under other settings: homes from their exports to acceptance, of which nothing is written.

use std::path::Path;

use super::naming::Naming;
use super::source::Source;
use super::threads::Threads;
use crate::audit::HomeAudit;
use crate::error::Result;
use crate::pipeline::{BesideRoster, Building, Keep};
use crate::site::{Home, Site};

/// What comes of the homes of a site, of which nothing is kept but that.
pub(super) fn again(
    site: &Site,
    site_path: &Path,
    files: Option<BesideRoster<'_>>,
    threads: &Threads,
) -> Result<Vec<HomeAudit>> {
    // Names were settled before: a site under pseudonyms is told by them.
    let source = Source::folder(threads, site.clone(), site_path, Naming::AsWritten)?;
    let one = |home: &Home| Ok(source.open(home)?.0.judge().keep(Keep::ForTables));
    let mut kept = Vec::new();
    threads.in_order(&source.site().homes, one, |home| {
        kept.push(home);
        Ok(())
    })?;
    let site = source.site().with(|facts| facts.homes = kept.iter().map(|kept| kept.home.clone()).collect());
    Ok(Building::of(&site, kept, files).homes)
}
