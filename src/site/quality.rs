//! `[quality]` of `site.toml`.

use super::common::{positive, positive_duration};
use super::limits::{FlatLine, Gap, GrossRange, QualityLimits, RateOfChange, Spike, SpikeMethod, Test};
use super::walk::{Section, Wanted};
use crate::units::{Celsius, parse_rate, parse_temperature};

const READINGS: Wanted<'_> = Wanted {
    expected: "a whole number of readings such as 24",
    hint: "so many readings of one value fail whatever the other rooms say",
};

pub(super) fn read_quality(top: &Section<'_, '_>) -> QualityLimits {
    let mut limits = QualityLimits::default();
    let Some(section) = top.section("quality") else { return limits };
    let names = Wanted {
        expected: "any of \"gross range\", \"spike\", \"rate of change\", \"flat line\", \"gap\", \"place\"",
        hint: "an empty list switches all tests off",
    };
    if let Some(tests) = section.texts("tests", names) {
        limits.tests.clear();
        for text in tests {
            match Test::ALL.into_iter().find(|t| t.name() == text.value) {
                Some(test) => limits.tests.push(test),
                None => section.wrong(text.line, &format!("unknown test \"{}\"", text.value), names),
            }
        }
    }
    limits.use_suspect = section.flag("use_suspect").unwrap_or(limits.use_suspect);
    read_gross_range(&section, &mut limits.gross_range);
    read_spike(&section, &mut limits.spike);
    if let Some(s) = section.section("rate_of_change") {
        let rate = Wanted { expected: "a rate such as \"30 K/h\"", hint: "write number and unit in quotes" };
        limits.rate_of_change = s
            .quantity("suspect", rate, parse_rate)
            .map_or(limits.rate_of_change, |suspect| RateOfChange { suspect });
        s.finish();
    }
    if let Some(s) = section.section("flat_line") {
        let d = limits.flat_line;
        limits.flat_line = FlatLine {
            least_s: positive_duration(&s, "at_least").unwrap_or(d.least_s),
            times_longest: d.times_longest,
            within: positive(&s, "within"),
            without_witness: s.whole("without_witness", READINGS).map(|n| n.max(2)),
        };
        s.finish();
    }
    if let Some(s) = section.section("gap") {
        limits.gap =
            Gap { longer_than_s: positive_duration(&s, "longer_than").unwrap_or(limits.gap.longer_than_s) };
        s.finish();
    }
    section.finish();
    limits
}

fn read_gross_range(quality: &Section<'_, '_>, range: &mut GrossRange) {
    let wanted =
        Wanted { expected: "two temperatures such as [\"-40 °C\", \"85 °C\"]", hint: "lower limit first" };
    let Some(s) = quality.section("gross_range") else { return };
    let ordered = |pair: (Celsius, Celsius)| if pair.0 < pair.1 { pair } else { (pair.1, pair.0) };
    range.fail = s.quantity_pair("fail", wanted, parse_temperature).map_or(range.fail, ordered);
    range.suspect = s.quantity_pair("suspect", wanted, parse_temperature).map_or(range.suspect, ordered);
    if range.suspect.0 < range.fail.0 || range.suspect.1 > range.fail.1 {
        s.wrong(
            s.line(),
            "a suspect range that reaches outside the fail range",
            Wanted {
                expected: "suspect inside fail",
                hint: "what fails is impossible, what is suspect is only unlikely",
            },
        );
    }
    s.finish();
}

fn read_spike(quality: &Section<'_, '_>, spike: &mut Spike) {
    let Some(s) = quality.section("spike") else { return };
    let wanted = Wanted {
        expected: "\"average\" or \"differential\"",
        hint: "average measures from the mean of the two neighbours, differential the smaller of two opposite steps",
    };
    let parse = |text: &str| match text {
        "average" => Some(SpikeMethod::Average),
        "differential" => Some(SpikeMethod::Differential),
        _ => None,
    };
    spike.suspect = positive(&s, "suspect").unwrap_or(spike.suspect);
    spike.fail = positive(&s, "fail").unwrap_or(spike.fail);
    spike.method = s.parsed("method", wanted, parse).map_or(spike.method, |m| m.value);
    s.finish();
}
