//! What the numbers, events and verdicts mean that these settings make apply, and how each is made again.

use super::applies;
use super::page::{Page, plain};
use super::works::Works;
use crate::cases::{CRITERIA, CriterionKind, Standing};
use crate::findings::{About, RULES, Rule};
use crate::metrics::{self, EventKind, IntervalKind, Metric, PROCEDURES, Procedure, RECIPES};
use crate::site::{Heated, Site};

/// What applies.
pub(super) struct Definitions<'s> {
    site: &'s Site,
    metrics: Vec<&'static Metric>,
    humidity: Vec<&'static Metric>,
}

impl<'s> Definitions<'s> {
    pub(super) fn of(site: &'s Site) -> Self {
        let of_humidity = |m: &&Metric| applies::OF_HUMIDITY.contains(m);
        let all = metrics::all().filter(|m| applies::metric(site, m));
        let (humidity, metrics) = all.partition(of_humidity);
        Self { site, metrics, humidity }
    }

    pub(super) fn tell(&self, works: &mut Works, page: &mut Page) {
        page.section("Metrics");
        page.paragraph("One number per home, room, period, slice and metric. A number that the record cannot carry has no row; there is no zero in its place.");
        self.metrics.iter().for_each(|metric| self.metric(metric, works, page));
        page.part("Where exports hold relative humidity");
        self.humidity.iter().for_each(|metric| self.metric(metric, works, page));
        self.again(page);
        self.procedures(works, page);
        self.events(page);
        self.verdicts(page);
        self.at_once(page);
        self.rules(works, page);
    }

    fn metric(&self, metric: &Metric, works: &mut Works, page: &mut Page) {
        let source = works.cite(metric.source);
        page.item(&format!(
            "**`{}`** ({}): {}. *Source:* {source}",
            metric.id, metric.unit, metric.definition
        ));
    }

    fn has(&self, metric: &Metric) -> bool {
        self.metrics.iter().chain(&self.humidity).any(|m| *m == metric)
    }

    /// What definitions leave open.
    fn again(&self, page: &mut Page) {
        page.section("How metrics are made again");
        page.paragraph("What definitions leave open, and the procedures of the next section that they take; all take *grid values* and *periods, slices and days*. `readings.parquet`, `aligned.parquet`, `weather.parquet`, the roster and the site file are all that is needed.");
        for recipe in &RECIPES {
            let of: Vec<String> =
                recipe.of.iter().filter(|m| self.has(m)).map(|m| format!("`{}`", m.id)).collect();
            if of.is_empty() {
                continue;
            }
            let names: Vec<&str> = recipe.procedures.iter().map(|p| p.name).collect();
            let takes =
                if names.is_empty() { String::new() } else { format!(" *Takes:* {}.", names.join(", ")) };
            let text = if recipe.text.is_empty() { String::new() } else { format!(" {}.", recipe.text) };
            page.item(&format!("{}:{text}{takes}", of.join(", ")));
        }
    }

    /// Whether a procedure is taken by any metric that applies.
    fn is_taken(&self, procedure: &Procedure) -> bool {
        let recipes = RECIPES.iter().filter(|recipe| recipe.of.iter().any(|m| self.has(m)));
        recipes
            .flat_map(|recipe| recipe.procedures)
            .chain(&metrics::ALL_TAKE)
            .any(|taken| *taken == procedure)
    }

    fn procedures(&self, works: &mut Works, page: &mut Page) {
        page.section("Procedures and intervals");
        page.paragraph("An interval that says *sensor accuracy* holds what the loggers may be off by; one over days holds what the days that happened to be watched leave open too, and a row that has both parts tells them in `sensor` and `days` (95 % half-widths). t and Φ⁻¹ are quantiles of Student's and the normal distribution, Φ the normal distribution itself.");
        for procedure in PROCEDURES.into_iter().filter(|procedure| self.is_taken(procedure)) {
            let ends = IntervalKind::ALL.into_iter().filter(|kind| kind.procedure() == procedure);
            let ends: Vec<String> = ends.map(|kind| format!("`{}`", kind.words())).collect();
            let of =
                if ends.is_empty() { String::new() } else { format!(" (`interval`: {})", ends.join(", ")) };
            let source = works.cite(procedure.source);
            page.item(&format!("**{}**{of}: {}. *Source:* {source}", procedure.name, procedure.text));
        }
    }

    fn events(&self, page: &mut Page) {
        page.section("Events");
        for kind in EventKind::ALL.into_iter().filter(|kind| applies::event(self.site, *kind)) {
            page.item(&format!("**{}** ({}): {}", kind.words(), kind.unit(), kind.definition()));
        }
    }

    fn verdicts(&self, page: &mut Page) {
        page.section("Acceptance");
        page.paragraph(&format!(
            "Held against the period *{}*. A criterion fails where even the low end of what was measured is beyond its limit, passes where even the high end is inside, and else there is not enough data: that is no pass.",
            plain(self.site.judged_period())
        ));
        for kind in CRITERIA.iter().filter(|kind| self.is_asked(kind)) {
            page.item(&format!("**{}** ({}): {}", kind.id, kind.unit, kind.definition));
        }
        page.part("Where a home stands, the worst first");
        for standing in Standing::ALL {
            page.item(&format!("**{}**: {}", standing.word(), standing.definition()));
        }
    }

    /// Whether the site asks for a criterion, and has what it is held against.
    fn is_asked(&self, kind: &CriterionKind) -> bool {
        let (asked, band) = (&self.site.acceptance, self.site.bands.any());
        match kind.id {
            "coverage" => asked.coverage.is_some(),
            "hours_below" => asked.hours_below.is_some() && band,
            "hours_above" => asked.hours_above.is_some() && band,
            "evenness" => asked.evenness,
            "late_recoveries" => asked.late_recoveries.is_some(),
            "heat_rule" => asked.heat_rule.is_some() && self.site.heat_rule.is_some(),
            _ => true,
        }
    }

    /// How many verdicts there are side by side.
    fn at_once(&self, page: &mut Page) {
        page.section("Many verdicts at once");
        let rooms = self.site.homes.iter().flat_map(|home| &home.rooms);
        let rooms = rooms.filter(|room| room.heated != Heated::Unknown).count();
        page.paragraph(&format!(
            "Up to {rooms} rooms have a verdict of evenness in each period. Each `even` and each `uneven` is said where a 90 % interval lies inside or outside of the margin, so that of rooms exactly at the margin one in twenty is called even, and one in twenty uneven. The verdicts stay those of one room each; `even_p_adjusted` and `uneven_p_adjusted` beside them are adjusted by Benjamini and Hochberg, separately, over the rooms of the site that have `even_p` in the period that decides (`verdicts_at_once` tells how many): what is said of all rooms together should go by these. Intervals of other numbers are those of one number each."
        ));
    }

    fn rules(&self, works: &mut Works, page: &mut Page) {
        page.section("Findings");
        page.paragraph("What is looked for, and where the limits come from. A rule that the data cannot carry is listed as not judged, with the reason.");
        let mut of = |about: About, title: &str| {
            page.part(title);
            let applies = |rule: &&&Rule| rule.about == about && applies::rule(self.site, rule);
            for rule in RULES.iter().filter(applies) {
                page.item(&format!(
                    "**{}**: {}. *Source:* {}",
                    rule.name,
                    rule.shows,
                    works.cite(rule.source)
                ));
            }
        };
        of(About::Building, "About the homes");
        of(About::Record, "About the records");
    }
}
