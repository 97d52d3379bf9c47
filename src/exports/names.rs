//! Dates in which the month has a name.

/// First letters of the months in English, German, French and Spanish, accents taken off.
const MONTHS: [&[&str]; 12] = [
    &["jan", "ene"],
    &["feb", "fev"],
    &["mar", "mrz", "mae"],
    &["apr", "avr", "abr"],
    &["may", "mai"],
    &["jun", "juin"],
    &["jul", "juil"],
    &["aug", "aou", "ago"],
    &["sep"],
    &["oct", "okt"],
    &["nov"],
    &["dec", "dez", "dic"],
];
const WEEKDAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

/// Year, month and day at the start of a text, and what follows them; `None` where no month is named.
///
/// `05-Jan-2026`, `5 January 2026`, `Jan 5, 2026`, `2026-Jan-05`, a weekday before them or not.
pub(super) fn date(text: &str) -> Option<([u32; 3], &str)> {
    let (mut parts, mut rest) = (Vec::new(), text.trim_start());
    while parts.len() < 3 {
        let word = next_word(&mut rest)?;
        if parts.is_empty() && WEEKDAYS.iter().any(|d| word.to_ascii_lowercase().starts_with(d)) {
            continue;
        }
        parts.push(word);
    }
    let number = |s: &str| {
        (s.len() <= 4 && s.bytes().all(|b| b.is_ascii_digit())).then(|| s.parse::<u32>().ok()).flatten()
    };
    let numbers = [number(parts[0]), number(parts[1]), number(parts[2])];
    let (year, month, day, year_text) = match numbers {
        [None, Some(day), Some(year)] => (year, month(parts[0])?, day, parts[2]),
        [Some(year), None, Some(day)] if parts[0].len() == 4 => (year, month(parts[1])?, day, parts[0]),
        [Some(day), None, Some(year)] => (year, month(parts[1])?, day, parts[2]),
        _ => return None,
    };
    matches!(year_text.len(), 2 | 4).then_some(([year, month, day], rest))
}

/// Letters or digits up to the next separator, and on past the separator unless it is the blank or comma before the time.
fn next_word<'t>(rest: &mut &'t str) -> Option<&'t str> {
    *rest = rest.trim_start_matches(['-', '/', '.', ' ', ',']);
    let end = rest.find(|c: char| !c.is_ascii_alphanumeric()).unwrap_or(rest.len());
    let (word, after) = rest.split_at(end);
    *rest = after;
    (!word.is_empty()).then_some(word)
}

fn month(word: &str) -> Option<u32> {
    let word = word.to_ascii_lowercase();
    let at = MONTHS.iter().position(|names| names.iter().any(|n| word.starts_with(n)))?;
    Some(at as u32 + 1)
}
