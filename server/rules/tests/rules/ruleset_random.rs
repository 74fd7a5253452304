//! Random rule sets, written as text like any other.

use proptest::prelude::*;
use sellion_rules::method::Method;
use sellion_rules::ruleset::{Document, Kind, Slot};

/// The choices one random rule set is made by.
#[derive(Debug, Clone)]
pub(crate) struct Choices {
    seed: u64,
    listed: Vec<bool>,
    /// Of ten values, how many nobody has confirmed.
    unconfirmed: usize,
}

struct Picking {
    state: u64,
    unconfirmed: usize,
}

impl Picking {
    /// A number below `count`. One seed gives every choice of a set, so that a failure is told in one line.
    fn below(&mut self, count: usize) -> usize {
        self.state =
            self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let high = usize::try_from(self.state >> 40).expect("24 bits");
        high % count
    }

    fn status(&mut self) -> &'static str {
        match self.below(10) {
            pick if pick < self.unconfirmed => "unconfirmed",
            pick if pick % 2 == 0 => "verified",
            _ => "common_practice",
        }
    }
}

/// Choices for a rule set in which of ten values at most this many wait for somebody.
pub(crate) fn choices(unconfirmed: usize) -> impl Strategy<Value = Choices> {
    let listed = prop::collection::vec(prop::bool::weighted(0.8), Method::ALL.len());
    (any::<u64>(), listed, 0..=unconfirmed).prop_map(|(seed, listed, unconfirmed)| Choices {
        seed,
        listed,
        unconfirmed,
    })
}

/// The rule set of this name that the choices make.
pub(crate) fn document(name: &str, choices: &Choices) -> Document {
    let text = text(name, choices);
    Document::parse(&text).unwrap_or_else(|mistakes| panic!("{mistakes:#?}\n{text}"))
}

fn text(name: &str, choices: &Choices) -> String {
    let mut picking = Picking { state: choices.seed, unconfirmed: choices.unconfirmed };
    let mut text = format!("name = \"{name}\"\nversion = \"2027-01-01.1\"\ntitle = \"A set\"\n[values]\n");
    for slot in Slot::shared() {
        value(&mut text, slot, &mut picking);
    }
    let mut lists = String::from("[exercises]\n");
    for (method, _) in Method::ALL.iter().zip(&choices.listed).filter(|(_, listed)| **listed) {
        text.push_str(&format!("[values.{method}]\n"));
        for slot in Slot::of(*method) {
            // A list that no method names would be a mistake.
            if value(&mut text, slot, &mut picking).starts_with("\"of_") {
                list(&mut lists, *method, &mut picking);
            }
        }
    }
    let life = picking.below(9) + 1;
    let recipe = format!(
        "[[recipes]]\nagent = \"saccharin\"\nsolution = \"test\"\n\
         ingredients = [{{ amount = \"83\", unit = \"g\", of = \"saccharin\" }}]\nlife_days = {life}\n\
         source = \"{name}\"\nstatus = \"verified\"\n"
    );
    format!("{text}{lists}{recipe}")
}

/// Writes a value, and gives it back as written.
fn value(text: &mut String, slot: Slot, picking: &mut Picking) -> String {
    let status = picking.status();
    let value = match slot.key.kind {
        _ if status == "unconfirmed" && picking.below(2) == 0 => "\"not_set\"".to_owned(),
        // The tolerances of two doses must not overlap.
        Kind::Number { .. } if slot.key.name.starts_with("dose_") => picking.below(6).to_string(),
        Kind::Number { .. } if slot.key.name == "redose_interval_seconds" => {
            (11 + picking.below(20)).to_string()
        }
        Kind::Number { least, most, .. } => {
            (least + i64::try_from(picking.below(6)).expect("small")).min(most).to_string()
        }
        Kind::Flag { .. } if slot.key.name == "accepted" => (picking.below(5) > 0).to_string(),
        Kind::Flag { .. } => (picking.below(2) == 0).to_string(),
        Kind::Words(_) | Kind::Joined { .. } => {
            let words = slot.key.kind.words();
            format!("\"{}\"", words[picking.below(words.len())])
        }
        Kind::List => format!("\"of_{}\"", slot.method.expect("a method")),
    };
    let (name, unit) = (slot.key.name, slot.key.unit);
    text.push_str(&format!(
        "{name} = {{ value = {value}, unit = \"{unit}\", source = \"text\", status = \"{status}\" }}\n"
    ));
    value
}

fn list(lists: &mut String, method: Method, picking: &mut Picking) {
    let mut rows = vec!["normal_breathing", "bending_over"];
    if picking.below(6) == 0 {
        rows.push("talking");
    }
    if method.is_quantitative() && picking.below(2) == 0 {
        rows.insert(picking.below(3), "grimace");
    }
    lists.push_str(&format!("of_{method} = [\n"));
    for key in rows {
        let measured = u8::from(method.is_quantitative() && key != "grimace");
        let measuring = usize::from(measured) * picking.below(3);
        let seconds = 15 + picking.below(60);
        let jogging = if picking.below(2) == 0 { ", alternative = \"jogging_in_place\"" } else { "" };
        lists.push_str(&format!(
            "{{ key = \"{key}\", seconds = {seconds}, measurements = {measured}, measuring_seconds = {measuring}{jogging}, \
             source = \"text\", status = \"verified\" }},\n"
        ));
    }
    lists.push_str("]\n");
}
