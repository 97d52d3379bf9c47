//! What `inspect` and `draft` tell.

use std::path::Path;

use super::as_typed;
use crate::draft::Draft;
use crate::exports::{Inspection, SeriesSeen, TextSeen};
use crate::texts::shown;
use crate::units::show_duration;

/// Lines of each kind that are shown; the rest is counted.
const SHOWN: usize = 12;

/// How a file is understood, for a person.
pub fn inspection(seen: &Inspection) -> String {
    let mut text = format!("{}\n", shown(&seen.file));
    if let Some(trouble) = &seen.trouble {
        text.push_str(&format!("  not understood: {trouble}\n"));
    }
    for part in &seen.texts {
        text.push_str(&one_text(part));
    }
    text
}

fn one_text(part: &TextSeen) -> String {
    let mut text = part.part.as_ref().map_or(String::new(), |name| format!("  part      {}\n", shown(name)));
    if let Some(trouble) = &part.trouble {
        text.push_str(&format!("  not understood: {}\n", trouble.replace('\n', "\n  ")));
        return text;
    }
    let mut row = |name: &str, value: &str| text.push_str(&format!("  {name:<10}{}\n", shown(value)));
    row(
        "text",
        &format!(
            "{}, cells separated by {}, decimal mark {}",
            part.encoding, part.delimiter, part.decimal_mark
        ),
    );
    row("columns", &part.columns.join(" | "));
    row("time", &format!("{}: {}", part.time_columns, part.times));
    row("clock", &part.clock);
    let first = part.first_data_line.map_or(String::new(), |l| format!(", the first reading in line {l}"));
    row(
        "lines",
        &format!("{} header, {} blank, {} data{first}", part.header_lines, part.blank_lines, part.data_lines),
    );
    if !part.loggers.is_empty() {
        row("loggers", &some(&part.loggers));
    }
    if !part.quantities.is_empty() {
        row("measured", &some(&part.quantities));
    }
    for line in part.lines_before.iter().take(SHOWN) {
        row("before", &line.chars().take(100).collect::<String>());
    }
    part.series.iter().take(SHOWN).for_each(|s| text.push_str(&one_series(s)));
    if part.series.len() > SHOWN {
        text.push_str(&format!("  … and {} more series (all with --json)\n", part.series.len() - SHOWN));
    }
    for aside in part.set_aside.iter().take(SHOWN) {
        text.push_str(&format!(
            "  set aside line {}: {}: {}\n",
            aside.line,
            aside.reason,
            shown(&aside.text)
        ));
    }
    if part.set_aside.len() > SHOWN {
        text.push_str(&format!(
            "  … and {} more rows set aside (all with --json)\n",
            part.set_aside.len() - SHOWN
        ));
    }
    text
}

fn some(names: &[String]) -> String {
    let more = if names.len() > SHOWN { format!(" and {} more", names.len() - SHOWN) } else { String::new() };
    format!("{}{more}", names[..names.len().min(SHOWN)].join(", "))
}

fn one_series(s: &SeriesSeen) -> String {
    let logger = s.logger.as_ref().map_or(String::new(), |l| format!(" of {l}"));
    let quantity = s.quantity.as_ref().map_or(String::new(), |q| format!(" ({q})"));
    let unit = match (&s.unit_stated, &s.unit_told_by_values) {
        (Some(unit), _) => format!("{unit}, stated"),
        (None, Some(unit)) => format!("{unit} by the values"),
        (None, None) => "open by the values".to_owned(),
    };
    let unit = match (&s.unit_contradiction, &s.unit_stated) {
        (Some(both), _) => format!("{unit}: {both}"),
        (None, None) => format!("not stated; {unit}"),
        (None, Some(_)) => unit,
    };
    let what = format!("\"{}\"{quantity}{logger}", s.column);
    let mut text = format!("  series    {}: unit {unit}\n", shown(&what));
    let number = |x: Option<f64>| x.map_or("–".to_owned(), |x| format!("{x:.2}"));
    let interval = s.interval_s.map_or("–".to_owned(), show_duration);
    let (from, to) = (s.first_local.as_deref().unwrap_or("–"), s.last_local.as_deref().unwrap_or("–"));
    text.push_str(&format!(
        "            {} rows, {} without a value, {from} to {to} every {interval}\n",
        s.rows, s.missing
    ));
    text.push_str(&format!(
        "            lowest {}, median {}, highest {}\n",
        number(s.lowest),
        number(s.median),
        number(s.highest)
    ));
    for (line, time, value) in &s.first_rows {
        text.push_str(&format!(
            "            line {line}: {time}  {}\n",
            value.map_or("no value".to_owned(), |x| x.to_string())
        ));
    }
    for (mark, count) in &s.no_data_marks {
        text.push_str(&format!("            {mark} stands for \"no data\" ({count} times)\n"));
    }
    text
}

/// What was drafted, and what a person must do next.
pub fn drafted(draft: &Draft, site: &Path, out: &Path) -> String {
    let decisions = draft.decisions();
    let mut text = format!("Drafted {} and roster.csv with {} rows.\n", site.display(), draft.rows());
    for line in draft.left_out() {
        text.push_str(&format!(
            "  {}
",
            shown(line)
        ));
    }
    if decisions.is_empty() {
        text.push_str("Nothing is left to decide; look at the notes in roster.csv.\n");
    } else {
        text.push_str("Decide, where the files say \"decide\":\n");
        decisions.iter().for_each(|d| text.push_str(&format!("  {}\n", shown(d))));
    }
    let (site, out) = (as_typed(site), as_typed(&out.join("audit")));
    text.push_str(&format!("Then: evenrooms audit {site} --out {out}"));
    text
}
