//! What the rules about loggers and records say, by themselves: no metric is needed for it.

use super::{Evidence, Judge, Judged, Place, RULES, Rule};

/// Judges the records of a home and nothing else: by each rule that looks at loggers, or at all records together.
///
/// Metric rows and events of the evidence may be empty. Rules that look at all homes of a site are not in it, as in
/// [`super::judge`].
pub fn judge_records(evidence: Evidence<'_>) -> Judged {
    let mut judged = Judged::default();
    RULES.into_iter().for_each(|rule| judged.add_of_records(rule, &evidence));
    judged.findings.sort_by_key(|f| f.severity);
    judged
}

impl Judged {
    /// What a rule about loggers or records says; nothing of other rules.
    pub(super) fn add_of_records(&mut self, rule: &'static Rule, evidence: &Evidence<'_>) {
        let home = &evidence.home.name;
        match rule.judge {
            Judge::Logger(judge) => {
                for logger in evidence.loggers {
                    let room = Some(logger.room.as_str()).filter(|r| !r.is_empty());
                    let place = Place { rule, home, room, of: &logger.logger, period: None };
                    self.add(&place, judge(logger, evidence));
                }
            }
            Judge::Records(judge) => {
                let place = Place { rule, home, room: None, of: "record", period: None };
                self.add(&place, judge(evidence));
            }
            Judge::Room(_) | Judge::Home(_) | Judge::Site => {}
        }
    }
}
