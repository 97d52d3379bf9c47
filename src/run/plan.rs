//! `evenrooms plan`.

use super::table_writers::begin;
use super::{DONE, Rows, open_site_with, refuse_among_exports};
use crate::audit::Audit;
use crate::cli::PlanArgs;
use crate::console::{self, Console};
use crate::error::{Error, Result};
use crate::files::{PROVENANCE, Results};
use crate::plan::{CampaignPlan, DayVariation};
use crate::provenance;
use crate::report;
use crate::units::{KelvinDiff, parse_difference};

/// Name of the page.
const PAGE: &str = "plan.html";
/// Days of a room do not differ by more, K.
const MOST_DEVIATION_K: f64 = 10.0;

/// What goes where, before anything is recorded.
pub(super) fn plan(args: &PlanArgs, console: &Console) -> Result<u8> {
    let variation = match &args.day_sd {
        None => DayVariation::OWN,
        Some(text) => DayVariation::stated(deviation(text)?),
    };
    let (site, inputs) = open_site_with(&args.site, Rows::Planned)?;
    let audit = Audit {
        notes: site.cautions.clone(),
        site,
        homes: Vec::new(),
        outdoor: None,
        building: Vec::new(),
        from_aligned: false,
    };
    let plan = CampaignPlan::of(&audit.site, variation);
    if let Some(out) = &args.out {
        refuse_among_exports(out, &args.site, &audit.site)?;
        let made = vec![PAGE.to_owned(), PROVENANCE.to_owned()];
        let mut outputs = begin(out, Results { command: "plan", known: made.clone(), made })?;
        outputs.write(PAGE, report::plan_page(&plan).as_bytes())?;
        outputs.publish(provenance::provenance(&audit, &inputs))?;
    }
    if args.json {
        console.json(&console::plan_json(&plan))?;
    } else {
        let page = args.out.as_ref().map(|out| console::as_typed(&out.join(PAGE)));
        console.report(&console::planned(&plan, page.as_deref()))?;
    }
    Ok(DONE)
}

fn deviation(text: &str) -> Result<KelvinDiff> {
    let read = parse_difference(text).ok().filter(|d| (0.0..=MOST_DEVIATION_K).contains(&d.k()));
    read.ok_or_else(|| Error::Unfit {
        place: "--day-sd".to_owned(),
        what: format!("found \"{text}\", expected a difference of 0 to {MOST_DEVIATION_K:.0} K such as \"0.4 K\""),
        hint: "it is the standard deviation of a room's daily distance to the heated rooms; leave it out for our own assumption".to_owned(),
    })
}
