//! What is set up before the day: supplies, respirators, the roster, permissions, the day with its stations, the gates.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use serde_json::{Value, json};
use uuid::Uuid;

use super::{
    api::Api,
    invent::{self, Person, RESPIRATORS},
    once,
    runs::{BITTER, SWEET},
};

/// Microlitres in a bottle and in one filling of a nebulizer.
const BOTTLE_UL: i64 = 55_000;
/// About one millilitre at a time (29 CFR 1910.134 App. A I.B.3(a)(13)).
pub(super) const FILL_UL: i64 = 1_000;
/// Stations that fill from one pair of bottles, of either lot.
const STATIONS_TO_A_BOTTLE: usize = 8;
/// How old a gate's knowledge may be; common practice, no source.
const KNOWLEDGE_AGE_SECONDS: i64 = 12 * 3600;

/// The signed-in staff.
pub(super) struct Staff {
    pub(super) coordinator: Api,
    pub(super) check_in: Api,
    pub(super) storekeeper: Api,
    pub(super) badge_desk: Api,
    pub(super) clinician: Api,
    pub(super) admin: Api,
    pub(super) testers: Vec<Api>,
}

/// What later acts need to know of what was set up.
pub(super) struct Stage {
    pub(super) day_id: String,
    pub(super) respirators: Vec<String>,
    /// The lot of facepieces of each respirator.
    pub(super) facepiece_lots: Vec<String>,
    pub(super) stations: Vec<String>,
    /// For each agent and solution the bottles that may be filled from, of two lots by turns.
    pub(super) bottles: Vec<(&'static str, &'static str, Vec<String>)>,
    /// A bottle that expired last month.
    pub(super) expired_bottle: String,
    /// The first lot of the sweet test solution, which is called back at the end.
    pub(super) recalled_lot: String,
    /// How the measuring station's files are read.
    pub(super) reading_mapping: String,
    /// The ids the server knows the people by, in the order of the roster.
    pub(super) person_ids: Vec<String>,
    pub(super) gates: Vec<Gate>,
}

impl Stage {
    /// The bottle of an agent and solution that a station fills from: neighbours use different lots.
    pub(super) fn bottle(&self, agent: &str, solution: &str, station: usize) -> Option<&str> {
        let of = self.bottles.iter().find(|(of, held, _)| *of == agent && *held == solution);
        of.and_then(|(_, _, bottles)| bottles.get(station % bottles.len().max(1))).map(String::as_str)
    }
}

/// A gate with its own device.
pub(super) struct Gate {
    pub(super) id: String,
    pub(super) device: Api,
}

pub(super) fn new_id() -> String {
    Uuid::now_v7().to_string()
}

pub(super) fn id_of(body: &Value) -> String {
    body["id"].as_str().unwrap_or_default().to_owned()
}

/// Sets everything up as it would be on the morning of the day.
pub(super) fn set(
    staff: &Staff,
    people: &[Person],
    opens_at: DateTime<Utc>,
    closes_at: DateTime<Utc>,
) -> anyhow::Result<Stage> {
    let respirators = respirators(&staff.coordinator)?;
    let (bottles, expired_bottle, recalled_lot) =
        supplies(&staff.storekeeper, opens_at, staff.testers.len())?;
    let person_ids = roster(&staff.coordinator, people)?;
    permissions(&staff.clinician, people, &person_ids, opens_at)?;
    let rule_set = once::rule_set(&staff.coordinator, opens_at)?;
    let reading_mapping = once::reading_mapping(&staff.coordinator, opens_at)?;
    once::face_panel(&staff.coordinator, opens_at)?;
    once::preparation(&staff.storekeeper, opens_at)?;
    let day = json!({
        "id": new_id(), "place": "Assembly hall", "opens_at": opens_at, "closes_at": closes_at,
        "rule_set": rule_set,
    });
    let day_id = id_of(&staff.coordinator.post("/api/v1/days", &day)?);
    let stations = (1..=staff.testers.len())
        .map(|number| {
            let measures = number == staff.testers.len();
            let parts = if measures { json!(["measuring"]) } else { json!(["screening", "testing"]) };
            let station = json!({
                "id": new_id(), "name": format!("Station {number}"), "parts": parts,
                "hood_forbids_bending": number == 1,
            });
            Ok(id_of(&staff.coordinator.post(&format!("/api/v1/days/{day_id}/stations"), &station)?))
        })
        .collect::<anyhow::Result<_>>()?;
    let gates = gates(staff, &respirators, opens_at)?;
    Ok(Stage {
        day_id,
        respirators,
        facepiece_lots: Vec::new(),
        stations,
        bottles,
        expired_bottle,
        recalled_lot,
        reading_mapping,
        person_ids,
        gates,
    })
}

fn respirators(coordinator: &Api) -> anyhow::Result<Vec<String>> {
    RESPIRATORS
        .iter()
        .map(|[make, model, style, size, facepiece, class]| {
            let body = json!({
                "id": new_id(), "make": make, "model": model, "style": style, "size": size,
                "facepiece": facepiece, "filter_class": class,
            });
            Ok(id_of(&coordinator.post("/api/v1/respirators", &body)?))
        })
        .collect::<anyhow::Result<Vec<_>>>()
        .and_then(|respirators| {
            // The number of the first one's approval was read off its box only afterwards, and how wards call it.
            if let Some(first) = respirators.first() {
                let read = json!({ "approval_number": "OS-0117", "other_names": ["the trolley one"] });
                coordinator.patch(&format!("/api/v1/respirators/{first}"), 1, &read)?;
            }
            Ok(respirators)
        })
}

type Bottles = Vec<(&'static str, &'static str, Vec<String>)>;

/// Two lots of everything are on site, so that one may be called back; each bottle serves a few stations.
fn supplies(
    storekeeper: &Api,
    opens_at: DateTime<Utc>,
    stations: usize,
) -> anyhow::Result<(Bottles, String, String)> {
    let received = opens_at - TimeDelta::days(30);
    // As the labels have it: each maker in its own way.
    let next_year = (opens_at + TimeDelta::days(400)).format("%b %Y").to_string().to_uppercase();
    let last_month = (opens_at - TimeDelta::days(35)).format("%m/%Y").to_string();
    let mut bottles = Vec::new();
    let mut recalled_lot = String::new();
    let count = (stations / STATIONS_TO_A_BOTTLE).max(1) * 2;
    for (number, (agent, solution)) in
        [(SWEET, "screening"), (SWEET, "test"), (BITTER, "screening"), (BITTER, "test")]
            .into_iter()
            .enumerate()
    {
        let number = 4100 + 2 * number;
        let lots = [number, number + 1]
            .map(|number| lot(storekeeper, agent, solution, &format!("SL-{number}"), &next_year, received));
        let [first, second] = lots;
        let (first, second) = (first?, second?);
        let made = (0..count).map(|turn| {
            let lot = if turn % 2 == 0 { &first } else { &second };
            bottle(storekeeper, lot, &format!("B{number}-{turn}"), received, opens_at)
        });
        bottles.push((agent, solution, made.collect::<anyhow::Result<_>>()?));
        if (agent, solution) == (SWEET, "test") {
            recalled_lot = first;
        }
    }
    let lot = lot(storekeeper, SWEET, "test", "SL-3977", &last_month, received)?;
    let expired = bottle(storekeeper, &lot, "B009", received, opens_at)?;
    Ok((bottles, expired, recalled_lot))
}

fn lot(
    storekeeper: &Api,
    agent: &str,
    solution: &str,
    number: &str,
    expiry: &str,
    at: DateTime<Utc>,
) -> anyhow::Result<String> {
    let body = json!({
        "id": new_id(), "agent": agent, "solution": solution, "lot_number": number,
        "lot_number_again": number, "printed_expiry": expiry, "printed_expiry_again": expiry,
        "maker": "Brenning Optics", "happened_at": at,
    });
    Ok(id_of(&storekeeper.post("/api/v1/lots", &body)?))
}

fn bottle(
    storekeeper: &Api,
    lot: &str,
    label: &str,
    received: DateTime<Utc>,
    opens_at: DateTime<Utc>,
) -> anyhow::Result<String> {
    let body = json!({
        "id": new_id(), "lot_id": lot, "label": label, "volume_ul": BOTTLE_UL, "happened_at": received,
    });
    let id = id_of(&storekeeper.post("/api/v1/bottles", &body)?);
    let opening = json!({ "id": new_id(), "happened_at": opens_at - TimeDelta::minutes(40) });
    storekeeper.post(&format!("/api/v1/bottles/{id}/openings"), &opening)?;
    Ok(id)
}

/// Previews the roster, takes it, and finds out which ids the people got.
fn roster(coordinator: &Api, people: &[Person]) -> anyhow::Result<Vec<String>> {
    let file = invent::roster(people);
    coordinator.post_bytes("/api/v1/roster_imports/previews", "text/csv", file.as_bytes())?;
    let path = format!("/api/v1/roster_imports?id={}", new_id());
    coordinator.post_bytes(&path, "text/csv", file.as_bytes())?;
    let mut ids = std::collections::HashMap::new();
    for person in coordinator.list("/api/v1/people")? {
        ids.insert(person["staff_number"].as_str().unwrap_or_default().to_owned(), id_of(&person));
    }
    people
        .iter()
        .map(|person| {
            let id = ids.remove(&person.staff_number);
            id.ok_or_else(|| anyhow::anyhow!("the roster lost staff number {}", person.staff_number))
        })
        .collect()
}

fn permissions(
    clinician: &Api,
    people: &[Person],
    ids: &[String],
    opens_at: DateTime<Utc>,
) -> anyhow::Result<()> {
    let decided = opens_at - TimeDelta::days(20);
    for (person, id) in people.iter().zip(ids).filter(|(person, _)| person.traits.permitted) {
        let decision = if person.unit == "Radiology" { "permitted_with_limits" } else { "permitted" };
        let body = permission(decision, decided.date_naive(), decided);
        clinician.post(&format!("/api/v1/people/{id}/permissions"), &body)?;
    }
    Ok(())
}

/// A clinician's decision from a date on.
pub(super) fn permission(decision: &str, from: NaiveDate, at: DateTime<Utc>) -> Value {
    let limits = (decision == "permitted_with_limits").then_some("no longer than two hours without a pause");
    json!({ "id": new_id(), "decision": decision, "limits": limits, "valid_from": from, "happened_at": at })
}

/// Three gates: one that accepts any respirator of a class, one that accepts one model and knows its next one ahead, and
/// one for which nobody has decided anything yet.
fn gates(staff: &Staff, respirators: &[String], opens_at: DateTime<Utc>) -> anyhow::Result<Vec<Gate>> {
    let switch_at = opens_at + TimeDelta::days(7);
    let one = |number: usize| json!({ "respirator_id": respirators[number] });
    let mut former = one(2);
    former["until"] = json!(switch_at + TimeDelta::days(5));
    let policies = [
        vec![(opens_at, json!([{ "facepiece": "filtering_facepiece" }, { "filter_class": "P100" }]))],
        vec![(opens_at, json!([one(2)])), (switch_at, json!([one(0), former]))],
        vec![],
    ];
    ["Heron ward", "Plover ward", "New annex"]
        .into_iter()
        .zip(policies)
        .map(|(name, policies)| {
            let id = id_of(&staff.coordinator.post("/api/v1/gates", &json!({ "id": new_id(), "name": name }))?);
            for (effective_from, accepts) in policies {
                let policy = json!({
                    "id": new_id(), "effective_from": effective_from, "accepts": accepts, "none_needed": false,
                    "knowledge_age_max_seconds": KNOWLEDGE_AGE_SECONDS, "happened_at": opens_at, "leads": [],
                    "fallback": "Ask the ward lead, who may let the person in under their own name.",
                });
                staff.coordinator.post(&format!("/api/v1/gates/{id}/policies"), &policy)?;
            }
            let device = json!({ "id": new_id(), "name": format!("Reader at {name}"), "role": "gate", "gate_id": id });
            let device = staff.admin.post("/api/v1/devices", &device)?;
            let token = device["token"].as_str().unwrap_or_default();
            Ok(Gate { id, device: staff.coordinator.with_token(token) })
        })
        .collect()
}
