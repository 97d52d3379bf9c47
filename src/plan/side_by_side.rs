//! The check that makes differences between rooms sure: all loggers in one place, before or after.
//!
//! Settled here, and why:
//! - **A day and a night** is asked for, though 12 h after the first 3 h are enough: whoever puts the last logger in an hour
//!   late, or takes the box away an hour early, still has enough.

use crate::texts::quoted_toml;

/// Hours that are left out at the start: loggers come out of a hand or a cold van.
pub const SETTLING_H: f64 = 3.0;
/// Hours that must be left after those.
pub const LEAST_TOGETHER_H: f64 = 12.0;
/// Hours that are asked for.
pub const TOGETHER_H: f64 = 24.0;

/// What to do, in order.
pub static STEPS: &[&str] = &[
    "Start all loggers, with the interval and the clock that they will have in the homes.",
    "Lay all of them together in one closed box (a picnic cooler without ice, a cardboard box in a blanket), or close together on one table in a room without sun, heater and draught. None on top of another's sensor.",
    "Write down when the last logger came in.",
    "Leave the box shut for a day and a night (24 h). The first 3 h do not count, and 12 h more are needed.",
    "Write down when the box is opened. Then place the loggers.",
    "Paste the lines below into the site file and fill in both times: `from` is 3 h after the last logger came in, `to` is when the box was opened.",
    "Do the same after the campaign where you can: it shows whether a logger has drifted.",
];

/// The lines for the site file, with times to fill in; `loggers`: those of the roster by name, `some`: only these lay there.
pub fn lines_to_paste(loggers: &[&str], some: bool) -> String {
    let names: Vec<String> = loggers.iter().map(|name| quoted_toml(name)).collect();
    let only = if some { format!("loggers = [{}]\n", names.join(", ")) } else { String::new() };
    format!(
        "[colocation]\nfrom = \"YYYY-MM-DD HH:MM\"   # 3 h after the last logger came in\nto = \"YYYY-MM-DD HH:MM\"     # when the box was opened\n{only}"
    )
}
