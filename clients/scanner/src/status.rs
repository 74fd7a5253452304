//! What a gate holds and knows, for whoever looks after it.

use serde_json::{Value, json};

use crate::gate::Gate;
use crate::queue::Contents;
use crate::show::{CAUTION, age};

/// The state of a gate, in sentences.
#[derive(Debug)]
pub struct Status {
    /// What is held, and how old it is.
    pub known: String,
    policy: String,
    clock: String,
    contents: Contents,
    counts: Value,
}

/// The state of a gate now.
///
/// # Errors
/// The file of scans cannot be read.
pub fn of(gate: &Gate) -> anyhow::Result<Status> {
    let held = gate.held();
    let known_at = held.as_ref().map(|held| held.known_at);
    let mark = gate.look_at_clock();
    let (at, doubt) = (mark.reading().wall, mark.doubt(known_at));
    let contents = gate.queue.contents()?;
    let known = match &held {
        None => age(None, at),
        Some(held) => format!(
            "Gate \"{}\": {} badges, {} respirators. {}",
            held.pack.gate_name(),
            held.pack.badges(),
            held.pack.respirators().len(),
            age(known_at, at)
        ),
    };
    let clock = match doubt {
        None => format!("Clock: {}.", at.format("%F %T UTC")),
        Some(doubt) => format!(
            "Clock: {}, IN DOUBT: {doubt}. Set it, or look at another clock and run \"sellion-gate confirm-clock\".",
            at.format("%F %T UTC")
        ),
    };
    let counts = json!({
        "gate_id": held.as_ref().map(|held| held.pack.gate()),
        "badges": held.as_ref().map(|held| held.pack.badges()),
        "known_at": known_at,
        "at": at,
        "clock_doubt": doubt.map(|doubt| doubt.to_string()),
        "waiting": contents.waiting.len(),
        "refused": contents.refused,
        "damaged": contents.damaged,
    });
    Ok(Status { policy: policy(gate), known, clock, contents, counts })
}

/// What is accepted now, and what comes.
fn policy(gate: &Gate) -> String {
    let Some(held) = gate.held() else { return "No policy is known.".to_owned() };
    let at = gate.clock.read().wall;
    let names = |policy: &sellion_rules::gate::GatePolicy| {
        let accepted = policy.accepted_respirators.iter();
        let words: Vec<_> =
            accepted.filter_map(|id| held.pack.respirator(*id)).map(|r| r.name.as_str()).collect();
        words.join("; ")
    };
    let now = match held.pack.policy(at) {
        None => "No policy is in force: every badge of ours gets \"cannot confirm\".".to_owned(),
        Some(policy) if policy.none_needed => "No respirator is needed here now.".to_owned(),
        Some(policy) => format!("Used here: {}.", names(&policy)),
    };
    match held.pack.coming(at) {
        None => now,
        Some(next) => {
            format!("{now} Another policy comes into force on {}.", next.effective_from.format("%F %T UTC"))
        }
    }
}

impl Status {
    /// For reading.
    pub fn text(&self) -> String {
        let Contents { waiting, refused, damaged } = &self.contents;
        let mut lines = vec![
            self.known.clone(),
            self.policy.clone(),
            self.clock.clone(),
            format!(
                "Scans that wait: {}. Refused by the server: {}. Damaged lines: {damaged}.",
                waiting.len(),
                refused.len()
            ),
        ];
        lines.extend(refused.iter().map(|(id, code)| format!("  refused: {id} ({code})")));
        lines.push(CAUTION.to_owned());
        lines.join("\n")
    }

    /// For programs.
    pub fn json(&self) -> Value {
        self.counts.clone()
    }
}
