//! A site's own rule set: what may stand as it is written, what needs a person who answers for it, and what comes of it.

use sellion_rules::method::Method;
use sellion_rules::ruleset::{Document, Mistake, MistakeKind, RuleScalar, RuleSet, RuleSetVersion};

use crate::support::{NAME, VERSION};

const BY: &str = "confirmed_by = \"Ines Valdrun\", confirmed_on = 2026-11-25";
const VERIFIED: &str = "status = \"verified\"";

fn value(name: &str, value: &str, unit: &str, rest: &str) -> String {
    format!("{name} = {{ value = {value}, unit = \"{unit}\", source = \"local policy 4\", {rest} }}\n")
}

fn text(bases: &[(&str, &str)], body: &str) -> String {
    let bases: Vec<_> = bases
        .iter()
        .map(|(name, version)| format!("{{ name = \"{name}\", version = \"{version}\" }}"))
        .collect();
    let bases = bases.join(", ");
    format!(
        "name = \"ours\"\nversion = \"2026-11-25.1\"\ntitle = \"Ours\"\nbased_on = [{bases}]\n[values]\n{body}"
    )
}

fn read(bases: &[(&str, &str)], body: &str) -> Result<Document, Vec<Mistake>> {
    Document::read_own(&text(bases, body), &Document::find)
}

const US: &[(&str, &str)] = &[(NAME, VERSION)];

fn own(body: &str) -> Document {
    read(US, body).unwrap_or_else(|mistakes| panic!("{mistakes:#?}"))
}

fn rules(body: &str) -> RuleSet {
    own(body).resolve().expect("usable")
}

fn only_mistake(body: &str) -> Mistake {
    let mistakes = read(US, body).expect_err("a mistake");
    assert_eq!(mistakes.len(), 1, "{mistakes:#?}");
    mistakes[0].clone()
}

/// A set that says nothing of its own is the one it stands upon.
#[test]
fn nothing_of_its_own_changes_nothing() {
    let (ours, base) = (rules(""), RuleSet::find(NAME, VERSION).expect("embedded"));
    assert_eq!(ours.values(), base.values());
    assert_eq!((&ours.methods, &ours.recipes), (&base.methods, &base.recipes));
    assert_eq!(ours.not_accepted, base.not_accepted);
}

#[test]
fn the_sentence_of_a_looser_value_names_both_and_whose_it_is() {
    let mistake = only_mistake(&value("wear_seconds", "60", "seconds", VERIFIED));
    assert_eq!(mistake.kind, MistakeKind::LooserWithoutConfirmation);
    let reason = "60 is looser than 300 of us-29cfr1910-134 2019-09-26.2; write confirmed_by and confirmed_on beside it";
    assert_eq!((mistake.line, mistake.reason.as_str()), (6, reason));
}

/// One reading of "annually" is looser than the earlier of both.
#[test]
fn words_that_only_together_are_as_strict_are_looser_alone() {
    let unit = "anniversary, strict_days or earlier";
    let mistake = only_mistake(&value("due_reading", "\"anniversary\"", unit, VERIFIED));
    assert_eq!(mistake.kind, MistakeKind::LooserWithoutConfirmation);
}

/// What no base limits may be limited by the site as it likes; without a limit again only by name.
#[test]
fn a_limit_where_there_was_none_is_stricter() {
    let ours = own(&value("opened_life_days", "90", "days", "status = \"common_practice\""));
    assert_eq!(ours.resolve().expect("usable").supplies.opened_life_days, Some(90));
    let find = |id: &RuleSetVersion| Document::find(id).or_else(|| (id.name == "ours").then(|| ours.clone()));
    let upon = |rest: &str| {
        let body = value("opened_life_days", "\"not_set\"", "days", rest);
        let text = text(&[("ours", "2026-11-25.1")], &body).replacen("\"ours\"", "\"theirs\"", 1);
        Document::read_own(&text, &find)
    };
    let mistakes = upon(VERIFIED).expect_err("looser");
    assert_eq!(mistakes[0].kind, MistakeKind::LooserWithoutConfirmation);
    let theirs = upon(BY).expect("confirmed").resolve().expect("usable");
    assert_eq!(theirs.supplies.opened_life_days, None);
    assert!(
        upon("status = \"unconfirmed\"")
            .expect("a note")
            .resolve()
            .expect("usable")
            .supplies
            .opened_life_days
            == Some(90)
    );
}

/// A value that nobody has confirmed is kept and shown, and does nothing.
#[test]
fn an_open_value_of_the_site_does_nothing() {
    let ours = rules(&value("wear_seconds", "60", "seconds", "status = \"unconfirmed\""));
    assert_eq!(ours.methods[&Method::Saccharin].half_facepiece.wear_seconds, 300);
}

#[test]
fn half_a_confirmation_is_a_mistake() {
    for (rest, wrong) in [
        ("confirmed_by = \"Ines Valdrun\"", "confirmed_on"),
        ("confirmed_on = 2026-11-25", "confirmed_by"),
        ("confirmed_by = \" \", confirmed_on = 2026-11-25", "confirmed_by"),
        ("confirmed_by = \"Ines Valdrun\", confirmed_on = \"2026-11-25\"", "confirmed_on"),
        ("confirmed_by = \"Ines Valdrun\", confirmed_on = 2026-11-25, status = \"verified\"", "status"),
    ] {
        let mistakes = read(US, &value("wear_seconds", "60", "seconds", rest)).expect_err("a mistake");
        assert!(mistakes.iter().any(|mistake| mistake.reason.contains(wrong)), "{rest}: {mistakes:#?}");
    }
}

/// Twenty confirmed values, and the set of another country can be used for one method; the others stay closed.
#[test]
fn another_country_is_opened_value_by_value() {
    const UK: &[(&str, &str)] = &[("uk-hse-indg479", "2019-03-01.1")];
    let nothing = read(UK, "").expect("sound");
    let open: Vec<_> = nothing.resolve().expect_err("nobody confirmed it");
    let us = Document::newest(NAME).expect("embedded").values();
    let shared: String = open
        .iter()
        .map(|open| {
            let base = us.iter().find(|value| value.key == open.key).expect("the same key");
            let written = match &base.value {
                RuleScalar::Text(word) => format!("\"{word}\""),
                other => other.to_string(),
            };
            value(&open.key, &written, &base.unit, BY)
        })
        .collect();
    let opened = read(UK, &shared).expect("confirmed").resolve().expect("usable");
    assert!(opened.methods.is_empty(), "no method was confirmed");
    let word = value("ambient_aerosol.accepted", "true", "yes or no", BY);
    let why = read(UK, &format!("{shared}{word}"))
        .expect("sound")
        .accepts(Method::AmbientAerosol)
        .expect_err("open");
    assert!(
        why.sentence.ends_with("pass_level_half_facepiece, ambient_aerosol.reading."),
        "{}",
        why.sentence
    );
    let rest = [
        value("ambient_aerosol.reading", "\"every_exercise\"", "overall or every_exercise", BY),
        value("ambient_aerosol.pass_level_half_facepiece", "100", "fit factor", BY),
        value("ambient_aerosol.pass_level_full_facepiece", "2000", "fit factor", BY),
        value("ambient_aerosol.exercises", "\"seven\"", "list of exercises", BY),
    ];
    let seven = ["normal_breathing", "deep_breathing", "talking"].map(|key| {
        format!("[[exercises.seven]]\nkey = \"{key}\"\nseconds = 60\nmeasurements = 1\nsource = \"read by us\"\nstatus = \"verified\"\n")
    });
    let body = format!("{shared}{word}{}{}", rest.concat(), seven.concat());
    let rules = read(UK, &body).expect("confirmed").resolve().expect("usable");
    let methods: Vec<_> = rules.methods.keys().collect();
    assert_eq!(methods, [&Method::AmbientAerosol]);
    let full = &rules.methods[&Method::AmbientAerosol].full_facepiece;
    assert_eq!((full.exercises.len(), full.measuring.as_ref().expect("measured").pass_level), (3, 2000));
}

/// Beside a complete set, one that waits closes its methods until the site answers for them.
#[test]
fn two_bases_accept_only_what_both_do_or_the_site_confirms() {
    const BOTH: &[(&str, &str)] = &[(NAME, VERSION), ("uk-hse-indg479", "2019-03-01.1")];
    assert!(read(BOTH, "").expect("sound").resolve().expect("usable").methods.is_empty());
    let body = value("saccharin.accepted", "true", "yes or no", VERIFIED);
    let mistakes = read(BOTH, &body).expect_err("nobody confirmed it");
    assert_eq!(mistakes[0].kind, MistakeKind::LooserWithoutConfirmation);
    let body = value("saccharin.accepted", "true", "yes or no", BY);
    let rules = read(BOTH, &body).expect("confirmed").resolve().expect("usable");
    assert_eq!(rules.methods.keys().collect::<Vec<_>>(), [&Method::Saccharin]);
}

fn list(seconds: u32, extra: &str) -> String {
    let keys = ["normal_breathing", "deep_breathing", "head_side_to_side", "head_up_and_down", "talking"];
    let keys = keys.into_iter().chain(["bending_over", "normal_breathing"]);
    let rows: Vec<_> = keys
        .map(|key| {
            format!(
                "[[exercises.ours]]\nkey = \"{key}\"\nseconds = {seconds}\n{extra}source = \"policy\"\nstatus = \"verified\"\n"
            )
        })
        .collect();
    rows.concat()
}

#[test]
fn longer_exercises_are_stricter_and_shorter_ones_need_a_name() {
    let named = |rest: &str| value("saccharin.exercises", "\"ours\"", "list of exercises", rest);
    let longer = rules(&format!("{}{}", named(VERIFIED), list(75, "")));
    assert_eq!(longer.methods[&Method::Saccharin].half_facepiece.exercise_seconds(), 7 * 75);
    assert_eq!(longer.methods[&Method::DenatoniumBenzoate].half_facepiece.exercise_seconds(), 420);
    let mistake = only_mistake(&format!("{}{}", named(VERIFIED), list(15, "")));
    assert_eq!(
        (mistake.kind, mistake.key.as_str()),
        (MistakeKind::LooserWithoutConfirmation, "saccharin.exercises")
    );
    let shorter = rules(&format!("{}{}", named(BY), list(15, "")));
    assert_eq!(shorter.methods[&Method::Saccharin].half_facepiece.exercise_seconds(), 7 * 15);
    let mistake = only_mistake(&list(60, ""));
    assert_eq!(mistake.reason, "no method names this list");
    let measured = format!("{}{}", named(VERIFIED), list(60, "measurements = 1\n"));
    let mistakes = read(US, &measured).expect_err("nothing is measured by taste");
    assert!(mistakes.iter().any(|mistake| mistake.key == "exercises.ours"), "{mistakes:#?}");
}

/// Jogging instead of bending is an allowance; taking it away is stricter, giving it is not.
#[test]
fn an_allowance_is_looser() {
    let named = value("saccharin.exercises", "\"ours\"", "list of exercises", VERIFIED);
    let none = rules(&format!("{named}{}", list(60, "")));
    let exercises = &none.methods[&Method::Saccharin].half_facepiece.exercises;
    assert!(exercises.iter().all(|exercise| exercise.alternative.is_none()));
    let jogging = format!("{named}{}", list(60, "alternative = \"jogging_in_place\"\n"));
    assert_eq!(only_mistake(&jogging).kind, MistakeKind::LooserWithoutConfirmation);
}

#[test]
fn recipes_may_be_used_for_less_and_by_name_for_longer() {
    let recipe = |amount: &str, life: &str, rest: &str| {
        format!(
            "[[recipes]]\nagent = \"saccharin\"\nsolution = \"test\"\ningredients = [\n\
             {{ amount = \"{amount}\", unit = \"g\", of = \"sodium saccharin\" }},\n\
             {{ amount = \"100\", unit = \"ml\", of = \"warm water\" }},\n]\nlife_days = {life}\nsource = \"policy\"\n{rest}\n"
        )
    };
    let confirmed = BY.replace(", ", "\n");
    let lives = |rules: &RuleSet| {
        let of = rules.recipes.iter().filter(|recipe| recipe.ingredients[0].of == "sodium saccharin");
        of.map(|recipe| (recipe.ingredients[0].amount.clone(), recipe.life_days)).collect::<Vec<_>>()
    };
    assert_eq!(lives(&rules(&recipe("83", "30", VERIFIED))), [("83".to_owned(), Some(30))]);
    let mistake = only_mistake(&recipe("80", "30", VERIFIED));
    assert_eq!(
        (mistake.kind, mistake.key.as_str()),
        (MistakeKind::LooserWithoutConfirmation, "recipes.saccharin.test")
    );
    let both = lives(&rules(&recipe("80", "30", &confirmed)));
    assert_eq!(both, [("80".to_owned(), Some(30)), ("83".to_owned(), None)]);
    let stock = "[[recipes]]\nagent = \"isoamyl_acetate\"\nsolution = \"stock\"\ningredients = [\n\
        { amount = \"1\", unit = \"ml\", of = \"pure isoamyl acetate\" },\n\
        { amount = \"800\", unit = \"ml\", of = \"odour-free water at about 25 C\" },\n]\nlife_days = 14\nsource = \"policy\"\n";
    let mistake = only_mistake(&format!("{stock}{VERIFIED}\n"));
    assert!(
        mistake.reason.starts_with("it may be used for longer than that of us-29cfr1910-134"),
        "{}",
        mistake.reason
    );
}

#[test]
fn bases_that_are_not_there_are_mistakes() {
    let reasons = |bases: &[(&str, &str)]| {
        let mistakes = read(bases, "").expect_err("a mistake");
        mistakes.into_iter().map(|mistake| mistake.reason).collect::<Vec<_>>()
    };
    assert_eq!(reasons(&[(NAME, "2019-09-26.99")]), ["there is no rule set us-29cfr1910-134 2019-09-26.99"]);
    assert_eq!(reasons(&[("ours", "2026-11-24.1")]), ["a rule set does not stand upon one of its own name"]);
    assert_eq!(reasons(&[(NAME, VERSION), (NAME, "2019-09-26.1")]), ["us-29cfr1910-134 is named twice"]);
    assert!(!reasons(&[]).is_empty());
}
