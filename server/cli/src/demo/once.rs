//! What a site sets up once: its own rule set, how it reads its instrument's files, a panel, and a solution of its own.

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};

use super::{
    api::Api,
    stage::{id_of, new_id},
};

/// The site waits longer after a fail than its rule set asks for. Stricter, so nobody has to confirm it.
fn own_rules(day: &str) -> String {
    format!(
        "name = \"marrowfield\"\n\
         version = \"{day}.1\"\n\
         title = \"Marrowfield: 29 CFR 1910.134 and our own longer wait\"\n\
         based_on = [{{ name = \"us-29cfr1910-134\", version = \"2019-09-26.2\" }}]\n\n\
         [values.wait_after_fail_seconds]\n\
         value = 1200\n\
         unit = \"seconds\"\n\
         source = \"invented house rule 7\"\n\
         status = \"common_practice\"\n"
    )
}

/// Stores the site's own rule set; the name and version that days open under.
pub(super) fn rule_set(coordinator: &Api, opens_at: DateTime<Utc>) -> anyhow::Result<Value> {
    let decided_at = opens_at - TimeDelta::days(1);
    let document = own_rules(&decided_at.format("%Y-%m-%d").to_string());
    let body = json!({ "id": new_id(), "document": document, "happened_at": decided_at });
    let stored = coordinator.post("/api/v1/rule_sets", &body)?;
    Ok(json!({ "name": stored["name"], "version": stored["version"] }))
}

/// Remembers which cell of the invented instrument's files means what.
pub(super) fn reading_mapping(coordinator: &Api, opens_at: DateTime<Utc>) -> anyhow::Result<String> {
    let mapping = json!({
        "layout": {
            "rows": "row_per_exercise",
            "exercise": { "by": "column", "column": "exercise" },
            "columns": { "basis": "fit_factor", "fit_factor": "fit factor" },
        },
    });
    let body = json!({
        "id": new_id(), "name": "Counter 1, one line an exercise", "mapping": mapping, "happened_at": opens_at,
    });
    Ok(id_of(&coordinator.post("/api/v1/reading_mappings", &body)?))
}

/// Loads an invented panel of two cells: cells are data, and this one is nobody's.
pub(super) fn face_panel(coordinator: &Api, opens_at: DateTime<Utc>) -> anyhow::Result<()> {
    let cell = |name: &str, from: u32, below: u32| {
        json!({
            "name": name, "length_from_mm": from.to_string(), "length_below_mm": below.to_string(),
            "width_from_mm": "110", "width_below_mm": "165",
        })
    };
    let body = json!({
        "id": new_id(), "name": "invented panel", "source": "invented for the demonstration",
        "cells": [cell("shorter", 95, 117), cell("longer", 117, 140)], "happened_at": opens_at,
    });
    coordinator.post("/api/v1/face_panels", &body)?;
    Ok(())
}

/// The stock of isoamyl acetate that somebody made this morning: its last day follows from the recipe.
pub(super) fn preparation(storekeeper: &Api, opens_at: DateTime<Utc>) -> anyhow::Result<()> {
    let body = json!({
        "id": new_id(), "agent": "isoamyl_acetate", "solution": "stock", "lot_number": "OWN-001",
        "made_by": "Invented storekeeper", "happened_at": opens_at - TimeDelta::minutes(50),
    });
    storekeeper.post("/api/v1/preparations", &body)?;
    Ok(())
}
