//! The badge desk: a badge for everybody who is cleared for anything, and the sheets to print them from.

use std::{fs, path::Path};

use anyhow::Context;
use chrono::{DateTime, Utc};
use serde_json::{Value, json};

use super::{api::Api, stage::new_id};

/// Badges asked for with one request.
const SHEET: usize = 1000;

/// A printed badge.
pub(super) struct Badge {
    pub(super) id: String,
    pub(super) person_id: String,
    pub(super) code: String,
}

/// Makes a badge for each person the server finds cleared.
pub(super) fn badges(
    badge_desk: &Api,
    people: &[String],
    at: DateTime<Utc>,
    mut done: impl FnMut(),
) -> anyhow::Result<Vec<Badge>> {
    let mut badges = Vec::new();
    for person_id in people {
        let body = json!({ "id": new_id(), "person_id": person_id, "happened_at": at });
        let answer = badge_desk.try_post("/api/v1/badges", &body)?;
        match answer.refusal().as_deref() {
            None => badges.push(badge(person_id, &answer.json()?)?),
            Some("not_cleared") => {}
            Some(code) => anyhow::bail!("no badge for a person: {code} {}", answer.json()?["detail"]),
        }
        done();
    }
    Ok(badges)
}

fn badge(person_id: &str, body: &Value) -> anyhow::Result<Badge> {
    let text = |name: &str| {
        body[name].as_str().map(str::to_owned).with_context(|| format!("a badge without {name}"))
    };
    Ok(Badge { id: text("id")?, person_id: person_id.to_owned(), code: text("code")? })
}

/// Writes the sheets, ten badges to an A4 page; more than a thousand badges make more than one file.
pub(super) fn print(badge_desk: &Api, badges: &[Badge], folder: &Path) -> anyhow::Result<()> {
    for (number, badges) in badges.chunks(SHEET).enumerate() {
        let ids: Vec<&str> = badges.iter().map(|badge| badge.id.as_str()).collect();
        let body = json!({ "layout": "a4_sheet", "badge_ids": ids }).to_string();
        let pdf = badge_desk.post_bytes("/api/v1/badge_sheets", "application/json", body.as_bytes())?;
        let name = if number == 0 { "badges.pdf".to_owned() } else { format!("badges-{}.pdf", number + 1) };
        fs::write(folder.join(&name), pdf).with_context(|| format!("{name} cannot be written"))?;
    }
    Ok(())
}
