//! Questions put to a person on the terminal, one at a time.

use std::borrow::Cow;
use std::io::IsTerminal;

use dialoguer::{Input, Select};

use crate::draft::Question;
use crate::texts::shown;

/// What leaves a question open: an empty answer takes what is proposed.
pub const LATER: &str = "later";
/// What ends the questions; what was answered is kept.
pub const STOP: &str = "stop";

/// What a person said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Said {
    /// An answer.
    Answer(String),
    /// The question stays open.
    Later,
    /// No more questions.
    Stop,
}

/// Whether there is somebody to ask.
pub fn can_ask() -> bool {
    std::io::stdin().is_terminal() && std::io::stderr().is_terminal()
}

/// Puts one question; "later" leaves it open, and so does an empty answer where nothing is proposed.
pub fn ask(question: &Question, (number, of): (usize, usize)) -> Said {
    let heading = format!("\n{number} of {of}");
    let speaks: String = question.speaks.iter().map(|s| format!("\n    {}", shown(s))).collect();
    let term = dialoguer::console::Term::stderr();
    if term.write_line(&format!("{heading}{speaks}")).is_err() {
        return Said::Stop;
    }
    if question.choices.is_empty() { ask_text(question) } else { ask_choice(question) }
}

fn ask_text(question: &Question) -> Said {
    let mut input = Input::<String>::new().with_prompt(shown(&question.asks)).allow_empty(true);
    if let Some(proposed) = &question.proposed {
        input = input.default(proposed.clone());
    }
    match input.interact_text() {
        Ok(text) if text.trim().is_empty() || text.trim() == LATER => Said::Later,
        Ok(text) if text.trim() == STOP => Said::Stop,
        Ok(text) => Said::Answer(text),
        Err(_) => Said::Stop,
    }
}

fn ask_choice(question: &Question) -> Said {
    let choices = question.choices.iter().map(|choice| shown(choice));
    let items: Vec<Cow<'_, str>> = choices.chain([Cow::Borrowed(LATER)]).collect();
    // What nobody chose stays open.
    let proposed = question.proposed.as_ref().and_then(|p| question.choices.iter().position(|c| c == p));
    let start = proposed.unwrap_or(items.len() - 1);
    match Select::new().with_prompt(shown(&question.asks)).items(&items).default(start).interact_opt() {
        Ok(Some(at)) => question.choices.get(at).map_or(Said::Later, |c| Said::Answer(c.clone())),
        Ok(None) | Err(_) => Said::Stop,
    }
}
