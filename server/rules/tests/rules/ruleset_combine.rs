//! Sets together: the strictest holds, in whatever order and grouping they are combined.

use proptest::prelude::*;
use sellion_rules::method::Method;
use sellion_rules::ruleset::{Document, KEYS, Kind, RuleScalar, RuleSet, RuleSetVersion, Slot};

use crate::support::{NAME, VERSION};

const TEXT: &str = include_str!("../../rulesets/us-29cfr1910-134.toml");

fn version(name: &str) -> RuleSetVersion {
    RuleSetVersion { name: name.to_owned(), version: "2026-11-25.1".to_owned() }
}

fn combined(sets: &[Document]) -> Document {
    Document::combine(version("together"), "Together", sets)
}

/// A number, a flag or a word that a key may hold, chosen by a number.
fn written(kind: Kind, pick: u32) -> Option<String> {
    match kind {
        Kind::Number { least, most, .. } => {
            let most = most.min(least + 2_000);
            Some((least + i64::from(pick) % (most - least + 1)).to_string())
        }
        Kind::Flag { .. } => Some(pick.is_multiple_of(2).to_string()),
        Kind::Words(_) | Kind::Joined { .. } => {
            let words = kind.words();
            words
                .get(usize::try_from(pick).unwrap_or(0) % words.len().max(1))
                .map(|word| format!("\"{word}\""))
        }
        Kind::List => None,
    }
}

/// The complete set under another name, with some of its values replaced and some left unconfirmed.
fn document(name: &str, picks: &[(u32, bool)]) -> Document {
    let mut text = TEXT.replacen(&format!("name = \"{NAME}\""), &format!("name = \"{name}\""), 1);
    for (slot, (pick, confirmed)) in Slot::all().zip(picks.iter().cycle()) {
        // Doses that overlap are a mistake of one file, not a matter of strictness.
        if slot.key.name.starts_with("dose_") || slot.key.name.starts_with("redose") {
            continue;
        }
        let header = format!("[values.{}]\n", slot.flat());
        let Some(value) = written(slot.key.kind, *pick) else { continue };
        let Some(at) = text.find(&header) else { continue };
        let end = text[at + header.len()..].find("\n\n").map_or(text.len(), |end| at + header.len() + end);
        let status = if *confirmed { "verified" } else { "unconfirmed" };
        let section = format!(
            "{header}value = {value}\nunit = \"{}\"\nsource = \"invented\"\nstatus = \"{status}\"",
            slot.key.unit
        );
        text.replace_range(at..end, &section);
    }
    Document::parse(&text).unwrap_or_else(|mistakes| panic!("{mistakes:?}"))
}

fn documents() -> impl Strategy<Value = Vec<Document>> {
    let picks = proptest::collection::vec((any::<u32>(), proptest::bool::weighted(0.9)), 60);
    proptest::collection::vec(picks, 3).prop_map(|sets| {
        sets.iter().enumerate().map(|(number, picks)| document(&format!("set-{number}"), picks)).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn order_grouping_and_repetition_do_not_matter(sets in documents()) {
        let [a, b, c] = <[Document; 3]>::try_from(sets).expect("three");
        let all = combined(&[a.clone(), b.clone(), c.clone()]).values();
        prop_assert_eq!(&combined(&[c.clone(), a.clone(), b.clone()]).values(), &all);
        prop_assert_eq!(&combined(&[combined(&[a.clone(), b.clone()]), c.clone()]).values(), &all);
        prop_assert_eq!(&combined(&[a.clone(), combined(&[b.clone(), c.clone()])]).values(), &all);
        prop_assert_eq!(&combined(&[a.clone(), a, b, c.clone(), c]).values(), &all);
    }

    /// Adding a set never loosens a value and never makes a method accepted that was not.
    #[test]
    fn adding_a_set_only_makes_it_stricter(sets in documents()) {
        let fewer = combined(&sets[..2]);
        let more = combined(&sets);
        for slot in Slot::all() {
            if let (Some(before), Some(after)) = (fewer.holds(slot), more.holds(slot))
                && slot.key.kind != Kind::List
            {
                prop_assert!(slot.key.kind.is_at_least_as_strict(&after, &before), "{}", slot.flat());
            }
        }
        for method in Method::ALL {
            prop_assert!(more.accepts(*method).is_err() || fewer.accepts(*method).is_ok(), "{}", method);
        }
    }

    /// Of any two values the strictest is at least as strict as both, whichever comes first.
    #[test]
    fn strictest_is_a_join(key in 0..KEYS.len(), picks in any::<[u32; 3]>()) {
        let kind = KEYS[key].kind;
        let scalar = |pick| written(kind, pick).map(|text| match text.parse::<i64>() {
            Ok(number) => RuleScalar::Number(number),
            Err(_) if text == "true" || text == "false" => RuleScalar::Flag(text == "true"),
            Err(_) => RuleScalar::Text(text.trim_matches('"').to_owned()),
        });
        if let [Some(a), Some(b), Some(c)] = picks.map(scalar) {
            let ab = kind.strictest(&a, &b);
            prop_assert_eq!(&kind.strictest(&b, &a), &ab);
            prop_assert_eq!(kind.strictest(&ab, &c), kind.strictest(&a, &kind.strictest(&b, &c)));
            prop_assert!(kind.is_at_least_as_strict(&ab, &a) && kind.is_at_least_as_strict(&ab, &b));
        }
    }
}

/// Two sets of today: the stricter one decides value by value, and the record says which (facts 1.20, 5.12, 5.13, 5.19).
#[test]
fn a_site_combines_two_countries_by_confirming_what_is_not_verified() {
    let values = [
        ("ambient_aerosol.reading", "\"every_exercise\"", "overall or every_exercise"),
        ("ambient_aerosol.pass_level_full_facepiece", "2000", "fit factor"),
    ];
    let confirmed = values.map(|(key, value, unit)| {
        format!(
            "[values.{key}]\nvalue = {value}\nunit = \"{unit}\"\nsource = \"HSE 282/28, read by us\"\n\
             status = \"confirmed\"\nconfirmed_by = \"Ines Valdrun\"\nconfirmed_on = 2026-11-25\n"
        )
    });
    let text = format!(
        "name = \"ours\"\nversion = \"2026-11-25.1\"\ntitle = \"Ours\"\n\
         based_on = [{{ name = \"{NAME}\", version = \"{VERSION}\" }}]\n{}",
        confirmed.join("")
    );
    let rules = Document::read_own(&text, &Document::find).expect("sound").resolve().expect("usable");
    let full = &rules.methods[&Method::AmbientAerosol].full_facepiece;
    assert_eq!(full.measuring.as_ref().expect("measuring").pass_level, 2000);
    let plain = RuleSet::find(NAME, VERSION).expect("the embedded set");
    assert_eq!(rules.methods[&Method::Saccharin], plain.methods[&Method::Saccharin]);
    let decided = |key: &str| {
        let value = rules.values().iter().find(|value| value.key == key).expect("listed");
        value.decided_by.iter().map(|set| set.name.clone()).collect::<Vec<_>>()
    };
    assert_eq!(decided("ambient_aerosol.pass_level_full_facepiece"), ["ours"]);
    assert_eq!(decided("wear_seconds"), [NAME]);
}

/// What nobody has confirmed never loosens and never counts.
#[test]
fn an_unconfirmed_set_beside_a_complete_one_changes_no_value() {
    let plain = Document::newest(NAME).expect("a set");
    let canadian = Document::newest("ca-csa-z94.4").expect("a set");
    let together = combined(&[plain.clone(), canadian]);
    let months = Slot::find(None, "interval_months").expect("a key");
    assert_eq!(together.holds(months), Some(RuleScalar::Number(12)));
    assert!(plain.accepts(Method::Saccharin).is_ok());
    assert!(
        together.accepts(Method::Saccharin).is_err(),
        "one of the two has not been confirmed to accept it"
    );
}
