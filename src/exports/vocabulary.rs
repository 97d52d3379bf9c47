//! The words that headers use: what a column can hold, and what that is called in the languages of many loggers.
//!
//! Whoever asks what a column is asks here, so that one file is read alike under headers of any of these languages.
//!
//! Settled here, and why:
//! - **Words that headers use** stand in one table, by what a column can hold and by language. Stems of long words are
//!   looked for anywhere in a header; what could be a room's name (light, luz, bad), or is another word in English, only
//!   as a whole word.

mod table;

use table::VOCABULARY;

/// What a column can hold, or what its header speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Holds {
    /// When a row was recorded.
    Time,
    /// A count of time since some moment.
    Elapsed,
    /// A count of milliseconds.
    Milliseconds,
    /// A count of seconds.
    Seconds,
    /// A count of minutes.
    Minutes,
    /// A count of hours.
    Hours,
    /// A count of days.
    Days,
    /// Temperatures.
    Temperature,
    /// The relative humidity.
    Humidity,
    /// The same in words so short that they stand for others too.
    HumidityInShort,
    /// How humid the air is, in another measure.
    OtherHumidity,
    /// A temperature that is reckoned from others and from the humidity: the dew point.
    DewPoint,
    /// Another one that only a person could take for a room's: how warm it feels.
    Felt,
    /// What was asked for, and not measured.
    Setpoint,
    /// The same in words so short that they may stand for something else.
    Setting,
    /// What is only seen in tables of many rows: the lowest or highest of a time.
    Extreme,
    /// A limit, or whether it was crossed.
    Alarm,
    /// A surface, or what flows through a heating.
    OfHeating,
    /// What a measured value is called where nothing says what was measured.
    Value,
    /// The battery, and its voltage.
    Battery,
    /// The strength of a radio signal.
    Signal,
    /// How full something is.
    Level,
    /// Which logger a row is of.
    Logger,
    /// The number that its maker gave a logger.
    Serial,
    /// The number of a row.
    RowNumber,
    /// What a row measured.
    Quantity,
    /// In which unit.
    Unit,
    /// What happened.
    Event,
    /// Words that say how it was, and not whose a row is.
    Remark,
    /// Light, of lamps or of the sun.
    Light,
    /// The pressure of the air.
    Pressure,
    /// Gases, dust and noise.
    Air,
    /// What only the weather has.
    Weather,
    /// Where something is on the globe.
    Position,
    /// Power, flow, and who is there.
    Operation,
    /// How long a device has run.
    Runtime,
}

/// How a word is found in a header.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum As {
    /// Anywhere in it, in compounds too.
    Part,
    /// At its start.
    Start,
    /// As a word of its own.
    Word,
    /// As all of it.
    Whole,
}

/// A language of headers; [`Language::Any`]: signs, and what all of them write.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Language {
    Any,
    English,
    German,
    French,
    Italian,
    Spanish,
    Dutch,
    Polish,
    Portuguese,
    Swedish,
    /// Further languages, of which only a few words are known.
    Further,
}

/// Words of one kind.
struct Entry {
    holds: Holds,
    found: As,
    words: &'static [(Language, &'static str)],
}

/// Whether a header speaks of something, in any language.
pub(crate) fn speaks_of(header: &str, holds: Holds) -> bool {
    has_part(header, &[holds]) || has_word(header, &[holds])
}

/// Whether it does by what it begins with, or by a part of a word.
pub(crate) fn has_part(header: &str, holds: &[Holds]) -> bool {
    let header = header.to_lowercase();
    entries(holds).any(|(found, word)| match found {
        As::Part => header.contains(word),
        As::Start => header.starts_with(word),
        As::Word | As::Whole => false,
    })
}

/// Whether it does by a whole word, or as a whole.
pub(crate) fn has_word(header: &str, holds: &[Holds]) -> bool {
    let header = header.to_lowercase();
    let is_word = |word: &str| header.split(|c: char| !c.is_alphanumeric()).any(|own| own == word);
    entries(holds).any(|(found, word)| match found {
        As::Part | As::Start => false,
        As::Word => header == word || is_word(word),
        As::Whole => header.trim() == word,
    })
}

fn entries(of: &[Holds]) -> impl Iterator<Item = (As, &'static str)> {
    let entries = VOCABULARY.iter().filter(|entry| of.contains(&entry.holds));
    entries.flat_map(|entry| {
        entry.words.iter().flat_map(|(_, words)| words.split(", ")).map(|word| (entry.found, word))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    use Language::{Dutch, English, French, German, Italian, Polish, Portuguese, Spanish, Swedish};

    const LANGUAGES: [Language; 9] =
        [English, German, French, Italian, Spanish, Dutch, Polish, Portuguese, Swedish];

    #[test]
    fn each_language_has_words_for_what_a_logger_writes() {
        for language in LANGUAGES {
            for holds in [
                Holds::Temperature,
                Holds::Humidity,
                Holds::DewPoint,
                Holds::Value,
                Holds::Battery,
                Holds::Serial,
                Holds::Quantity,
                Holds::Unit,
                Holds::Light,
                Holds::Pressure,
                Holds::RowNumber,
            ] {
                let known = VOCABULARY.iter().filter(|entry| entry.holds == holds);
                let known = known.flat_map(|entry| entry.words).filter(|(l, _)| *l == language);
                assert!(known.count() > 0, "{language:?} {holds:?}");
            }
        }
    }

    #[test]
    fn words_are_written_as_they_are_looked_for() {
        for Entry { holds, found, words } in &table::VOCABULARY {
            for (language, word) in words.iter().flat_map(|(l, words)| words.split(", ").map(move |w| (l, w)))
            {
                assert!(!word.is_empty() && word.to_lowercase() == word, "{language:?} {holds:?} {word}");
                assert!(speaks_of(word, *holds), "{language:?} {holds:?} {word}");
                let letters = word.trim_start_matches(['°', '℃', '℉']).chars().all(char::is_alphanumeric);
                assert!(*found != As::Word || letters, "{language:?} {holds:?} {word} is no single word");
            }
        }
    }
}
