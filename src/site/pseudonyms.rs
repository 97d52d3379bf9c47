//! Keyed names in the place of those of homes, rooms, loggers and files.

use std::collections::BTreeMap;
use std::fmt;

use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;

use super::name::Name;
use super::sharing::{plain_path, shared_files};
use super::{Facts, Home, Purpose, Site};
use crate::unpack::file_and_part;

/// Fewest bytes of a key.
pub const LEAST_KEY: usize = 16;

/// Gives every name the same pseudonym whenever it is asked, and nobody without the key can tell which.
#[derive(Clone)]
pub struct Pseudonyms {
    mac: Hmac<Sha256>,
}

impl fmt::Debug for Pseudonyms {
    /// Without the key.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Pseudonyms")
    }
}

/// Two names that one key gives the same pseudonym, which is told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clash(pub String);

/// What a name is of, and how many digits tell it from others of its kind.
struct Kind {
    word: &'static str,
    digits: usize,
}

const SITE: Kind = Kind { word: "site", digits: 8 };
const PERIOD: Kind = Kind { word: "period", digits: 8 };
const HOME: Kind = Kind { word: "home", digits: 8 };
const FLOOR: Kind = Kind { word: "floor", digits: 8 };
const LINE: Kind = Kind { word: "line", digits: 8 };
/// Told from the rooms of its home only.
const ROOM: Kind = Kind { word: "room", digits: 6 };
const LOGGER: Kind = Kind { word: "logger", digits: 10 };
const FILE: Kind = Kind { word: "file", digits: 10 };
/// Told from the parts of its file only.
const PART: Kind = Kind { word: "part", digits: 6 };

impl Pseudonyms {
    /// Pseudonyms under a key: the bytes of a key file, of which line ends at its end do not count; `None` where it has fewer
    /// than [`LEAST_KEY`].
    pub fn new(key: &[u8]) -> Option<Self> {
        let end = key.iter().rposition(|b| !matches!(b, b'\n' | b'\r')).map_or(0, |last| last + 1);
        let mac = Hmac::new_from_slice(&key[..end]).ok().filter(|_| end >= LEAST_KEY)?;
        Some(Self { mac })
    }

    /// HMAC-SHA256 of some texts, each behind its length, in hexadecimal digits.
    fn digest(&self, texts: &[&str]) -> String {
        let mut mac = self.mac.clone();
        for text in texts {
            mac.update(&(text.len() as u64).to_le_bytes());
            mac.update(text.as_bytes());
        }
        mac.finalize().into_bytes().iter().map(|b| format!("{b:02x}")).collect()
    }

    fn named(&self, kind: &Kind, within: &str, name: &str) -> String {
        format!("{}-{}", kind.word, &self.digest(&[kind.word, within, name])[..kind.digits])
    }

    /// The pseudonym of a home.
    pub fn home(&self, name: &str) -> String {
        self.named(&HOME, "", name)
    }

    /// The pseudonym of a file, and of its part where one is named.
    pub fn file(&self, name: &str) -> String {
        let plain = plain_path(name);
        let (file, part) = file_and_part(&plain);
        let part = part.map_or(String::new(), |part| format!("#{}", self.named(&PART, file, part)));
        self.named(&FILE, "", file) + &part
    }

    /// A fingerprint that is worth nothing without the key, in place of one by which a file that somebody has could be known again.
    pub fn fingerprint(&self, sha256: &str) -> String {
        self.digest(&["fingerprint", sha256])
    }

    /// The pseudonym of a room: the word of its use says what it is, unless the room's own name would stand in that word.
    fn room(&self, home: &str, name: &str, purpose: Purpose) -> String {
        let (word, own) = (purpose.word(), name.to_lowercase());
        let gives_away = own != word && word.contains(own.as_str());
        let digits = &self.digest(&[ROOM.word, home, name])[..ROOM.digits];
        match purpose {
            Purpose::Other => format!("{}-{digits}", ROOM.word),
            _ if gives_away => format!("{}-{digits}", ROOM.word),
            _ => format!("{word}-{digits}"),
        }
    }

    /// The site under pseudonyms: what it names, and the order of its homes, say nothing any more.
    ///
    /// # Errors
    /// [`Clash`] where two names would become one.
    pub fn site(&self, site: &Site) -> Result<Site, Clash> {
        let mut site = Facts::clone(site);
        let mut taken = Taken::default();
        site.name = self.named(&SITE, "", &site.name);
        let decides = site.acceptance.period.take();
        for period in &mut site.periods {
            let own = std::mem::take(&mut period.name);
            period.name = taken.by(self.named(&PERIOD, "", &own), &own)?;
            if decides.as_ref() == Some(&own) {
                site.acceptance.period = Some(period.name.clone());
            }
        }
        if let Some(outdoor) = &mut site.outdoor {
            self.tell_file(&mut outdoor.source.file, &mut taken)?;
        }
        for home in &mut site.homes {
            self.tell_home(home, &mut taken)?;
        }
        site.homes.sort_by(|a, b| a.name.cmp(&b.name));
        site.shared_files = shared_files(&site.homes);
        site.stated.iter_mut().for_each(|stated| stated.written.clear());
        site.pseudonymised = true;
        Ok(Site::new(site))
    }

    fn tell_home(&self, home: &mut Home, taken: &mut Taken) -> Result<(), Clash> {
        let own = std::mem::take(&mut home.name);
        home.name = taken.by(self.home(&own), &own)?;
        for (kind, word) in [(FLOOR, &mut home.floor), (LINE, &mut home.line)] {
            if let Some(word) = word {
                *word = taken.by(self.named(&kind, "", word), word)?;
            }
        }
        let mut of_home = Taken::default();
        for room in &mut home.rooms {
            room.name = of_home.by(self.room(&own, &room.name, room.purpose), &room.name)?;
            for placement in &mut room.placements {
                let logger = placement.logger.own().to_owned();
                placement.logger.told_as(taken.by(self.named(&LOGGER, "", &logger), &logger)?);
                for source in &mut placement.sources {
                    self.tell_file(&mut source.file, taken)?;
                }
            }
        }
        Ok(())
    }

    fn tell_file(&self, file: &mut Name, taken: &mut Taken) -> Result<(), Clash> {
        let told = taken.by(self.file(file.own()), &plain_path(file.own()))?;
        file.told_as(told);
        Ok(())
    }
}

/// Pseudonyms that are given, each with its name.
#[derive(Default)]
struct Taken(BTreeMap<String, String>);

impl Taken {
    fn by(&mut self, pseudonym: String, name: &str) -> Result<String, Clash> {
        match self.0.get(&pseudonym) {
            Some(known) if known != name => return Err(Clash(pseudonym)),
            Some(_) => {}
            None => {
                self.0.insert(pseudonym.clone(), name.to_owned());
            }
        }
        Ok(pseudonym)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn under(key: &[u8]) -> Pseudonyms {
        Pseudonyms::new(key).unwrap()
    }

    #[test]
    fn a_name_has_one_pseudonym_under_a_key_and_another_under_another() {
        let (a, b) = (under(b"0123456789abcdef"), under(b"0123456789abcdeg"));
        assert_eq!(a.file("1A/living.csv"), under(b"0123456789abcdef\r\n").file("./1A/./living.csv"));
        assert_ne!(a.file("1A/living.csv"), b.file("1A/living.csv"));
        assert_ne!(a.fingerprint("ab"), b.fingerprint("ab"));
        assert!(Pseudonyms::new(b"0123456789abcde\n\n").is_none(), "15 bytes and line ends");
        assert_eq!(format!("{a:?}"), "Pseudonyms");
    }

    #[test]
    fn a_pseudonym_is_short_and_says_what_it_is_of() {
        let a = under(&[7; 32]);
        let hex = |text: &str, word: &str, digits: usize| {
            let rest = text.strip_prefix(word).and_then(|rest| rest.strip_prefix('-')).unwrap();
            assert!(rest.len() == digits && rest.bytes().all(|b| b.is_ascii_hexdigit()), "{text}");
        };
        hex(&a.home("1A"), "home", 8);
        hex(&a.room("1A", "Ada's study", Purpose::Bedroom), "bedroom", 6);
        hex(&a.room("1A", "kitchen", Purpose::Kitchen), "kitchen", 6);
        hex(&a.room("1A", "Bath", Purpose::Bathroom), "room", 6);
        assert_ne!(a.room("1A", "x", Purpose::Hall), a.room("1B", "x", Purpose::Hall));
        let book = a.file("book.xlsx#Ada");
        assert_eq!(book.split('#').next(), Some(a.file("book.xlsx").as_str()));
    }

    /// Source: RFC 4231, test case 2: the digest under a key that is shorter than ours must be.
    #[test]
    fn the_digest_is_hmac_sha256() {
        let mut mac: Hmac<Sha256> = Hmac::new_from_slice(b"Jefe").unwrap();
        mac.update(b"what do ya want for nothing?");
        let digest: String = mac.finalize().into_bytes().iter().map(|b| format!("{b:02x}")).collect();
        assert_eq!(digest, "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
    }

    #[test]
    fn two_names_under_one_pseudonym_are_refused() {
        let mut taken = Taken::default();
        assert_eq!(taken.by("home-1".to_owned(), "1A"), Ok("home-1".to_owned()));
        assert_eq!(taken.by("home-1".to_owned(), "1A"), Ok("home-1".to_owned()));
        assert_eq!(taken.by("home-1".to_owned(), "1B"), Err(Clash("home-1".to_owned())));
    }
}
