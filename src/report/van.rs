//! What pages for the van share: they are printed first, and ticked off with a pen.

use maud::{Markup, html};

use super::whole_page;

const VAN_STYLE: &str = include_str!("van.css");

/// A page that stands alone, for print and for a phone.
pub(super) fn page(title: &str, main: &Markup) -> String {
    let body =
        html! { main.van { (main) p.soft.made { "Made by evenrooms " (env!("CARGO_PKG_VERSION")) "." } } };
    whole_page(title, VAN_STYLE, &body)
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
