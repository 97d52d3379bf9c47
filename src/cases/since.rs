//! What became of the cases of an earlier audit: new, still there, or over.

use super::{Case, Course, KINDS};
use crate::findings::Severity;

/// How a case stands to an earlier audit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Since {
    /// The earlier audit did not have it.
    New,
    /// It had it too.
    StillThere,
    /// It had it, and it is over.
    Over,
    /// It had it, and now nothing is measured there: nobody knows.
    NotSeen,
}

impl Since {
    /// The words in tables.
    pub const fn words(self) -> &'static str {
        match self {
            Since::New => "new",
            Since::StillThere => "still there",
            Since::Over => "over",
            Since::NotSeen => "not seen any more",
        }
    }
}

/// A case of an earlier audit, as far as it is looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Earlier {
    /// The home.
    pub home: String,
    /// The id of its kind.
    pub kind: String,
    /// Its rooms; empty: the home as a whole.
    pub rooms: Vec<String>,
    /// Whether it was over already.
    pub was_over: bool,
    /// Its findings, by their `id`.
    pub findings: Vec<String>,
    /// What happened, in its own sentence.
    pub sentence: String,
}

/// Kinds of cases of a home or room without enough heat.
const COLD: [&str; 8] = [
    "no-heat",
    "no-heat-in-room",
    "held-low",
    "building-cold",
    "too-cold",
    "near-freezing",
    "falls-behind-in-cold",
    "set-low",
];
/// Kinds of cases of a room that is too warm.
const WARM: [&str; 2] = ["overheats", "set-high"];

impl Earlier {
    fn is(&self, case: &Case) -> bool {
        let rooms = self.rooms.iter().any(|room| case.rooms.contains(room));
        // A home without heat that stays cold is cold in another way each time.
        let cold = COLD.contains(&self.kind.as_str()) && COLD.contains(&case.kind.id);
        let whole = cold && (self.rooms.is_empty() || case.rooms.is_empty());
        let warm = WARM.contains(&self.kind.as_str()) && WARM.contains(&case.kind.id);
        let kind = self.kind == case.kind.id || cold || warm;
        self.home == case.home && kind && (self.rooms == case.rooms || rooms || whole)
    }

    /// Whether all that makes a case up now was part of this one: the same rules found the same in the same rooms, in whatever period.
    fn held(&self, case: &Case) -> bool {
        let place = |id: &str| id.rsplit_once('/').map(|(place, _of)| place.to_owned());
        let known = |now: Option<String>| now.is_some() && self.findings.iter().any(|id| place(id) == now);
        !case.findings.is_empty() && case.findings.iter().all(|id| known(place(id)))
    }
}

/// Says of each case of a home how it stands to an earlier audit, and adds those that left no trace: over where its rooms are
/// still `measured`, else not seen any more, and then no home is accepted.
pub fn since(
    home: &str,
    period: &str,
    cases: &mut Vec<Case>,
    earlier: &[Earlier],
    measured: impl Fn(&str) -> bool,
) {
    let of_home: Vec<&Earlier> = earlier.iter().filter(|e| e.home == home).collect();
    for case in cases.iter_mut() {
        let known = of_home.iter().any(|e| !e.was_over && (e.is(case) || e.held(case)));
        case.since = Some(match case.course {
            Course::Over => Since::Over,
            Course::Ended if known => Since::Over,
            _ if known => Since::StillThere,
            _ => Since::New,
        });
    }
    for e in of_home.iter().filter(|e| !e.was_over) {
        let gone = !cases.iter().any(|case| e.is(case) && case.since != Some(Since::NotSeen));
        let kind = KINDS.iter().find(|kind| kind.id == e.kind).filter(|_| gone);
        let Some(kind) = kind else { continue };
        let seen = match e.rooms.is_empty() {
            true => measured(""),
            false => e.rooms.iter().all(|room| measured(room)),
        };
        let mut id = vec![kind.id, home];
        let rooms = e.rooms.join("+");
        id.extend((!rooms.is_empty()).then_some(rooms.as_str()));
        id.push("earlier audit");
        cases.push(Case {
            id: id.join("/"),
            kind,
            home: home.to_owned(),
            rooms: e.rooms.clone(),
            severity: if seen { Severity::Note } else { Severity::Act },
            period: period.to_owned(),
            span: None,
            from_the_start: false,
            course: if seen { Course::Over } else { Course::Ended },
            since: Some(if seen { Since::Over } else { Since::NotSeen }),
            year: cases.first().map_or(0, |case| case.year),
            sentence: match seen {
                true => e.sentence.clone(),
                false => format!("{} No readings there now: not settled.", e.sentence),
            },
            decided: String::new(),
            amount: String::new(),
            by: String::new(),
            degree_hours_below: 0.0,
            sure: if seen { "seen in the earlier audit only" } else { "not seen any more: nobody knows" }
                .to_owned(),
            against: String::new(),
            could_also_be: kind.could_also_be.to_owned(),
            doubted: !seen,
            next_step: kind.next_step.to_owned(),
            bring: kind.bring.to_owned(),
            findings: Vec::new(),
        });
    }
}
