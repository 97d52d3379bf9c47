//! Which home each logger belongs to, where names alone do not say.
//!
//! Settled here, and why:
//! - **Homes in a draft**: a name that says it, or a folder that is not named after a date, a download or a room. Numbers
//!   that come once each, and folders of one logger each whose files say nothing, count loggers; then the home is left to
//!   decide.

use std::collections::BTreeMap;

use super::Candidate;
use super::guess::{Read, home_in, use_of};
use super::words::is_of_fetching;

/// Takes back homes that are rather the numbers or names of loggers, and leaves them to a person.
///
/// `whole` stands for the folder that was looked through.
pub(super) fn settle(candidates: &mut [Candidate<'_>], whole: &str) {
    take_back_rooms_of_homes(candidates);
    take_back_numbers(candidates);
    take_back_folders_of_one(candidates);
    for candidate in candidates.iter_mut().filter(|c| c.home.is_none()) {
        let folder = folder_of(&candidate.file).filter(|_| candidate.home_read != Some(Read::Folder));
        candidate.home_proposed = Some(folder.unwrap_or(whole).to_owned());
    }
}

/// `hall b/unknown.csv` beside `hall b/balcony.csv`: a folder that is the home of others is no room of its own, whatever its
/// name speaks of. In a folder that is a room, nobody asks which.
fn take_back_rooms_of_homes(candidates: &mut [Candidate<'_>]) {
    let homes: Vec<String> = candidates
        .iter()
        .filter(|c| c.home_read == Some(Read::Folder))
        .filter_map(|c| c.home.clone())
        .collect();
    for candidate in candidates.iter_mut() {
        match candidate.room_folder.take() {
            Some(folder) if homes.contains(&folder.name) => {
                candidate.home = Some(folder.name);
                candidate.nowhere = folder.nowhere;
                candidate.home_read = Some(Read::Folder);
                (candidate.room, candidate.guess, candidate.said) = (None, None, None);
                if candidate.nowhere.is_none() {
                    candidate.notes.push("check: room (named after the logger)".to_owned());
                }
            }
            _ => {}
        }
    }
}

/// The folder in which a file lies, if its name may be that of a home.
fn folder_of(file: &str) -> Option<&str> {
    let (folder, _) = file.rsplit_once('/')?;
    let innermost = folder.rsplit('/').next()?;
    (!is_of_fetching(innermost) && use_of(innermost).is_none()).then_some(innermost)
}

/// `1_living`, `2_bath`, `3_bedroom`: numbers that come once each count loggers.
fn take_back_numbers(candidates: &mut [Candidate<'_>]) {
    let number = |c: &Candidate<'_>| {
        let name = c.file.rsplit('/').next().unwrap_or(&c.file);
        let of_name = home_in(name.split('.').next().unwrap_or(name)).filter(|(_, number)| *number)?;
        (c.home.as_deref() == Some(&of_name.0)).then_some(of_name.0)
    };
    let mut files: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for candidate in candidates.iter() {
        if let Some(home) = number(candidate) {
            let of_home = files.entry(home).or_default();
            if !of_home.contains(&candidate.file.as_str()) {
                of_home.push(&candidate.file);
            }
        }
    }
    if files.len() < 2 || files.values().any(|f| f.len() > 1) {
        return;
    }
    for candidate in candidates.iter_mut() {
        if number(candidate).is_some() {
            candidate.home = None;
        }
    }
}

/// Folders with one logger each, whose files say nothing of a room, are named after rooms or loggers.
fn take_back_folders_of_one(candidates: &mut [Candidate<'_>]) {
    let mut loggers: BTreeMap<&str, usize> = BTreeMap::new();
    for candidate in candidates.iter() {
        if let Some((home, Read::Folder)) = candidate.home.as_deref().zip(candidate.home_read) {
            *loggers.entry(home).or_default() += 1;
        }
    }
    let says_a_room = |c: &Candidate<'_>| c.guess.is_some() || c.room.is_some();
    let named = candidates.iter().any(|c| c.home_read == Some(Read::Folder) && says_a_room(c));
    if loggers.len() < 2 || named || loggers.values().any(|n| *n > 1) {
        return;
    }
    for candidate in candidates.iter_mut().filter(|c| c.home_read == Some(Read::Folder)) {
        candidate.room = candidate.home.take();
        let guess = candidate.room.as_deref().and_then(use_of);
        candidate.said = guess.as_ref().map(|(_, word)| word.clone());
        candidate.guess = guess.map(|(guess, _)| guess);
    }
}
