//! The stores as a storekeeper works them: places, things that go from one to another, and what is counted.

use chrono::{DateTime, Utc};
use sellion_rules::{roles::Role, ruleset::RuleSet};
use sellion_store::{StoreError, fill};
use serde_json::{Value, json};
use uuid::Uuid;

use super::{
    Client, Hospital, RULE_SET,
    day::{bottle_body, id_of, lot_body},
};

impl Hospital {
    /// The storeroom that the site began with.
    #[must_use]
    pub fn storeroom(&self) -> Uuid {
        let places = self.signed_in(Role::Storekeeper).get("/api/v1/places").ok(200);
        let rooms = places["items"].as_array().cloned().unwrap_or_default();
        rooms.iter().find(|place| place["station_id"].is_null()).map(id_of).expect("a storeroom")
    }

    /// The table where nebulizers of every station are filled.
    #[must_use]
    pub fn filling_table(&self) -> Uuid {
        let storekeeper = self.signed_in(Role::Storekeeper);
        let places = storekeeper.get("/api/v1/places?limit=500").ok(200);
        let known = places["items"].as_array().cloned().unwrap_or_default();
        known.iter().find(|place| place["filling_point"] == true).map_or_else(
            || {
                let body = json!({ "id": Uuid::now_v7(), "name": "Filling table", "filling_point": true });
                id_of(&storekeeper.post("/api/v1/places", &body).ok(201))
            },
            id_of,
        )
    }

    /// Makes sure that a nebulizer of this label is registered.
    pub fn registers(&self, nebulizer: &str) {
        let storekeeper = self.signed_in(Role::Storekeeper);
        let known = storekeeper.get("/api/v1/equipment?limit=500").ok(200);
        let same = |thing: &Value| {
            let label = thing["label"].as_str().unwrap_or_default();
            thing["kind"] == "nebulizer" && label.eq_ignore_ascii_case(nebulizer)
        };
        if !known["items"].as_array().is_some_and(|things| things.iter().any(same)) {
            let _ = self.equipment("nebulizer", nebulizer);
        }
    }

    /// A lot that ends in this month.
    #[must_use]
    pub fn lot_until(&self, agent: &str, solution: &str, month: &str) -> Value {
        let body = lot_body(agent, solution, month, self.ago(7200));
        self.signed_in(Role::Storekeeper).post("/api/v1/lots", &body).ok(201)
    }

    /// A bottle of the lot in the storeroom, not opened yet.
    #[must_use]
    pub fn bottle(&self, lot: &Value) -> Value {
        let body = bottle_body(lot, self.ago(7200));
        self.signed_in(Role::Storekeeper).post("/api/v1/bottles", &body).ok(201)
    }

    /// The fill that a run at the station would use at that moment, or the code of why there is none.
    pub fn current_fill(
        &self,
        station: &Value,
        agent: &str,
        solution: &str,
        at: DateTime<Utc>,
    ) -> Result<Uuid, &'static str> {
        let rules = &RuleSet::newest(RULE_SET).expect("the rule set");
        let liquid = (agent.parse().expect("an agent"), solution.parse().expect("a solution"));
        let found = fill::current(&mut self.db(), self.site_id, id_of(station), liquid, (at, true), rules);
        found.map(|fill| fill.id).map_err(|error| match error {
            StoreError::Refused(refusal) => refusal.code.as_str(),
            other => panic!("no refusal: {other}"),
        })
    }

    /// A nebulizer or a hood in the storeroom.
    #[must_use]
    pub fn equipment(&self, kind: &str, label: &str) -> Value {
        let contact = (kind == "hood").then_some(120);
        let body = json!({
            "id": Uuid::now_v7(), "kind": kind, "label": label, "contact_seconds": contact,
            "happened_at": self.ago(7200),
        });
        self.signed_in(Role::Storekeeper).post("/api/v1/equipment", &body).ok(201)
    }
}

/// What describes a way from one place to another.
#[must_use]
pub fn placement_body(from: Option<Uuid>, to: Uuid, at: DateTime<Utc>) -> Value {
    json!({ "id": Uuid::now_v7(), "from_place_id": from, "to_place_id": to, "happened_at": at })
}

/// What describes a movement of what is in a bottle.
#[must_use]
pub fn movement_body(movement: &str, volume_ul: i64, at: DateTime<Utc>) -> Value {
    json!({
        "id": Uuid::now_v7(), "movement": movement, "volume_ul": volume_ul, "reason": "seen at the shelf",
        "happened_at": at,
    })
}

/// What describes a finding.
#[must_use]
pub fn check_body(finding: &str, at: DateTime<Utc>) -> Value {
    json!({ "id": Uuid::now_v7(), "finding": finding, "happened_at": at })
}

/// What a bottle holds by the books.
pub fn on_hand(client: &Client, bottle: &Value) -> i64 {
    let ledger = client.get(&format!("/api/v1/bottles/{}/ledger", id_of(bottle))).ok(200);
    let entries = ledger["entries"].as_array().cloned().unwrap_or_default();
    entries.last().and_then(|entry| entry["on_hand_ul"].as_i64()).expect("an entry")
}

/// The volumes of a lot in the list of balances.
pub fn volumes(client: &Client, lot: &Value) -> Value {
    let balances = client.get("/api/v1/balances?limit=500").ok(200);
    let items = balances["items"].as_array().cloned().unwrap_or_default();
    let of_lot = items.into_iter().find(|item| item["lot"]["id"] == lot["id"]).expect("the lot");
    assert_eq!(of_lot["volumes"]["astray_ul"], 0, "{of_lot}");
    of_lot["volumes"].clone()
}

/// A fill as it was recorded, without what becomes of it.
#[must_use]
pub fn recorded_fill(fill: &Value) -> Value {
    let mut fill = fill.clone();
    if let Some(members) = fill.as_object_mut() {
        members.retain(|name, _| !["refilled_at", "usable_until", "not_usable"].contains(&name.as_str()));
    }
    fill
}
