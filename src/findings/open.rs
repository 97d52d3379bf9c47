//! What could not be judged, and why.

/// A rule that could not be judged, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotJudged {
    /// The rule.
    pub rule: &'static str,
    /// The home.
    pub home: String,
    /// The room, if it is about one.
    pub room: Option<String>,
    /// The period, where the site names any.
    pub period: Option<String>,
    /// Why.
    pub why: String,
}

impl NotJudged {
    /// Rule, room and period, for a line.
    pub fn place(&self) -> String {
        let parts = [Some(self.rule), self.room.as_deref(), self.period.as_deref()];
        parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
    }
}

/// What was left open, a line for each reason: rules, rooms and period, and why.
pub fn open_lines(not_judged: &[NotJudged]) -> Vec<String> {
    let mut groups: Vec<Vec<&NotJudged>> = Vec::new();
    for open in not_judged {
        match groups.iter_mut().find(|g| g[0].why == open.why && g[0].period == open.period) {
            Some(group) => group.push(open),
            None => groups.push(vec![open]),
        }
    }
    let line = |group: &Vec<&NotJudged>| {
        let mut words: Vec<&str> = Vec::new();
        let all =
            group.iter().map(|open| open.rule).chain(group.iter().filter_map(|open| open.room.as_deref()));
        all.chain(group[0].period.as_deref()).for_each(|word| {
            if !words.contains(&word) {
                words.push(word);
            }
        });
        format!("{}: {}", words.join(", "), group[0].why)
    };
    groups.iter().map(line).collect()
}
