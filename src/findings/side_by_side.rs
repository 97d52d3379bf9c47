//! Rules about loggers that lay side by side, as the site file says, and did not read alike.

use super::{About, Evidence, Found, Judge, Rule, Severity, Verdict};
use crate::quality::LoggerRow;
use crate::quality::colocation::{Checked, Word};
use crate::site::Site;
use crate::units::KelvinDiff;

/// A logger whose offset is larger than it may be.
pub(super) static FAR_OFFSET: Rule = Rule {
    name: "side-by-side-offset",
    shows: "in the side-by-side time a logger ran with the others, but further from them than twice its accuracy: that is not taken off its readings until the site file says so, and nothing good rests on them",
    could_also_be: "a logger that lay elsewhere in that time, in a place that warms and cools alike; a broken sensor; or a logger of another make that truly reads so",
    next_step: "check the logger beside a good thermometer, and the side-by-side dates; where it lay with the others and reads so, paste the line given here into [colocation] of the site file and audit again",
    source: "twice the accuracy: own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(far_off),
};

/// A logger that did not run with the others.
pub(super) static NOT_BESIDE: Rule = Rule {
    name: "not-side-by-side",
    shows: "in the side-by-side time a logger did not run with the others, so that no offset is known of it and none is taken off",
    could_also_be: "a logger that was laid to the others later or taken away earlier, that lay in the sun or in a hand, or whose clock is off",
    next_step: "check the side-by-side dates and who lay there; name those that did as `loggers` in [colocation] of the site file: the readings of the others are judged in that time too",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(apart),
};

/// A logger whose offset was taken off because the site file says so.
pub(super) static ON_ITS_WORD: Rule = Rule {
    name: "offset-on-its-word",
    shows: "an offset was taken off a logger's readings because the site file says so, where its readings alone would not do: accept_offset_of names the logger and the offset is more than twice its accuracy, or accept_without_evidence stands for a time in which nothing shows that the loggers lay together; all that is said of its room rests on that",
    could_also_be: "a line of the site file that was written for another check, or another logger",
    next_step: "see that the size given here is right; where it is not known any more, take the line out of [colocation] and lay the loggers side by side anew",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(on_its_word),
};

fn on_its_word(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let Some(Checked::With(found)) = logger.checked else { return Verdict::Clear };
    let Some(word) = found.on_its_word else { return Verdict::Clear };
    let site = evidence.site;
    let why = match word {
        Word::Offset => "accept_offset_of: more than its accuracy explains",
        Word::Time => "accept_without_evidence: nothing in the readings shows that the loggers lay together",
    };
    let shows = format!(
        "{} was taken off all readings of logger {} in {}, on the word of the site file ({why}).",
        show(site, found.offset.k()),
        logger.logger,
        logger.room
    );
    let seen = Found::new(Severity::Watch, found.offset.k(), shows);
    Verdict::Found(Found { span: logger.record(), unit: "K", ..seen })
}

fn far_off(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let Some(Checked::FarOff { offset, limit }) = logger.checked else { return Verdict::Clear };
    let site = evidence.site;
    let shows = format!(
        "Logger {} in {} read {} {} the others{}, where {} is the most that its accuracy explains. It was not taken off. Where that is right, in [colocation] of the site file: accept_offset_of = [{:?}].",
        logger.logger,
        logger.room,
        show(site, offset.k().abs()),
        if offset.k() > 0.0 { "above" } else { "below" },
        when(site),
        show(site, limit.k()),
        logger.logger
    );
    found(logger, (Severity::Act, offset.k(), limit.k()), evidence, shows)
}

fn apart(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let Some(Checked::Apart { wander, limit }) = logger.checked else { return Verdict::Clear };
    let site = evidence.site;
    let shows = format!(
        "Logger {} in {} did not run with the others{}: its distance to them wandered by ±{}, where loggers in one place stay within ±{}. No offset was taken off it.",
        logger.logger,
        logger.room,
        when(site),
        show(site, wander.k()),
        show(site, limit.k()),
    );
    found(logger, (Severity::Watch, wander.k(), limit.k()), evidence, shows)
}

fn found(
    logger: &LoggerRow,
    (severity, observed, limit): (Severity, f64, f64),
    evidence: &Evidence<'_>,
    shows: String,
) -> Verdict {
    // What is wrong with a logger is wrong in all of its record.
    let time = evidence.site.colocation.as_ref().map(|c| c.span);
    let span = if severity == Severity::Act { logger.record() } else { time };
    Verdict::Found(Found { span, unit: "K", limit, ..Found::new(severity, observed, shows) })
}

fn when(site: &Site) -> String {
    let span = site.colocation.as_ref().map(|c| super::show_span(c.span, site.zone));
    span.map_or(String::new(), |span| format!(" side by side ({span})"))
}

fn show(site: &Site, k: f64) -> String {
    site.units.show_difference(KelvinDiff::new(k))
}
