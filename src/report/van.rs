//! What pages for the van share: they are printed first, and ticked off with a pen.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::STYLE;
use crate::texts::shown_lines;

const VAN_STYLE: &str = include_str!("van.css");

/// A page that stands alone, for print and for a phone.
pub(super) fn page(title: &str, main: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(STYLE)) (PreEscaped(VAN_STYLE)) }
            }
            body { main.van { (main) p.soft.made { "Made by evenrooms " (env!("CARGO_PKG_VERSION")) "." } } }
        }
    };
    // Names are safe already; a page must be so whatever comes to stand in it.
    shown_lines(&page.into_string()).into_owned()
}

/// A text in which `names` of columns and settings stand between backticks.
pub(super) fn with_names(text: &str) -> Markup {
    html! { @for (i, part) in text.split('`').enumerate() { @if i % 2 == 1 { code { (part) } } @else { (part) } } }
}

/// How many of something: `1 home`, `2 homes`.
pub(super) fn count(n: usize, of: &str) -> String {
    format!("{n} {of}{}", if n == 1 { "" } else { "s" })
}

/// A box to tick.
pub(super) fn tick() -> Markup {
    html! { span.tick role="img" aria-label="to tick off" {} }
}
