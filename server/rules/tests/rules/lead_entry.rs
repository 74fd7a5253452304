//! Entries under a lead's name: what the policy says of the name, and by when somebody looks.

use chrono::NaiveDate;
use sellion_rules::lead_entry::{LeadEntryReason, LeadStanding, lead_standing, review_due_on};
use sellion_rules::policy::PolicyVersion;

use crate::support::{id, utc, zero};

fn policy(leads: Option<&[&str]>) -> PolicyVersion {
    PolicyVersion {
        id: id(1),
        effective_from: zero(),
        recorded_at: zero(),
        accepts: Vec::new(),
        none_needed: true,
        none_needed_until: None,
        knowledge_age_max_seconds: 900,
        fallback: String::new(),
        leads: leads.map(|leads| leads.iter().map(|lead| (*lead).to_owned()).collect()),
    }
}

#[test]
fn the_policy_says_whose_name_will_do() {
    let standing = |leads: Option<&[&str]>| lead_standing("Ada Brennick", Some(&policy(leads)));
    assert_eq!(standing(None), LeadStanding::NotProvided);
    assert_eq!(standing(Some(&[])), LeadStanding::Provided);
    assert_eq!(standing(Some(&["Oda Marl", "ada brennick"])), LeadStanding::Provided);
    assert_eq!(standing(Some(&["Oda Marl"])), LeadStanding::NotListed);
    assert_eq!(lead_standing("Ada Brennick", None), LeadStanding::NotProvided);
}

#[test]
fn somebody_looks_by_the_end_of_the_next_day_there() {
    let zone = chrono_tz::Pacific::Auckland;
    // Half past eleven at night in Auckland is still the same morning in UTC.
    let due = review_due_on(utc("2026-03-10T10:30:00Z"), zone);
    assert_eq!(due, NaiveDate::from_ymd_opt(2026, 3, 11).unwrap());
    assert_eq!(
        review_due_on(utc("2026-03-10T11:00:00Z"), zone),
        NaiveDate::from_ymd_opt(2026, 3, 12).unwrap()
    );
}

/// No reason of the list is about anybody's health.
#[test]
fn reasons_are_about_what_was_going_on() {
    let telling = ["medical", "fail", "fit", "ill", "health", "mask", "respirator", "cardiac", "test"];
    for reason in LeadEntryReason::ALL {
        assert!(reason.as_str().split('_').all(|word| !telling.contains(&word)), "{reason}");
    }
}
