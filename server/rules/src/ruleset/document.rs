//! A rule set as it stands, whether or not it may be used: what is said, by whom, and what follows.

use std::collections::{BTreeMap, BTreeSet};

use super::exercises::{SaidList, merged};
use super::keys::{Silent, Slot};
use super::recipe::Recipe;
use super::values::{NotAccepted, RuleScalar, RuleSetVersion};
use super::written::{Note, Row, Said};
use crate::method::Method;

/// A rule set as it stands: complete and on its own, combined from several, or a site's own upon others. It may hold
/// values that nobody has confirmed; [`Document::resolve`] gives the rule set that may be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Document {
    /// Its name and version.
    pub id: RuleSetVersion,
    /// Its title in words.
    pub title: String,
    /// The sets it stands on; none where it stands on its own.
    pub based_on: Vec<RuleSetVersion>,
    pub(super) sayings: Sayings,
}

/// What one or several rule sets say.
///
/// Combining is nothing but the union of what is said, and whatever holds is a function of that union. So it cannot
/// matter in which order sets are combined, in which groups, or how often.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Sayings {
    pub(super) values: BTreeMap<String, BTreeSet<Said>>,
    pub(super) lists: BTreeMap<Method, BTreeSet<SaidList>>,
    pub(super) recipes: BTreeSet<Recipe>,
    pub(super) notes: BTreeSet<Note>,
    pub(super) grants: BTreeMap<Method, BTreeSet<Grant>>,
}

/// Whether one rule set by itself accepts a method: it says so, and says all that the method needs.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Grant {
    pub(super) by: RuleSetVersion,
    pub(super) refused: Option<NotAccepted>,
    /// The keys of values it leaves open.
    pub(super) missing: BTreeSet<String>,
}

/// A value, and who said it.
pub(super) struct Decision<'a> {
    pub(super) value: RuleScalar,
    pub(super) deciders: Vec<&'a Said>,
}

/// The list of exercises of a method, and whose it is.
pub(super) struct DecidedList {
    pub(super) name: String,
    pub(super) rows: Vec<Row>,
    pub(super) by: BTreeSet<RuleSetVersion>,
}

impl Sayings {
    /// The strictest of the values that count, and who said it. Where only several together give it, they all did.
    pub(super) fn decide(&self, slot: Slot) -> Option<Decision<'_>> {
        let said = self.values.get(&slot.flat())?;
        let counting: Vec<_> = said.iter().filter(|said| said.counts(slot)).collect();
        let strictest = |one: RuleScalar, other: RuleScalar| slot.key.kind.strictest(&one, &other);
        let value = counting.iter().map(|said| said.value.clone()).reduce(strictest)?;
        let deciders: Vec<_> = counting.iter().copied().filter(|said| said.value == value).collect();
        Some(Decision { value, deciders: if deciders.is_empty() { counting } else { deciders } })
    }

    /// The value that holds: the decided one, or what its absence means.
    pub(super) fn holds(&self, slot: Slot) -> Option<RuleScalar> {
        self.decide(slot).map(|decision| decision.value).or_else(|| when_silent(slot))
    }

    /// The exercises of a method: none where no list counts, an error where the lists do not go together.
    pub(super) fn list(&self, method: Method) -> Result<Option<DecidedList>, String> {
        let said = self.lists.get(&method).into_iter().flatten();
        let counting: Vec<_> = said.filter(|list| list.counts).collect();
        if counting.is_empty() {
            return Ok(None);
        }
        let names: BTreeSet<_> = counting.iter().map(|list| list.name.as_str()).collect();
        let name = names.into_iter().collect::<Vec<_>>().join("+");
        let by = counting.iter().map(|list| list.by.clone()).collect();
        merged(&counting).map(|rows| Some(DecidedList { name, rows, by }))
    }

    /// Whether every one of the sets accepts the method, and their lists of exercises go together.
    pub(super) fn accepts(&self, method: Method) -> Result<(), NotAccepted> {
        let Some(grants) = self.grants.get(&method) else {
            let sentence = format!("No rule set lists {}.", method.name());
            return Err(NotAccepted { sentence, source: format!("{method}.accepted") });
        };
        let refusals: BTreeSet<_> = grants.iter().filter_map(|grant| grant.why_not(method)).collect();
        if !refusals.is_empty() {
            let all = |of: fn(&NotAccepted) -> &str, between: &str| {
                refusals.iter().map(of).collect::<BTreeSet<_>>().into_iter().collect::<Vec<_>>().join(between)
            };
            return Err(NotAccepted {
                sentence: all(|why| &why.sentence, " "),
                source: all(|why| &why.source, "; "),
            });
        }
        match self.list(method) {
            Ok(_) => Ok(()),
            Err(reason) => Err(NotAccepted {
                sentence: format!(
                    "The rule sets of this day do not go together for {}: {reason}.",
                    method.name()
                ),
                source: format!("{method}.exercises"),
            }),
        }
    }

    /// What one rule set, taken by itself, has to say of a method.
    pub(super) fn grant(&self, by: &RuleSetVersion, method: Method) -> Grant {
        let mut grant = Grant { by: by.clone(), refused: None, missing: BTreeSet::new() };
        let no = |sentence: String, source: &str| Some(NotAccepted { sentence, source: source.to_owned() });
        let name = method.name();
        let Some(accepted) = Slot::find(Some(method), "accepted") else { return grant };
        match self.decide(accepted) {
            Some(Decision { value: RuleScalar::Flag(true), .. }) => grant.missing = self.missing(method),
            Some(Decision { deciders, .. }) => {
                let source = deciders.first().map_or("", |said| said.source.as_str());
                grant.refused = no(format!("The rule set {by} does not accept {name}."), source);
            }
            None if self.values.contains_key(&accepted.flat()) => {
                let sentence = format!("Nobody has confirmed that the rule set {by} accepts {name}.");
                grant.refused = no(sentence, &format!("{by}, {}", accepted.flat()));
            }
            None => {
                let sentence = format!("The rule set {by} does not list {name}, so it does not accept it.");
                grant.refused = no(sentence, &by.to_string());
            }
        }
        grant
    }

    /// The keys of what a method needs and nobody says.
    fn missing(&self, method: Method) -> BTreeSet<String> {
        let needed = Slot::of(method).filter(|slot| slot.key.silent == Silent::Open);
        let open = needed.filter(|slot| self.decide(*slot).is_none()).map(|slot| slot.flat());
        let no_list = matches!(self.list(method), Ok(None)).then(|| format!("{method}.exercises"));
        open.chain(no_list).collect()
    }
}

impl Grant {
    fn why_not(&self, method: Method) -> Option<NotAccepted> {
        if self.refused.is_some() || self.missing.is_empty() {
            return self.refused.clone();
        }
        let missing = self.missing.iter().map(String::as_str).collect::<Vec<_>>().join(", ");
        Some(NotAccepted {
            sentence: format!(
                "The rule set {} accepts {} only once somebody has confirmed {missing}.",
                self.by,
                method.name()
            ),
            source: format!("{}, {missing}", self.by),
        })
    }
}

/// What holds when no set says anything that counts.
pub(super) fn when_silent(slot: Slot) -> Option<RuleScalar> {
    match slot.key.silent {
        Silent::Open => None,
        Silent::No => Some(RuleScalar::Flag(false)),
        Silent::NoLimit => Some(RuleScalar::not_set()),
        Silent::Loosest => slot.key.kind.words().first().map(|word| RuleScalar::Text((*word).to_owned())),
    }
}

impl Document {
    /// Several rule sets as one, which is at least as strict as each of them: of every value the strictest that counts,
    /// and only the methods that every one of them accepts.
    pub fn combine(id: RuleSetVersion, title: impl Into<String>, sets: &[Self]) -> Self {
        let mut sayings = Sayings::default();
        for set in sets {
            sayings.unite(&set.sayings);
        }
        let based_on: BTreeSet<_> = sets.iter().map(|set| set.id.clone()).collect();
        Self { id, title: title.into(), based_on: based_on.into_iter().collect(), sayings }
    }

    /// Whether the method is accepted, or why not.
    pub fn accepts(&self, method: Method) -> Result<(), NotAccepted> {
        self.sayings.accepts(method)
    }

    /// The value that holds for a key, if one counts or its absence means something.
    pub fn holds(&self, slot: Slot) -> Option<RuleScalar> {
        self.sayings.holds(slot)
    }
}

impl Sayings {
    /// Adds what other sets say.
    pub(super) fn unite(&mut self, other: &Self) {
        fn all<K: Ord + Clone, T: Ord + Clone>(
            into: &mut BTreeMap<K, BTreeSet<T>>,
            from: &BTreeMap<K, BTreeSet<T>>,
        ) {
            for (key, said) in from {
                into.entry(key.clone()).or_default().extend(said.iter().cloned());
            }
        }
        all(&mut self.values, &other.values);
        all(&mut self.lists, &other.lists);
        all(&mut self.grants, &other.grants);
        self.recipes.extend(other.recipes.iter().cloned());
        self.notes.extend(other.notes.iter().cloned());
    }
}
