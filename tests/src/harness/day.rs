//! A day with its stations, its people and its solutions, as the actors of a day set them up.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{
    RunQueryDsl, sql_query,
    sql_types::{Bool, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::roles::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use super::{Client, Hospital};

/// How long ago the supplies of the tests came: before the first filling of any of them.
const CAME_SECONDS: i64 = 6 * 3600;
/// How long ago what lasts only days was made: not yesterday, if it can be helped.
const MADE_SECONDS: i64 = 7200;

/// The id in an answer.
#[must_use]
pub fn id_of(value: &Value) -> Uuid {
    value["id"].as_str().and_then(|id| id.parse().ok()).unwrap_or_else(|| panic!("no id: {value}"))
}

/// The time in a member of an answer.
#[must_use]
pub fn time_of(value: &Value) -> DateTime<Utc> {
    value.as_str().and_then(|text| text.parse().ok()).unwrap_or_else(|| panic!("no time: {value}"))
}

/// Answers that hold nobody back.
#[must_use]
pub fn good_answers() -> Value {
    json!({ "hair_at_seal": false, "feels_well": true, "face_changed": false })
}

impl Hospital {
    /// A day that is on.
    #[must_use]
    pub fn day(&self) -> Value {
        self.signed_in(Role::Coordinator).post("/api/v1/days", &self.day_body()).ok(201)
    }

    /// What describes a day that is on.
    #[must_use]
    pub fn day_body(&self) -> Value {
        json!({
            "id": Uuid::now_v7(), "place": "Heron ward", "opens_at": self.ago(6 * 3600),
            "closes_at": self.now() + TimeDelta::hours(6),
        })
    }

    /// A station of the day that can do these parts.
    #[must_use]
    pub fn station(&self, day: &Value, name: &str, parts: &[&str]) -> Value {
        let body = json!({ "id": Uuid::now_v7(), "name": name, "parts": parts });
        let path = format!("/api/v1/days/{}/stations", id_of(day));
        self.signed_in(Role::Coordinator).post(&path, &body).ok(201)
    }

    /// Somebody of the site, added by the back door; with a permission from last week on, or with none.
    #[must_use]
    pub fn db_person(&self, site_id: Uuid, permitted: bool) -> Uuid {
        let id = Uuid::now_v7();
        sql_query("insert into people (id, site_id, staff_number, given_name, family_name) values ($1, $2, $3, $4, $5)")
            .bind::<SqlUuid, _>(id)
            .bind::<SqlUuid, _>(site_id)
            .bind::<Text, _>(id.simple().to_string())
            .bind::<Text, _>("Ines")
            .bind::<Text, _>("Valdrun")
            .execute(&mut self.db())
            .expect("a person");
        if permitted {
            self.db_permission(id, true);
        }
        id
    }

    /// A clinician's decision from last week on, added by the back door.
    pub fn db_permission(&self, person_id: Uuid, permitted: bool) {
        sql_query(
            "insert into permissions
                 (id, site_id, person_id, decision, valid_from, happened_at, recorded_at, recorded_by)
             select $1, site_id, id, case when $3 then 'permitted' else 'not_now' end,
                 ($4 - interval '7 days')::date, $4, $4, $1
             from people where id = $2",
        )
        .bind::<SqlUuid, _>(Uuid::now_v7())
        .bind::<SqlUuid, _>(person_id)
        .bind::<Bool, _>(permitted)
        .bind::<Timestamptz, _>(self.now())
        .execute(&mut self.db())
        .expect("a permission");
    }

    /// Checks somebody in who was ready at `at`.
    pub fn check_in(&self, desk: &Client, day: &Value, person_id: Uuid, at: DateTime<Utc>) -> Value {
        desk.post("/api/v1/visits", &visit_body(day, person_id, at)).ok(201)
    }

    /// A lot that its label lets use until the end of the century; what lasts only days is made in-house instead.
    #[must_use]
    pub fn lot(&self, agent: &str, solution: &str) -> Value {
        if (agent, solution) == ("isoamyl_acetate", "screening") {
            let id = Uuid::now_v7();
            let body = json!({
                "id": id, "agent": agent, "solution": solution, "lot_number": id.simple().to_string(),
                "made_by": "Ines Valdrun", "happened_at": self.ago(MADE_SECONDS),
            });
            return self.signed_in(Role::Storekeeper).post("/api/v1/preparations", &body).ok(201);
        }
        let body = lot_body(agent, solution, "2099-12", self.ago(CAME_SECONDS));
        self.signed_in(Role::Storekeeper).post("/api/v1/lots", &body).ok(201)
    }

    /// A bottle of the lot, opened when it came, on the table where every station fills.
    #[must_use]
    pub fn opened_bottle(&self, lot: &Value) -> Value {
        let storekeeper = self.signed_in(Role::Storekeeper);
        let mut body = bottle_body(lot, self.ago(CAME_SECONDS));
        body["place_id"] = json!(self.filling_table());
        let bottle = storekeeper.post("/api/v1/bottles", &body).ok(201);
        let opening = json!({ "id": Uuid::now_v7(), "happened_at": self.ago(CAME_SECONDS) });
        storekeeper.post(&format!("/api/v1/bottles/{}/openings", id_of(&bottle)), &opening).ok(201)
    }

    /// A nebulizer of the station, registered if it is not, and filled from the bottle.
    pub fn fill(&self, station: &Value, bottle: &Value, nebulizer: &str, at: DateTime<Utc>) -> Value {
        self.registers(nebulizer);
        let body = fill_body(station, bottle, nebulizer, at);
        self.signed_in(Role::Storekeeper).post("/api/v1/fills", &body).ok(201)
    }

    /// Makes the person's last day lie three days back.
    pub fn left(&self, person_id: Uuid) {
        let desk = self.signed_in(Role::CheckIn);
        let last_day = (self.now() - TimeDelta::days(3)).date_naive();
        desk.patch(&format!("/api/v1/people/{person_id}"), 1, &json!({ "left_on": last_day })).ok(200);
    }
}

/// What describes a check-in at `at`.
#[must_use]
pub fn visit_body(day: &Value, person_id: Uuid, at: DateTime<Utc>) -> Value {
    json!({
        "id": Uuid::now_v7(), "day_id": id_of(day), "person_id": person_id, "happened_at": at,
        "answers": good_answers(),
    })
}

/// What describes a lot.
#[must_use]
pub fn lot_body(agent: &str, solution: &str, printed_expiry: &str, at: DateTime<Utc>) -> Value {
    let id = Uuid::now_v7();
    json!({
        "id": id, "agent": agent, "solution": solution, "lot_number": id.simple().to_string(),
        "lot_number_again": id.simple().to_string(), "printed_expiry": printed_expiry,
        "printed_expiry_again": printed_expiry, "maker": "Brenning Optics", "happened_at": at,
    })
}

/// What describes a bottle of a lot.
#[must_use]
pub fn bottle_body(lot: &Value, at: DateTime<Utc>) -> Value {
    let id = Uuid::now_v7();
    json!({
        "id": id, "lot_id": id_of(lot), "label": id.simple().to_string(), "volume_ul": 55_000,
        "happened_at": at,
    })
}

/// What describes a filling.
#[must_use]
pub fn fill_body(station: &Value, bottle: &Value, nebulizer: &str, at: DateTime<Utc>) -> Value {
    json!({
        "id": Uuid::now_v7(), "station_id": id_of(station), "bottle_id": id_of(bottle),
        "nebulizer": nebulizer, "volume_ul": 2_000, "rinsed": true, "happened_at": at,
    })
}
