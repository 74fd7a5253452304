//! What the person at the gate sees: the word, what to do, and how old the knowledge is. Never a reason.

use chrono::{DateTime, Utc};
use sellion_rules::gate::Answer;
use serde_json::{Value, json};

use crate::gate::Shown;
use crate::words::span;

/// What every screen of a gate says.
pub const CAUTION: &str = "\"Not cleared\" and \"cannot confirm\" say nothing about a person's health or conduct. In an \
                           emergency follow the emergency procedure: this program informs, and the person in charge decides.";

/// The exit status that stands for an answer.
pub const fn exit_status(answer: Answer) -> u8 {
    match answer {
        Answer::Enter => 0,
        Answer::NotCleared => 10,
        Answer::CannotConfirm => 11,
        Answer::NotValid => 12,
    }
}

/// The word, for reading at arm's length.
pub const fn word(answer: Answer) -> &'static str {
    match answer {
        Answer::Enter => "ENTER",
        Answer::NotCleared => "NOT CLEARED",
        Answer::CannotConfirm => "CANNOT CONFIRM",
        Answer::NotValid => "NOT VALID",
    }
}

/// An answer in lines of text.
pub fn text(shown: &Shown) -> String {
    let mut lines = vec![word(shown.answer).to_owned(), shown.instruction.clone()];
    if let Some(respirator) = &shown.respirator {
        lines.push(format!("Respirator: {respirator}"));
    }
    if let Some(serial) = &shown.serial {
        lines.push(format!("Badge: {serial}"));
    }
    if shown.typed && shown.answer == Answer::Enter {
        lines.push(
            "The serial was typed: check that name and face on the badge are this person's.".to_owned(),
        );
    }
    if let Some(doubt) = shown.doubt {
        lines.push(format!("Clock: {doubt}. If it is right, run \"sellion-gate confirm-clock\"."));
    }
    lines.push(age(shown.known_at, shown.at));
    if let Some(why) = &shown.not_kept {
        lines.push(format!("This scan could not be kept ({why}): write it down, and make room on the disk."));
    }
    lines.join("\n")
}

/// How old the knowledge is, in words.
pub fn age(known_at: Option<DateTime<Utc>>, at: DateTime<Utc>) -> String {
    match known_at {
        None => "Nothing is known here yet.".to_owned(),
        Some(known_at) if known_at > at => format!("Known as of {}.", known_at.format("%F %T UTC")),
        Some(known_at) => {
            let old = span((at - known_at).num_seconds());
            format!("Known as of {}, {old} ago.", known_at.format("%F %T UTC"))
        }
    }
}

/// An answer as one line of JSON.
pub fn json(shown: &Shown) -> Value {
    let age = shown.known_at.map(|known_at| (shown.at - known_at).num_seconds().max(0));
    json!({
        "id": shown.id,
        "answer": shown.answer,
        "instruction": shown.instruction,
        "respirator": shown.respirator,
        "serial": shown.serial,
        "typed": shown.typed,
        "at": shown.at,
        "known_at": shown.known_at,
        "knowledge_age_seconds": age,
        "clock_doubt": shown.doubt.map(|doubt| doubt.to_string()),
        "kept": shown.not_kept.is_none(),
    })
}
