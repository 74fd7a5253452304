//! What a gate's policy comes to at a moment, and what no policy can say.

use chrono::{DateTime, TimeDelta, Utc};
use proptest::prelude::*;
use sellion_rules::policy::{
    Acceptance, Accepted, Listed, PolicyStanding, PolicyVersion, RespiratorClass, in_force, standing,
};
use sellion_rules::refusal::Code;
use sellion_rules::respirator::Facepiece;

use crate::support::{id, zero};

fn at(hours: i64) -> DateTime<Utc> {
    zero() + TimeDelta::hours(hours)
}

fn one(respirator: u128) -> Acceptance {
    Acceptance { accepted: Accepted::Respirator { respirator_id: id(respirator) }, until: None }
}

fn class(facepiece: Option<Facepiece>, filter_class: Option<&str>) -> Acceptance {
    let class = RespiratorClass { facepiece, filter_class: filter_class.map(str::to_owned) };
    Acceptance { accepted: Accepted::Class(class), until: None }
}

fn until(hours: i64, acceptance: Acceptance) -> Acceptance {
    Acceptance { until: Some(at(hours)), ..acceptance }
}

fn listed(respirator: u128, facepiece: Facepiece, filter_class: &str) -> Listed {
    Listed { respirator: id(respirator), facepiece, filter_class: filter_class.to_owned(), retired_at: None }
}

/// A list as a hospital has it: two filtering facepieces, a half mask with two filters on it.
fn list() -> Vec<Listed> {
    vec![
        listed(1, Facepiece::FilteringFacepiece, "N95"),
        listed(2, Facepiece::FilteringFacepiece, "n99"),
        listed(3, Facepiece::HalfMask, "P100/OV"),
    ]
}

fn version(accepts: Vec<Acceptance>) -> PolicyVersion {
    PolicyVersion {
        id: id(100),
        effective_from: zero(),
        recorded_at: zero(),
        accepts,
        none_needed: false,
        none_needed_until: None,
        knowledge_age_max_seconds: 900,
        fallback: "Call the shift lead.".to_owned(),
        leads: None,
    }
}

fn accepted(version: &PolicyVersion, hours: i64, list: &[Listed]) -> Vec<u128> {
    let policy = version.at(at(hours), list).expect("a policy");
    policy.accepted_respirators.iter().map(|id| id.as_u128()).collect()
}

#[test]
fn a_class_takes_in_whatever_is_listed_of_it_at_that_moment() {
    let filtering = version(vec![class(Some(Facepiece::FilteringFacepiece), None)]);
    assert_eq!(accepted(&filtering, 0, &list()), [1, 2]);
    let mut longer = list();
    longer.push(listed(4, Facepiece::FilteringFacepiece, "N95"));
    assert_eq!(accepted(&filtering, 0, &longer), [1, 2, 4], "listed later");
    longer[0].retired_at = Some(at(5));
    assert_eq!(accepted(&filtering, 4, &longer), [1, 2, 4]);
    assert_eq!(accepted(&filtering, 5, &longer), [2, 4], "no longer in use");
    let n95 = version(vec![class(None, Some("N95"))]);
    assert_eq!(accepted(&n95, 0, &list()), [1], "a better filter is another class");
    let both = version(vec![class(Some(Facepiece::HalfMask), Some("n95"))]);
    assert_eq!(accepted(&both, 0, &list()), Vec::<u128>::new());
}

#[test]
fn a_filter_class_is_read_by_its_words() {
    let class = |words: &str| version(vec![class(None, Some(words))]);
    for (words, expected) in
        [("P100", vec![3]), ("ov", vec![3]), ("OV / p100", vec![3]), ("P10", vec![]), ("N99", vec![2])]
    {
        assert_eq!(accepted(&class(words), 0, &list()), expected, "{words}");
    }
    let unknown = |words: &str| {
        let class = RespiratorClass { facepiece: None, filter_class: Some(words.to_owned()) };
        class.unknown(&list()).is_some()
    };
    // 42 CFR 84.170 and EN 149 name these; the site need not have one yet.
    assert!(!unknown("R95") && !unknown("FFP3") && !unknown("P100/OV"));
    assert!(unknown("N59") && unknown("P100/XY") && unknown("--"));
    let mut own = list();
    own.push(listed(9, Facepiece::HalfMask, "house filter"));
    let house = RespiratorClass { facepiece: None, filter_class: Some("House".to_owned()) };
    assert!(house.unknown(&own).is_none(), "a class that a respirator of the site has");
}

#[test]
fn the_first_place_of_a_respirator_counts() {
    let mixed = version(vec![one(2), class(Some(Facepiece::FilteringFacepiece), None), one(3), one(1)]);
    assert_eq!(accepted(&mixed, 0, &list()), [2, 1, 3]);
}

#[test]
fn two_models_are_accepted_until_the_former_one_ends() {
    let changed = version(vec![one(1), until(24, one(3))]);
    assert_eq!(accepted(&changed, 23, &list()), [1, 3]);
    assert_eq!(accepted(&changed, 24, &list()), [1], "the end itself is after it");
    let over = version(vec![until(24, one(3))]);
    assert_eq!(over.at(at(24), &list()), None, "nothing of it holds any more");
}

#[test]
fn no_respirator_today_ends_by_itself() {
    let mut today = version(vec![one(1)]);
    (today.none_needed, today.none_needed_until) = (true, Some(at(12)));
    assert!(today.at(at(11), &list()).expect("a policy").none_needed);
    let later = today.at(at(12), &list()).expect("a policy");
    assert!(!later.none_needed && later.accepted_respirators == [id(1)]);
    let mut open = version(vec![]);
    open.none_needed = true;
    assert!(open.at(at(1000), &[]).expect("a policy").none_needed);
}

#[test]
fn versions_follow_each_other_and_the_one_decided_last_counts() {
    let dated = |number: u128, from: i64, recorded: i64| PolicyVersion {
        id: id(number),
        effective_from: at(from),
        recorded_at: at(recorded),
        ..version(vec![one(1)])
    };
    let all = [dated(1, 0, 0), dated(2, 10, 0), dated(3, 20, 1), dated(4, 20, 2)];
    let force = |hours: i64| in_force(&all, at(hours)).map(|version| version.id.as_u128());
    assert_eq!([-1, 0, 9, 10, 20].map(force), [None, Some(1), Some(1), Some(2), Some(4)]);
    let standings = all.each_ref().map(|version| standing(version, &all, at(10)));
    use PolicyStanding::{Coming, Past, Present};
    assert_eq!(standings, [Past, Present, Past, Coming], "the third was taken back before it began");
}

fn refused(change: impl FnOnce(&mut PolicyVersion)) -> String {
    let mut changed = version(vec![one(1)]);
    change(&mut changed);
    let refusal = changed.check(zero()).expect_err("a refusal");
    assert_eq!(refusal.code, Code::InvalidValue);
    refusal.field.expect("a field")
}

#[test]
fn what_no_policy_can_say_is_refused_by_its_member() {
    assert!(version(vec![one(1), until(1, one(2))]).check(zero()).is_ok());
    assert_eq!(refused(|policy| policy.effective_from = at(-1)), "effective_from");
    assert_eq!(refused(|policy| policy.accepts.clear()), "accepts");
    assert_eq!(refused(|policy| policy.accepts = vec![one(1); 101]), "accepts");
    assert_eq!(refused(|policy| policy.accepts = vec![until(5, one(1))]), "accepts");
    assert_eq!(refused(|policy| policy.accepts.push(one(1))), "accepts[1]");
    assert_eq!(refused(|policy| policy.accepts.push(class(None, None))), "accepts[1]");
    assert_eq!(refused(|policy| policy.accepts.push(until(0, one(2)))), "accepts[1].until");
    assert_eq!(refused(|policy| policy.none_needed_until = Some(at(1))), "none_needed_until");
    assert_eq!(
        refused(|policy| (policy.none_needed, policy.none_needed_until) = (true, Some(at(0)))),
        "none_needed_until"
    );
    assert_eq!(
        refused(|policy| {
            (policy.none_needed, policy.none_needed_until) = (true, Some(at(1)));
            policy.accepts.clear();
        }),
        "accepts"
    );
    for seconds in [0, 864_001] {
        assert_eq!(refused(|policy| policy.knowledge_age_max_seconds = seconds), "knowledge_age_max_seconds");
    }
    let names = |names: &[&str]| Some(names.iter().map(|name| (*name).to_owned()).collect());
    assert_eq!(refused(|policy| policy.leads = names(&["Ada Brennick", "ada brennick"])), "leads");
    assert_eq!(refused(|policy| policy.leads = Some(vec![String::new(); 51])), "leads");
}

proptest! {
    /// Against the plain sentence: a line counts before its end, a class when the line of the list fits word by word.
    #[test]
    fn what_is_accepted_is_what_the_lines_say(
        lines in prop::collection::vec((0u128..6, 0usize..3, prop::option::of(1i64..6)), 1..6),
        classes in prop::collection::vec(0usize..3, 6),
        hours in 0i64..7,
    ) {
        const FILTERS: [&str; 3] = ["N95", "P100/OV", "FFP2"];
        let site: Vec<Listed> = (0..).zip(&classes)
            .map(|(number, filter)| listed(number, Facepiece::HalfMask, FILTERS[*filter])).collect();
        // Number 5 stands for a line that accepts a class.
        let line = |(number, filter, end): &(u128, usize, Option<i64>)| {
            let line = if *number == 5 { class(None, Some(FILTERS[*filter])) } else { one(*number) };
            Acceptance { until: end.map(at), ..line }
        };
        let policy = version(lines.iter().map(line).collect());
        let open = |end: &Option<i64>| end.is_none_or(|end| hours < end);
        let expected = |number: u128| lines.iter().any(|(named, filter, end)| {
            open(end) && (*named == number && number != 5 || *named == 5 && classes[number as usize] == *filter)
        });
        match policy.at(at(hours), &site) {
            None => prop_assert!(lines.iter().all(|(_, _, end)| !open(end))),
            Some(found) => for number in 0..6 {
                prop_assert_eq!(found.accepted_respirators.contains(&id(number)), expected(number));
            }
        }
    }
}
