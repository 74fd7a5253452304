//! A rule set that stands on its own: everything is there, and it goes together.

use std::collections::BTreeSet;

use super::document::{Document, Sayings};
use super::exercises::SaidList;
use super::keys::{Silent, Slot};
use super::mistake::Mistake;
use super::tree::Reader;
use super::values::RuleScalar;
use super::written::{Said, Written, WrittenList};
use crate::method::Method;

impl Document {
    /// Reads a rule set that stands on its own, or names every mistake in its text.
    pub fn parse(text: &str) -> Result<Self, Vec<Mistake>> {
        let (mut reader, members) = Reader::open(text);
        let written = Written::read(&mut reader, members);
        if let Some((at, _)) = written.based_on.first() {
            reader.wrong(*at, "based_on", "this rule set has to stand on its own");
        }
        let document = Self::complete(&mut reader, &written);
        if reader.has_none() { Ok(document) } else { Err(reader.mistakes()) }
    }

    /// What a text on its own says, with what is missing in it or does not go together noted in the reader.
    pub(super) fn complete(reader: &mut Reader<'_>, written: &Written) -> Self {
        let mut sayings = Sayings::default();
        let mut used = BTreeSet::new();
        for value in &written.values {
            let said = BTreeSet::from([value.said.clone()]);
            sayings.values.insert(value.slot.flat(), said);
            if let (Some(method), Some((name, list))) = (value.slot.method, list_of(reader, written, value)) {
                used.insert(name.clone());
                check_measurements(reader, (method, &name), list);
                let list = said_list(written, name, list, &value.said);
                sayings.lists.insert(method, BTreeSet::from([list]));
            }
        }
        sayings.recipes = written.recipes.iter().map(|(_, recipe)| recipe.clone()).collect();
        sayings.notes = written.notes.iter().cloned().collect();
        check_unused(reader, written, &used);
        check_missing(reader, written);
        check_doses(reader, written, &sayings);
        for method in Method::ALL {
            let grant = sayings.grant(&written.id, *method);
            sayings.grants.insert(*method, BTreeSet::from([grant]));
        }
        Self { id: written.id.clone(), title: written.title.clone(), based_on: Vec::new(), sayings }
    }
}

/// The list of exercises that a value names; a mistake where there is none of that name.
pub(super) fn list_of<'a>(
    reader: &mut Reader<'_>,
    written: &'a Written,
    value: &super::written::WrittenValue,
) -> Option<(String, &'a WrittenList)> {
    let name = value.said.names_a_list(value.slot)?;
    let list = written.lists.get(name);
    if list.is_none() && !reader.is_wrong_in(&format!("exercises.{name}")) {
        let reason = format!("there is no list [[exercises.{name}]] in this file");
        reader.wrong(value.at, &value.slot.flat(), reason);
    }
    list.map(|list| (name.to_owned(), list))
}

/// The list as the method's, which counts where its name does and every exercise does, or where it was confirmed.
pub(super) fn said_list(written: &Written, name: String, list: &WrittenList, named: &Said) -> SaidList {
    let rows_count = list.rows.iter().all(|row| row.status.counts());
    let counts = named.confirmation.is_some() || (named.status.counts() && rows_count);
    SaidList { name, rows: list.rows.clone(), by: written.id.clone(), counts }
}

/// A method that measures has something to measure; another one has not.
pub(super) fn check_measurements(
    reader: &mut Reader<'_>,
    (method, name): (Method, &str),
    list: &WrittenList,
) {
    let measured = list.rows.iter().any(|row| row.exercise.measurements > 0);
    if measured != method.is_quantitative() {
        let what = if measured { "has measurements, and" } else { "has no measurement, but" };
        let key = format!("exercises.{name}");
        let does = if measured { "measures nothing" } else { "measures" };
        reader.wrong(list.at, &key, format!("the list {what} {} {does}", method.name()));
    }
}

pub(super) fn check_unused(reader: &mut Reader<'_>, written: &Written, used: &BTreeSet<String>) {
    for (name, list) in written.lists.iter().filter(|(name, _)| !used.contains(*name)) {
        reader.wrong(list.at, &format!("exercises.{name}"), "no method names this list");
    }
}

/// Everything shared has to be there, and everything of a method of which anything is: open values are written out.
fn check_missing(reader: &mut Reader<'_>, written: &Written) {
    let has = |slot: &Slot| written.values.iter().any(|value| value.slot.flat() == slot.flat());
    let listed = |method: Method| written.values.iter().find(|value| value.slot.method == Some(method));
    let shared = Slot::shared().map(|slot| (written.values_at, slot));
    let of_methods = Method::ALL.iter().filter_map(|method| listed(*method).map(|value| (value.at, *method)));
    let of_methods = of_methods.flat_map(|(at, method)| Slot::of(method).map(move |slot| (at, slot)));
    let missing: Vec<_> = shared
        .chain(of_methods)
        .filter(|(_, slot)| slot.key.silent == Silent::Open && !has(slot))
        .map(|(at, slot)| (at, slot.flat()))
        .collect();
    // What is there and wrong is not missing too.
    for (at, key) in missing.into_iter().filter(|(_, key)| !reader.is_wrong(key)).collect::<Vec<_>>() {
        reader.wrong(at, &key, "the value is missing; write \"not_set\" where it is left open");
    }
}

fn check_doses(reader: &mut Reader<'_>, written: &Written, sayings: &Sayings) {
    let Some(reason) = doses_overlap(sayings) else { return };
    let late = written.values.iter().find(|value| value.slot.key.name == LATE);
    reader.wrong(late.map_or(written.values_at, |value| value.at), LATE, reason);
}

/// The key that is named where doses overlap.
pub(super) const LATE: &str = "dose_late_tolerance_seconds";

/// Why one squeeze could count for either of two doses, if it could.
pub(super) fn doses_overlap(sayings: &Sayings) -> Option<&'static str> {
    let seconds = |name: &str| match sayings.holds(Slot::find(None, name)?) {
        Some(RuleScalar::Number(seconds)) => Some(seconds),
        _ => None,
    };
    let window = seconds("dose_early_tolerance_seconds")?.saturating_add(seconds(LATE)?);
    (window >= seconds("redose_interval_seconds")?)
        .then_some("the tolerances of two doses overlap, so one squeeze could count for either")
}
