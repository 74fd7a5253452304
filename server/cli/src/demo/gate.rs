//! The next morning at the gates: every badge is scanned, and with them what should not be let in.

use anyhow::Context;
use chrono::{DateTime, TimeDelta, Utc};
use sellion_badge::{
    ClearedRespirator, SigningKey, code,
    token::{self, BadgeClaims},
};
use serde_json::json;

use super::{
    desk::Badge,
    stage::{Gate, Staff, Stage, new_id, permission},
};

/// What a shop prints on a loyalty card.
const SHOP_CARD: &str = "https://example.com/card/883120";

/// Scans a text at a gate and returns the answer's word.
pub(super) fn scan(gate: &Gate, text: &str, at: DateTime<Utc>) -> anyhow::Result<String> {
    let body = json!({ "id": new_id(), "code": text, "happened_at": at });
    let answer = gate.device.post(&format!("/api/v1/gates/{}/scans", gate.id), &body)?;
    answer["answer"].as_str().map(str::to_owned).context("an answer without its word")
}

/// A badge somebody made at home: the right form, signed with a key of their own.
fn forged(at: DateTime<Utc>) -> anyhow::Result<String> {
    let claims = BadgeClaims {
        issuer: "Marrowfield".to_owned(),
        serial: sellion_badge::serial::Serial::from_number(4711)?,
        issued_at: at,
        expires_at: at + TimeDelta::days(300),
        status_index: 1,
        respirators: vec![ClearedRespirator {
            code: "1".to_owned(),
            due_on: at.date_naive() + TimeDelta::days(299),
        }],
    };
    Ok(code::pack(&token::sign(&claims, &SigningKey::generate()?)?)?)
}

/// A true badge with one letter of its code changed.
fn altered(text: &str) -> String {
    let mut letters: Vec<char> = text.chars().collect();
    let middle = letters.len() / 2;
    if let Some(letter) = letters.get_mut(middle) {
        *letter = if *letter == '7' { '8' } else { '7' };
    }
    letters.into_iter().collect()
}

/// Lets everybody pass, then tries what must not.
pub(super) fn morning(
    staff: &Staff,
    stage: &Stage,
    badges: &[Badge],
    at: DateTime<Utc>,
    mut done: impl FnMut(),
) -> anyhow::Result<()> {
    let [heron, plover, annex] = &stage.gates[..] else { anyhow::bail!("there are three gates") };
    for (number, badge) in badges.iter().enumerate() {
        // One in four works behind the other door, where only one model is accepted.
        scan(if number % 4 == 3 { plover } else { heron }, &badge.code, at)?;
        done();
    }
    scan(heron, SHOP_CARD, at)?;
    scan(heron, &forged(at)?, at)?;
    let Some(first) = badges.first() else { return Ok(()) };
    scan(heron, &altered(&first.code), at)?;
    // A gate for which nobody has set a policy yet.
    scan(annex, &first.code, at)?;
    mislaid(staff, heron, first, at)?;
    if let Some(lost) = badges.get(1) {
        let ending = json!({ "id": new_id(), "reason": "lost", "happened_at": at });
        staff.badge_desk.post(&format!("/api/v1/badges/{}/endings", lost.id), &ending)?;
        scan(heron, &lost.code, at)?;
        out_of_reach(heron, &lost.code, at)?;
    }
    if let Some(ended) = badges.get(2) {
        let decision = permission("not_now", at.date_naive() - TimeDelta::days(1), at);
        staff.clinician.post(&format!("/api/v1/people/{}/permissions", ended.person_id), &decision)?;
        scan(heron, &ended.code, at)?;
    }
    if let Some(swapped) = badges.get(3) {
        withdraw(staff, stage, swapped, at)?;
        scan(heron, &swapped.code, at)?;
    }
    Ok(())
}

/// What the door answered while its cable was unplugged comes in later: the badge that had just been reported lost.
fn out_of_reach(gate: &Gate, text: &str, at: DateTime<Utc>) -> anyhow::Result<()> {
    let given = json!({ "answer": "enter", "known_at": at - TimeDelta::hours(1), "clock_showed": at });
    let body = json!({ "id": new_id(), "code": text, "happened_at": at, "given": given });
    gate.device.post(&format!("/api/v1/gates/{}/scans", gate.id), &body)?;
    Ok(())
}

/// A badge that its person cannot find is held, and let go when it turns up in another coat.
fn mislaid(staff: &Staff, gate: &Gate, badge: &Badge, at: DateTime<Utc>) -> anyhow::Result<()> {
    let hold = json!({ "id": new_id(), "reason": "lost_reported", "happened_at": at });
    let held = staff.badge_desk.post(&format!("/api/v1/badges/{}/holds", badge.id), &hold)?;
    anyhow::ensure!(held["status"] == "held", "a badge with a hold is held");
    scan(gate, &badge.code, at)?;
    let id = hold["id"].as_str().unwrap_or_default();
    let release = json!({ "id": new_id(), "reason": "back_with_person", "happened_at": at });
    staff.badge_desk.post(&format!("/api/v1/badge_holds/{id}/releases"), &release)?;
    scan(gate, &badge.code, at)?;
    Ok(())
}

/// A tester noticed that two people had changed seats: the attempt does not count, and nobody pretends it never was.
fn withdraw(staff: &Staff, stage: &Stage, badge: &Badge, at: DateTime<Utc>) -> anyhow::Result<()> {
    let path = format!("/api/v1/attempts?person_id={}&day_id={}", badge.person_id, stage.day_id);
    let attempts = staff.coordinator.list(&path)?;
    let pass = attempts.iter().find(|attempt| attempt["verdict"]["outcome"] == "pass");
    let id = pass.and_then(|attempt| attempt["id"].as_str()).context("a badge without a pass behind it")?;
    let body = json!({ "id": new_id(), "reason": "another person was in the chair", "happened_at": at });
    staff.coordinator.post(&format!("/api/v1/attempts/{id}/corrections"), &body)?;
    Ok(())
}
