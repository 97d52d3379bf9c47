//! What several sites come to, on the terminal.

use super::wrap;
use crate::cases::Standing;
use crate::portfolio::{Counts, Portfolio};
use crate::texts::shown;

/// Homes told, the worst first.
const MOST_HOMES: usize = 12;

/// A line for each site, the homes that need most, and where the page lies.
pub fn portfolio(portfolio: &Portfolio, out: &str) -> String {
    let counts = portfolio.counts();
    let mut text = format!(
        "{}, {}: {}\n\n",
        number(portfolio.sites.len(), "site"),
        number(counts.homes(), "home"),
        standings(&counts)
    );
    let mut add = |line: &str| text.push_str(&wrap(&format!("{line}\n"), "  "));
    for site in &portfolio.sites {
        let counts = site.counts();
        let period = shown(&site.period);
        add(&format!(
            "{} ({period}), {}: {}",
            shown(&site.name),
            number(counts.homes(), "home"),
            standings(&counts)
        ));
    }
    let open: Vec<_> =
        portfolio.worst_first().into_iter().filter(|(_, home)| home.standing <= Standing::Visit).collect();
    if !open.is_empty() {
        add("\nThe worst first:");
    }
    for (site, home) in open.iter().take(MOST_HOMES) {
        let (site, name) = (shown(&site.name), shown(&home.home));
        add(&format!("{}: {site}, {name}. {}", home.standing.word(), shown(&home.why())));
    }
    if open.len() > MOST_HOMES {
        add(&format!("and {} more to visit: portfolio.html", open.len() - MOST_HOMES));
    }
    add(&format!(
        "\nEvery number: {out}; summary.csv has what the homes have in common, portfolio.html is to be read."
    ));
    text
}

/// `2 to visit today, 1 to accept`.
fn standings(counts: &Counts) -> String {
    let there = Standing::ALL.into_iter().filter(|s| counts.of(*s) > 0);
    there.map(|s| format!("{} {}", counts.of(s), s.word())).collect::<Vec<_>>().join(" · ")
}

fn number(n: usize, of: &str) -> String {
    format!("{n} {of}{}", if n == 1 { "" } else { "s" })
}
