//! Badges: who needs one, what the desk is told, and from when on one counts as unclaimed.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use sellion_rules::{
    badge::{BadgeLine, BadgeNeed, Content, DeskFacts, DeskWord, LeftOut, desk_word, need, unclaimed_from},
    gate::BadgeStatus,
};
use uuid::Uuid;

const FOLD: Uuid = Uuid::from_u128(1);
const CUP: Uuid = Uuid::from_u128(2);

fn line(respirator_id: Uuid, days: i64) -> BadgeLine {
    let due_on = NaiveDate::from_ymd_opt(2027, 3, 1).expect("a date") + TimeDelta::days(days);
    BadgeLine { respirator_id, due_on }
}

fn content(name: &str, lines: &[BadgeLine]) -> Content {
    Content { name: Some(name.to_owned()), lines: lines.to_vec() }
}

#[test]
fn a_badge_is_needed_where_none_says_what_holds() {
    let now = content("Ines Valdrun", &[line(FOLD, 0), line(CUP, 30)]);
    let needed = |has: &Content| need(Some(has), &now);
    assert_eq!(need(None, &now), Some(BadgeNeed::NoBadge));
    assert_eq!(needed(&now), None);
    let turned_round = content("Ines Valdrun", &[line(CUP, 30), line(FOLD, 0)]);
    assert_eq!(needed(&turned_round), None, "the order says nothing");
    assert_eq!(needed(&Content { name: None, ..now.clone() }), None, "nobody kept the name");
    assert_eq!(needed(&content("Ines Brennick", &now.lines)), Some(BadgeNeed::NameChanged));
    assert_eq!(needed(&content("Ines Valdrun", &[line(FOLD, 0)])), Some(BadgeNeed::MoreToSay));
    assert_eq!(needed(&content("Ines Valdrun", &[line(FOLD, 0), line(CUP, 29)])), Some(BadgeNeed::MoreToSay));
    assert_eq!(
        needed(&content("Ines Valdrun", &[line(FOLD, 1), line(CUP, 30)])),
        Some(BadgeNeed::NoLongerTrue)
    );
    let other = content("Ines Valdrun", &[line(Uuid::from_u128(3), 0)]);
    assert_eq!(needed(&other), Some(BadgeNeed::NoLongerTrue));
    let nothing = content("Ines Valdrun", &[]);
    assert_eq!(
        (need(None, &nothing), need(Some(&other), &nothing)),
        (None, None),
        "there is nothing to print"
    );
}

fn facts() -> DeskFacts {
    let printed = content("Ines Valdrun", &[line(FOLD, 0)]);
    DeskFacts {
        status: BadgeStatus::Valid,
        expired: false,
        in_doubt: false,
        handed_over: false,
        another_person: false,
        now: printed.clone(),
        printed,
    }
}

#[test]
fn the_desk_is_told_one_word() {
    let usual = facts;
    let nothing = || content("Ines Valdrun", &[]);
    let cases = [
        (usual(), DeskWord::HandOver),
        (DeskFacts { handed_over: true, ..usual() }, DeskWord::HandedOver),
        (DeskFacts { status: BadgeStatus::Held, ..usual() }, DeskWord::HoldBack),
        (DeskFacts { status: BadgeStatus::Ended, ..usual() }, DeskWord::Ended),
        (DeskFacts { status: BadgeStatus::Replaced, ..usual() }, DeskWord::Ended),
        (DeskFacts { expired: true, ..usual() }, DeskWord::Ended),
        (DeskFacts { another_person: true, ..usual() }, DeskWord::AnotherPerson),
        (DeskFacts { now: content("Oda Valdrun", &[line(FOLD, 0)]), ..usual() }, DeskWord::PrintAgain),
        (DeskFacts { now: content("Ines Valdrun", &[line(CUP, 0)]), ..usual() }, DeskWord::PrintAgain),
        (DeskFacts { now: content("Ines Valdrun", &[line(FOLD, -1)]), ..usual() }, DeskWord::PrintAgain),
        (DeskFacts { now: content("Ines Valdrun", &[line(FOLD, 9)]), ..usual() }, DeskWord::HandOver),
        (DeskFacts { now: nothing(), ..usual() }, DeskWord::NotCleared),
        (DeskFacts { now: nothing(), in_doubt: true, ..usual() }, DeskWord::HoldBack),
    ];
    for (facts, word) in cases {
        assert_eq!(desk_word(&facts), word, "{facts:?}");
    }
}

/// Whatever is known, a badge goes over the desk only when it counts, is its person's, and all it says holds.
#[test]
fn nothing_is_handed_over_that_is_not_right() {
    let said_now = [
        content("Ines Valdrun", &[]),
        content("Ines Valdrun", &[line(FOLD, 0)]),
        content("Ines Valdrun", &[line(CUP, 0)]),
        content("Oda Valdrun", &[line(FOLD, 0)]),
    ];
    let yes_or_no = [false, true];
    let mut handed = 0;
    for status in BadgeStatus::ALL {
        for now in &said_now {
            for expired in yes_or_no {
                for in_doubt in yes_or_no {
                    for handed_over in yes_or_no {
                        for another_person in yes_or_no {
                            let facts = DeskFacts {
                                status: *status,
                                expired,
                                in_doubt,
                                handed_over,
                                another_person,
                                now: now.clone(),
                                ..facts()
                            };
                            if desk_word(&facts) == DeskWord::HandOver {
                                handed += 1;
                                assert!(!expired && !handed_over && !another_person, "{facts:?}");
                                assert!(matches!(status, BadgeStatus::Valid | BadgeStatus::Unclaimed));
                                assert!(facts.printed.is_true(&facts.now));
                            }
                        }
                    }
                }
            }
        }
    }
    assert_eq!(handed, 4, "valid or lying there for long, in doubt for something else or not");
}

#[test]
fn every_word_and_every_reason_says_what_to_do() {
    let words = DeskWord::ALL.iter().map(|word| word.instruction());
    let reasons = LeftOut::ALL.iter().map(|reason| reason.instruction());
    let told: Vec<&str> = words.chain(reasons).collect();
    assert!(told.iter().all(|sentence| sentence.ends_with('.')));
    let distinct: std::collections::BTreeSet<&&str> = told.iter().collect();
    assert_eq!(distinct.len(), told.len());
}

#[test]
fn a_badge_is_unclaimed_after_whole_days_from_the_second_it_was_made_in() {
    let made_at: DateTime<Utc> = "2026-03-28T10:00:00.75Z".parse().expect("a moment");
    let whole: DateTime<Utc> = "2026-03-28T10:00:00Z".parse().expect("a moment");
    assert_eq!(unclaimed_from(made_at, 0), whole);
    // Over the night in which clocks go forward: a gate alone counts hours and not calendar days.
    assert_eq!(unclaimed_from(made_at, 7) - whole, TimeDelta::hours(7 * 24));
}
