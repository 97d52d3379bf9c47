//! From numbers to places, with round ticks.

use super::marks::{Rank, Tick};

/// Most ticks of an axis.
const MOST_TICKS: f64 = 6.0;
/// Ticks below which none gives way.
const FEW: usize = 4;
/// Steps that are round, before powers of ten.
const ROUND: [f64; 4] = [1.0, 2.0, 2.5, 5.0];
/// Room beyond the lowest and the highest value, as a share of what lies between them.
const ROOM: f64 = 0.03;

/// A scale from `low` to `high`, with ticks at the multiples of its step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::report) struct Scale {
    pub(in crate::report) low: f64,
    pub(in crate::report) high: f64,
    step: f64,
}

impl Scale {
    /// A scale that holds all values, with three to six round ticks; `None` for no value.
    pub(in crate::report) fn round(values: impl Iterator<Item = f64>) -> Option<Self> {
        let ends = |(low, high): (f64, f64), x: f64| (low.min(x), high.max(x));
        let finite = values.filter(|x| x.is_finite());
        let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), ends);
        if low > high {
            return None;
        }
        // Values that are all the same still have a scale around them.
        let half = if high - low > 1e-6 { (high - low) * ROOM } else { 0.5 };
        let (low, high) = (low - half, high + half);
        let power = ((high - low) / MOST_TICKS).log10().floor();
        let powers = (0..4).map(|p| 10_f64.powf(power + f64::from(p)));
        let mut steps = powers.flat_map(|power| ROUND.map(|round| round * power));
        let step = steps.find(|step| (high / step).floor() - (low / step).ceil() < MOST_TICKS)?;
        Some(Self { low, high, step })
    }

    /// The place of a value as a share of the scale, 0 at its low end; values beyond lie at the edge.
    pub(in crate::report) fn share(&self, x: f64) -> f64 {
        ((x - self.low) / (self.high - self.low)).clamp(0.0, 1.0)
    }

    /// The place of a value in pixels from the top of a plot of that height.
    pub(in crate::report) fn down(&self, x: f64, height: f64) -> f64 {
        height * (1.0 - self.share(x))
    }

    /// Its round numbers.
    fn numbers(&self) -> impl Iterator<Item = f64> + use<> {
        let Self { low, high, step } = *self;
        let (first, last) = ((low / step).ceil() as i64, (high / step).floor() as i64);
        (first..=last).map(move |i| i as f64 * step)
    }

    /// Ticks of an axis that goes up a plot of that height; the highest has the unit.
    pub(in crate::report) fn up(&self, height: f64, unit: &str) -> Vec<Tick> {
        let last = self.numbers().count().saturating_sub(1);
        let tick = |(i, x): (usize, f64)| {
            let words = if i == last { format!("{} {unit}", self.words(x)) } else { self.words(x) };
            Tick { at: self.down(x, height), words, rank: Rank::First }
        };
        self.numbers().enumerate().map(tick).collect()
    }

    /// Ticks of an axis that goes across; the last has the unit.
    pub(in crate::report) fn across(&self, unit: &str) -> Vec<Tick> {
        let last = self.numbers().count().saturating_sub(1);
        let tick = |(i, x): (usize, f64)| {
            let words = if i == last { format!("{} {unit}", self.words(x)) } else { self.words(x) };
            // So few fit on a narrow page too.
            let rank = if last < FEW || (last - i).is_multiple_of(2) { Rank::First } else { Rank::Second };
            Tick { at: self.share(x), words, rank }
        };
        self.numbers().enumerate().map(tick).collect()
    }

    fn words(&self, x: f64) -> String {
        let text = number(x, 4);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    }
}

/// A number with a true minus sign, and none before nothing.
pub(in crate::report) fn number(x: f64, decimals: usize) -> String {
    let text = format!("{x:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_scale_has_three_to_six_round_ticks_and_holds_its_values() {
        for i in 0..400_i32 {
            let low = f64::from(i % 37) * 1.7 - 30.0;
            let high = low + 0.07 * f64::from(i + 1).powf(1.4);
            let scale = Scale::round([low, high].into_iter()).unwrap();
            let count = scale.numbers().count();
            assert!((3..=6).contains(&count), "{low} to {high}: {count} ticks");
            assert!(scale.low <= low && high <= scale.high);
        }
        assert_eq!(Scale::round(std::iter::empty()), None);
        assert_eq!(Scale::round(std::iter::once(f64::NAN)), None);
    }

    #[test]
    fn one_value_has_a_scale_around_it() {
        let scale = Scale::round([20.0, 20.0].into_iter()).unwrap();
        assert!(scale.low < 20.0 && scale.high > 20.0);
    }

    #[test]
    fn ticks_of_60_to_80_are_the_tens_and_fives() {
        let scale = Scale::round([59.8, 80.3].into_iter()).unwrap();
        let words: Vec<String> = scale.up(100.0, "°F").into_iter().map(|t| t.words).collect();
        assert_eq!(words, ["60", "65", "70", "75", "80 °F"]);
        assert!((scale.down(scale.high, 100.0), scale.down(scale.low, 100.0)) == (0.0, 100.0));
    }

    #[test]
    fn minus_is_a_minus_and_nothing_has_none() {
        assert_eq!([number(-1.25, 1), number(-0.04, 1), number(3.0, 0)], ["−1.2", "0.0", "3"]);
    }
}
