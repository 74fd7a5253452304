//! The stores: what comes in before the day, what goes to the stations, and what is counted when it is over.

use anyhow::Context;
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};

use super::{
    api::Api,
    runs::{BITTER, SWEET},
    stage::{Staff, Stage, id_of, new_id},
};

/// Facepieces of one size that a station begins with.
const PIECES_AT_STATION: usize = 40;
/// Facepieces of one size that stay in the storeroom.
const PIECES_KEPT: usize = 100;
/// How long the wipe of the invented hoods has to stay wet, in seconds.
const CONTACT_SECONDS: u32 = 60;
/// What was left of a fill in the invented syringe, in microlitres.
const REST_UL: i64 = 380;

/// Receives facepieces, nebulizers and hoods, and issues them to the stations and the bottles to the table where all
/// stations fill; the lots of the facepieces, by respirator.
pub(super) fn morning(staff: &Staff, stage: &Stage, opens_at: DateTime<Utc>) -> anyhow::Result<Vec<String>> {
    let storekeeper = &staff.storekeeper;
    let (received, issued) = (opens_at - TimeDelta::days(10), opens_at - TimeDelta::minutes(45));
    let storeroom = storeroom(storekeeper)?;
    let table =
        json!({ "id": new_id(), "name": "Filling table of the assembly hall", "filling_point": true });
    let table = id_of(&storekeeper.post("/api/v1/places", &table)?);
    for bottle in stage.bottles.iter().flat_map(|(_, _, bottles)| bottles) {
        let way = json!({
            "id": new_id(), "from_place_id": storeroom, "to_place_id": table, "happened_at": issued,
        });
        storekeeper.post(&format!("/api/v1/bottles/{bottle}/placements"), &way)?;
    }
    for (number, station) in stage.stations.iter().enumerate() {
        let hood = (format!("H{}", number + 1), "hood", Some(CONTACT_SECONDS));
        let nebulizers = [SWEET, BITTER].into_iter().flat_map(|agent| {
            ["screening", "test"].map(|solution| (nebulizer(number, agent, solution), "nebulizer", None))
        });
        for (label, kind, contact_seconds) in nebulizers.chain([hood]) {
            let thing = json!({
                "id": new_id(), "kind": kind, "label": label, "contact_seconds": contact_seconds,
                "happened_at": received,
            });
            let thing = id_of(&storekeeper.post("/api/v1/equipment", &thing)?);
            let way = json!({
                "id": new_id(), "from_place_id": storeroom, "to_place_id": station, "happened_at": issued,
            });
            storekeeper.post(&format!("/api/v1/equipment/{thing}/placements"), &way)?;
        }
    }
    let respirators = stage.respirators.iter().enumerate();
    respirators
        .map(|(number, respirator)| {
            let lot_number = format!("FP-{}", 800 + number);
            facepieces(storekeeper, stage, (respirator, &lot_number), &storeroom, (received, issued))
        })
        .collect()
}

/// The label of a station's nebulizer for one liquid.
pub(super) fn nebulizer(station: usize, agent: &str, solution: &str) -> String {
    format!("{}-{}-{solution}", station + 1, agent.get(..3).unwrap_or(agent))
}

/// Receives a lot of facepieces by the scanned labels of its boxes, and issues some to each station.
fn facepieces(
    storekeeper: &Api,
    stage: &Stage,
    (respirator, lot_number): (&str, &str),
    storeroom: &str,
    (received, issued): (DateTime<Utc>, DateTime<Utc>),
) -> anyhow::Result<String> {
    let count = PIECES_AT_STATION * stage.stations.len() + PIECES_KEPT;
    let lot = json!({
        "id": new_id(), "supply": "facepiece", "respirator_id": respirator,
        "label": format!("10{lot_number}\u{1d}30{count}"), "happened_at": received,
    });
    let lot = id_of(&storekeeper.post("/api/v1/lots", &lot)?);
    let movements = format!("/api/v1/lots/{lot}/movements");
    // As many as the label counts.
    let came = json!({
        "id": new_id(), "movement": "receive", "to_place_id": storeroom, "happened_at": received,
    });
    storekeeper.post(&movements, &came)?;
    for station in &stage.stations {
        let brought = json!({
            "id": new_id(), "movement": "move", "pieces": PIECES_AT_STATION, "from_place_id": storeroom,
            "to_place_id": station, "happened_at": issued,
        });
        storekeeper.post(&movements, &brought)?;
    }
    Ok(lot)
}

/// Empties and weighs, counts what is left, and names what nobody wrote down.
pub(super) fn evening(staff: &Staff, stage: &Stage, at: DateTime<Utc>) -> anyhow::Result<()> {
    let storekeeper = &staff.storekeeper;
    for station in &stage.stations {
        let fills = storekeeper.list(&format!("/api/v1/stations/{station}/fills"))?;
        if let Some(last) = fills.last() {
            let emptying =
                json!({ "id": new_id(), "discarded_ul": REST_UL, "rinsed": true, "happened_at": at });
            storekeeper.post(&format!("/api/v1/fills/{}/emptyings", id_of(last)), &emptying)?;
        }
    }
    let bottle = stage.bottle("saccharin", "test", 1).context("a bottle")?;
    let movements = format!("/api/v1/bottles/{bottle}/movements");
    let spill = json!({
        "id": new_id(), "movement": "spill", "volume_ul": 3_000, "guessed": true,
        "reason": "knocked over while clearing the table", "happened_at": at,
    });
    let left = storekeeper.post(&movements, &spill)?["on_hand_ul"].as_i64().context("a balance")?;
    let count = json!({
        "id": new_id(), "movement": "count", "volume_ul": left - 200, "reason": "counted at closing",
        "happened_at": at,
    });
    storekeeper.post(&movements, &count)?;
    weigh(staff, at)?;
    let station = stage.stations.get(1).context("two stations")?;
    let gap = json!({
        "id": new_id(), "station_id": station, "from": at - TimeDelta::hours(4),
        "until": at - TimeDelta::hours(4) + TimeDelta::minutes(40),
        "reason": "the sheet of the refills is missing", "happened_at": at,
    });
    staff.coordinator.post("/api/v1/fill_gaps", &gap)?;
    balanced(storekeeper)
}

/// A nebulizer is weighed before and after a hundred squeezes, and seen to spray.
fn weigh(staff: &Staff, at: DateTime<Utc>) -> anyhow::Result<()> {
    let equipment = staff.storekeeper.list("/api/v1/equipment")?;
    let nebulizer = equipment.iter().find(|thing| thing["kind"] == "nebulizer").context("a nebulizer")?;
    let path = format!("/api/v1/equipment/{}", id_of(nebulizer));
    let tester = staff.testers.first().context("a tester")?;
    let weighing = json!({
        "id": new_id(), "squeezes": 100, "before_mg": 24_310, "after_mg": 23_800, "scale_step_mg": 10,
        "happened_at": at,
    });
    tester.post(&format!("{path}/weighings"), &weighing)?;
    for finding in ["rinsed", "sprays"] {
        let check = json!({ "id": new_id(), "finding": finding, "happened_at": at });
        tester.post(&format!("{path}/checks"), &check)?;
    }
    // One that the others speak of in the stands: set aside until somebody has looked at it.
    let stop = json!({
        "id": new_id(), "equipment_id": nebulizer["id"], "from": at, "reason": "to be looked at overnight",
        "happened_at": at,
    });
    let stop = id_of(&staff.storekeeper.post("/api/v1/stops", &stop)?);
    let release = json!({ "id": new_id(), "reason": "it sprays as it should", "happened_at": at });
    staff.storekeeper.post(&format!("/api/v1/stops/{stop}/releases"), &release)?;
    Ok(())
}

/// The books are whole: nothing of any lot has gone astray.
fn balanced(storekeeper: &Api) -> anyhow::Result<()> {
    for balance in storekeeper.list("/api/v1/balances")? {
        let astray = &balance["volumes"]["astray_ul"];
        if *astray != Value::Null && *astray != 0 {
            anyhow::bail!("the books of a lot are not whole: {balance}");
        }
    }
    Ok(())
}

fn storeroom(storekeeper: &Api) -> anyhow::Result<String> {
    let places = storekeeper.list("/api/v1/places")?;
    places.iter().find(|place| place["station_id"].is_null()).map(id_of).context("a storeroom")
}
