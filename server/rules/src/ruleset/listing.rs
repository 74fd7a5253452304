//! Every value of a rule set with its unit, source, status and whose it is, in a fixed order.

use std::collections::{BTreeMap, BTreeSet};

use super::document::{DecidedList, Document};
use super::keys::Slot;
use super::recipe::{Recipe, shorter};
use super::strictness::Kind;
use super::values::{RuleScalar, RuleSetVersion, RuleStatus, RuleValue};
use super::written::{Row, Said};
use crate::method::Method;

impl Document {
    /// Every value: shared ones, those of each method, exercises, recipes, notes. One of which nothing counts is listed
    /// as each set says it.
    pub fn values(&self) -> Vec<RuleValue> {
        let mut listed: Vec<_> = Slot::all().flat_map(|slot| self.value(slot)).collect();
        for (name, list) in self.shown_lists() {
            for (number, row) in (1_usize..).zip(&list.rows) {
                exercise(&format!("exercises.{name}.{number}"), row, &list.by, &mut listed);
            }
        }
        let mut numbers: BTreeMap<String, usize> = BTreeMap::new();
        for recipe in self.shown_recipes() {
            let of = format!("recipes.{}.{}", recipe.agent, recipe.solution);
            let number = numbers.entry(of.clone()).or_default();
            *number = number.saturating_add(1);
            listed_recipe(&format!("{of}.{number}"), &recipe, &mut listed);
        }
        let notes = self.sayings.notes.iter();
        listed.extend(notes.map(|note| row(&format!("notes.{}", note.name), &note.unit, &note.said)));
        listed
    }

    /// Values that a person still has to confirm, and those left open.
    pub fn unconfirmed(&self) -> Vec<RuleValue> {
        let open = |value: &RuleValue| value.status == RuleStatus::Unconfirmed;
        self.values().into_iter().filter(open).collect()
    }

    /// The recipes that may be used, each with the shortest life any of the sets gives it.
    pub fn recipes(&self) -> Vec<Recipe> {
        self.shown_recipes().into_iter().filter(|recipe| recipe.status.counts()).collect()
    }

    fn value(&self, slot: Slot) -> Vec<RuleValue> {
        let flat = slot.flat();
        let Some(decision) = self.sayings.decide(slot) else {
            let said = self.sayings.values.get(&flat).into_iter().flatten();
            return said.map(|said| row(&flat, slot.key.unit, said)).collect();
        };
        // Lists are compared exercise by exercise, so several names may hold together.
        let value = match (slot.key.kind, slot.method.and_then(|method| self.sayings.list(method).ok()?)) {
            (Kind::List, Some(list)) => RuleScalar::Text(list.name),
            _ => decision.value,
        };
        let first = decision.deciders.first();
        let sources: BTreeSet<_> = decision.deciders.iter().map(|said| said.source.as_str()).collect();
        let decided_by: BTreeSet<_> = decision.deciders.iter().map(|said| said.by.clone()).collect();
        let confirmation = first.and_then(|said| said.confirmation.clone());
        vec![RuleValue {
            key: flat,
            value,
            unit: slot.key.unit.to_owned(),
            source: sources.into_iter().collect::<Vec<_>>().join("; "),
            status: decision.deciders.iter().map(|said| said.status).min().unwrap_or(RuleStatus::Unconfirmed),
            decided_by: decided_by.into_iter().collect(),
            confirmed_on: confirmation.as_ref().map(|confirmation| confirmation.confirmed_on),
            confirmed_by: confirmation.map(|confirmation| confirmation.confirmed_by),
        }]
    }

    /// The lists by name, each once. Where the same name holds different lists, it is followed by the method.
    fn shown_lists(&self) -> Vec<(String, DecidedList)> {
        let mut shown: Vec<(String, DecidedList)> = Vec::new();
        for method in Method::ALL {
            let lists = match self.sayings.list(*method) {
                Ok(Some(list)) => vec![list],
                Ok(None) | Err(_) => {
                    let said = self.sayings.lists.get(method).into_iter().flatten();
                    let each = said.map(|list| DecidedList {
                        name: list.name.clone(),
                        rows: list.rows.clone(),
                        by: BTreeSet::from([list.by.clone()]),
                    });
                    each.collect()
                }
            };
            for list in lists {
                let same = |shown: &DecidedList| shown.rows == list.rows && shown.by == list.by;
                let taken = shown.iter().find(|(name, _)| *name == list.name);
                match taken.map(|(_, shown)| same(shown)) {
                    Some(true) => {}
                    Some(false) => shown.push((format!("{}.{method}", list.name), list)),
                    None => shown.push((list.name.clone(), list)),
                }
            }
        }
        shown
    }

    fn shown_recipes(&self) -> Vec<Recipe> {
        let mut shown: Vec<Recipe> = Vec::new();
        // Those that count come first, so that the others join them and take nothing away.
        let (counting, others): (Vec<_>, Vec<_>) =
            self.sayings.recipes.iter().cloned().partition(|recipe| recipe.status.counts());
        for recipe in counting {
            match shown.iter_mut().find(|listed| listed.is_same_as(&recipe)) {
                Some(listed) if listed.is_at_least_as_strict(&recipe) => {}
                Some(listed) => {
                    listed.life_days = shorter(listed.life_days, recipe.life_days);
                    (listed.by, listed.source) = (recipe.by, recipe.source);
                    (listed.status, listed.confirmation) = (recipe.status, recipe.confirmation);
                }
                None => shown.push(recipe),
            }
        }
        for recipe in others {
            if !shown.iter().any(|listed| listed.is_same_as(&recipe)) {
                shown.push(recipe);
            }
        }
        shown.sort_by(|one, other| one.place().cmp(&other.place()));
        shown
    }
}

fn row(key: &str, unit: &str, said: &Said) -> RuleValue {
    RuleValue {
        key: key.to_owned(),
        value: said.value.clone(),
        unit: unit.to_owned(),
        source: said.source.clone(),
        status: said.status,
        decided_by: vec![said.by.clone()],
        confirmed_by: said.confirmation.as_ref().map(|confirmation| confirmation.confirmed_by.clone()),
        confirmed_on: said.confirmation.as_ref().map(|confirmation| confirmation.confirmed_on),
    }
}

fn exercise(key: &str, row: &Row, by: &BTreeSet<RuleSetVersion>, listed: &mut Vec<RuleValue>) {
    let of = &row.exercise;
    let number =
        |number: u32| Some(number).filter(|number| *number > 0).map(|n| RuleScalar::Number(n.into()));
    let text = |text: &Option<String>| text.clone().map(RuleScalar::Text);
    let parts = [
        ("", format!("seconds of {}", of.key), Some(RuleScalar::Number(of.seconds.into()))),
        (".alternative", "exercise".to_owned(), text(&of.alternative)),
        (".measurements", "measurements".to_owned(), number(of.measurements.into())),
        (".measuring_seconds", "seconds".to_owned(), number(of.measuring_seconds)),
        (".breaths", "in words".to_owned(), text(&of.breaths)),
        (".sampling", "in words".to_owned(), text(&of.sampling)),
    ];
    for (part, unit, value) in parts {
        listed.extend(value.map(|value| RuleValue {
            key: format!("{key}{part}"),
            value,
            unit,
            source: row.source.clone(),
            status: row.status,
            decided_by: by.iter().cloned().collect(),
            confirmed_by: None,
            confirmed_on: None,
        }));
    }
}

fn listed_recipe(key: &str, recipe: &Recipe, listed: &mut Vec<RuleValue>) {
    let said = |value: RuleScalar| Said {
        by: recipe.by.clone(),
        value,
        status: recipe.status,
        source: recipe.source.clone(),
        confirmation: recipe.confirmation.clone(),
    };
    let ingredients = recipe.ingredients.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
    let ingredients = said(RuleScalar::Text(ingredients));
    listed.push(row(&format!("{key}.ingredients"), "amounts", &ingredients));
    if !recipe.instructions.is_empty() {
        let instructions = said(RuleScalar::Text(recipe.instructions.clone()));
        listed.push(row(&format!("{key}.instructions"), "in words", &instructions));
    }
    let life = recipe.life_days.map_or_else(RuleScalar::not_set, |days| RuleScalar::Number(days.into()));
    listed.push(row(&format!("{key}.life_days"), "days", &said(life)));
}
