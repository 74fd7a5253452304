//! A site's own rule set: some values upon one or several sets. Stricter ones may be written as they are; looser ones,
//! and those of which no base says anything that counts, need a person who answers for them by name and date.

use std::collections::{BTreeMap, BTreeSet};

use super::complete::{check_measurements, check_unused, list_of, said_list};
use super::document::{Document, Grant, Sayings, when_silent};
use super::exercises::{SaidList, is_at_least_as_strict};
use super::keys::Slot;
use super::mistake::Mistake;
use super::recipe::Recipe;
use super::tree::Reader;
use super::values::{NotAccepted, RuleScalar, RuleSetVersion};
use super::written::{Written, WrittenValue};
use crate::method::Method;

const CONFIRM: &str = "write confirmed_by and confirmed_on beside it";

/// Where a site's own set finds the sets it stands on.
pub type FindBase<'a> = &'a dyn Fn(&RuleSetVersion) -> Option<Document>;

impl Document {
    /// Reads a rule set that stands on its own or upon others, or names every mistake in its text.
    pub fn read(text: &str, find: FindBase<'_>) -> Result<Self, Vec<Mistake>> {
        let (mut reader, members) = Reader::open(text);
        let written = Written::read(&mut reader, members);
        let document = if written.based_on.is_empty() {
            Self::complete(&mut reader, &written)
        } else {
            Self::upon(&mut reader, &written, find)
        };
        if reader.has_none() { Ok(document) } else { Err(reader.mistakes()) }
    }

    /// Reads a site's own rule set, which has to stand upon others: a set that stands on its own would be a way around
    /// the confirmations.
    pub fn read_own(text: &str, find: FindBase<'_>) -> Result<Self, Vec<Mistake>> {
        let (mut reader, members) = Reader::open(text);
        let written = Written::read(&mut reader, members);
        if written.based_on.is_empty() {
            reader.wrong(
                written.name_at,
                "based_on",
                "a site's own rule set stands upon others: name them here",
            );
        }
        let document = Self::upon(&mut reader, &written, find);
        if reader.has_none() { Ok(document) } else { Err(reader.mistakes()) }
    }

    fn upon(reader: &mut Reader<'_>, written: &Written, find: FindBase<'_>) -> Self {
        let (mut sayings, mut all_found) = (Sayings::default(), !written.based_on.is_empty());
        let based_on: Vec<_> = written.based_on.iter().map(|(_, id)| id.clone()).collect();
        for (at, id) in &written.based_on {
            if id.name == written.id.name {
                reader.wrong(*at, "based_on", "a rule set does not stand upon one of its own name");
                all_found = false;
                continue;
            }
            match find(id) {
                Some(base) => sayings.unite(&base.sayings),
                None => {
                    reader.wrong(*at, "based_on", format!("there is no rule set {id}"));
                    all_found = false;
                }
            }
        }
        // With a base missing nothing could be compared, and every value would look like a new one.
        if all_found {
            let mut upon = Upon { bases: &sayings, result: sayings.clone(), written, reader };
            upon.values();
            upon.recipes();
            upon.methods();
            sayings = upon.result;
        }
        Self { id: written.id.clone(), title: written.title.clone(), based_on, sayings }
    }
}

struct Upon<'a, 'r, 't> {
    bases: &'a Sayings,
    result: Sayings,
    written: &'a Written,
    reader: &'r mut Reader<'t>,
}

impl Upon<'_, '_, '_> {
    fn values(&mut self) {
        let mut used = BTreeSet::new();
        for value in &self.written.values {
            let (flat, said) = (value.slot.flat(), value.said.clone());
            self.compare(value);
            let all = self.result.values.entry(flat).or_default();
            if said.confirmation.is_some() {
                all.clear();
            }
            all.insert(said);
            if let (Some(method), Some((name, list))) =
                (value.slot.method, list_of(self.reader, self.written, value))
            {
                used.insert(name.clone());
                check_measurements(self.reader, (method, &name), list);
                let list = said_list(self.written, name, list, &value.said);
                self.list(method, value, list);
            }
        }
        check_unused(self.reader, self.written, &used);
        self.result.notes.extend(self.written.notes.iter().cloned());
    }

    /// Says so where a value is looser than what the bases say, and nobody answers for it.
    fn compare(&mut self, value: &WrittenValue) {
        let slot = value.slot;
        let alone = value.said.confirmation.is_some() || !value.said.counts(slot);
        if alone || value.said.names_a_list(slot).is_some() {
            return;
        }
        let flat = slot.flat();
        if slot.key.name == "accepted" {
            self.compare_accepted(value, &flat);
            return;
        }
        let decided = self.bases.decide(slot);
        let by =
            decided.as_ref().and_then(|decision| decision.deciders.first().map(|said| said.by.to_string()));
        let reason = match decided.map(|decision| decision.value).or_else(|| when_silent(slot)) {
            Some(base) if slot.key.kind.is_at_least_as_strict(&value.said.value, &base) => return,
            Some(base) => {
                let of = by.map(|by| format!(" of {by}")).unwrap_or_default();
                format!("{} is looser than {base}{of}; {CONFIRM}", value.said.value)
            }
            None => format!("no rule set it is based on has a value that counts; {CONFIRM}"),
        };
        self.reader.looser(value.at, &flat, reason);
    }

    /// Switching a method on that a base has off, or of which it says nothing that counts, is looser.
    fn compare_accepted(&mut self, value: &WrittenValue, flat: &str) {
        let Some(method) = value.slot.method else { return };
        let grants = self.bases.grants.get(&method).into_iter().flatten();
        let refused = grants.filter_map(|grant| grant.refused.as_ref()).next();
        if let Some(NotAccepted { sentence, source }) = refused
            && value.said.value == RuleScalar::Flag(true)
        {
            self.reader.looser(value.at, flat, format!("{sentence} ({source}) To accept it {CONFIRM}"));
        }
    }

    fn list(&mut self, method: Method, value: &WrittenValue, list: SaidList) {
        let all = self.result.lists.entry(method).or_default();
        if value.said.confirmation.is_some() {
            all.clear();
        } else if list.counts {
            let mut counting = all.iter().filter(|base| base.counts).peekable();
            let new = counting.peek().is_none();
            let looser = counting.find(|base| !is_at_least_as_strict(&list.rows, base));
            let reason = match looser {
                Some(base) => {
                    Some(format!("these exercises are looser than those of {}; {CONFIRM}", base.by))
                }
                None => {
                    new.then(|| format!("no rule set it is based on has exercises that count; {CONFIRM}"))
                }
            };
            if let Some(reason) = reason {
                self.reader.looser(value.at, &value.slot.flat(), reason);
            }
        }
        all.insert(list);
    }

    fn recipes(&mut self) {
        for (at, recipe) in &self.written.recipes {
            let same = |base: &&Recipe| base.is_same_as(recipe) && base.status.counts();
            let mut bases = self.bases.recipes.iter().filter(same).peekable();
            if recipe.confirmation.is_some() {
                self.result.recipes.retain(|base| !base.is_same_as(recipe));
            } else if recipe.status.counts() {
                let new = bases.peek().is_none();
                let looser = bases.find(|base| !recipe.is_at_least_as_strict(base));
                let reason = match looser {
                    Some(base) => {
                        Some(format!("it may be used for longer than that of {}; {CONFIRM}", base.by))
                    }
                    None => new.then(|| format!("no rule set it is based on has this recipe; {CONFIRM}")),
                };
                if let Some(reason) = reason {
                    let key = format!("recipes.{}.{}", recipe.agent, recipe.solution);
                    self.reader.looser(*at, &key, reason);
                }
            }
            self.result.recipes.insert(recipe.clone());
        }
    }

    /// What the site says of a method decides where it was confirmed; else every base has to accept it, and what one of
    /// them leaves open has to be given here.
    fn methods(&mut self) {
        let mut grants = BTreeMap::new();
        for method in Method::ALL {
            let here = |name: &str| {
                let slot = Slot::find(Some(*method), name)?;
                let value = self.written.values.iter().find(|value| value.slot.flat() == slot.flat())?;
                value.said.counts(slot).then_some(value)
            };
            let of_site = match here("accepted") {
                Some(word) => word.said.confirmation.is_some() || word.said.value == RuleScalar::Flag(false),
                None => false,
            };
            let of_method = if of_site {
                BTreeSet::from([self.result.grant(&self.written.id, *method)])
            } else {
                let bases = self.bases.grants.get(method).into_iter().flatten();
                bases.map(|grant| self.cured(grant)).collect()
            };
            grants.insert(*method, of_method);
        }
        self.result.grants = grants;
    }

    /// What a base leaves open, less what is given here.
    fn cured(&self, grant: &Grant) -> Grant {
        let given = |key: &String| {
            let mut values = self.written.values.iter().filter(|value| value.slot.flat() == *key);
            values.any(|value| match (value.said.names_a_list(value.slot), value.slot.method) {
                (Some(_), Some(method)) => {
                    let mut lists = self.result.lists.get(&method).into_iter().flatten();
                    lists.any(|list| list.by == self.written.id && list.counts)
                }
                _ => value.said.counts(value.slot),
            })
        };
        Grant { missing: grant.missing.iter().filter(|key| !given(key)).cloned().collect(), ..grant.clone() }
    }
}
