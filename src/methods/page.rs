//! Markdown in the making, and how texts and numbers stand in it.

/// Markdown in the making.
#[derive(Default)]
pub(super) struct Page {
    pub(super) text: String,
}

impl Page {
    pub(super) fn section(&mut self, title: &str) {
        self.text.push_str(&format!("\n## {title}\n\n"));
    }

    pub(super) fn part(&mut self, title: &str) {
        self.text.push_str(&format!("\n### {title}\n\n"));
    }

    pub(super) fn paragraph(&mut self, text: &str) {
        self.text.push_str(&format!("{text}\n\n"));
    }

    pub(super) fn item(&mut self, text: &str) {
        self.text.push_str(&format!("- {text}\n"));
    }

    pub(super) fn line(&mut self, text: &str) {
        self.text.push_str(&format!("{text}\n"));
    }
}

/// A text of a person that Markdown cannot take for marks of its own, in one line.
pub(super) fn plain(text: &str) -> String {
    let mut plain = String::new();
    for c in crate::texts::shown(text).chars() {
        if matches!(c, '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '|' | '#' | '&' | '~' | '!') {
            plain.push('\\');
        }
        plain.push(c);
    }
    plain
}

/// A number with as many decimals as it takes, four at most.
pub(super) fn number(x: f64) -> String {
    let text = format!("{x:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_the_decimals_they_need() {
        assert_eq!([20.0, 16.666_666, -0.000_01, 0.5].map(number), ["20", "16.6667", "0", "0.5"]);
    }

    #[test]
    fn names_are_no_marks() {
        assert_eq!(plain("a*b|<c>`"), "a\\*b\\|\\<c\\>\\`");
    }
}
