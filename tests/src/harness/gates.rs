//! What tests of badges and gates begin with: people, respirators and clearances by the back door, a gate by the front.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{
    RunQueryDsl,
    sql_types::{Integer, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::roles::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use super::{Client, Hospital};

impl Hospital {
    /// Adds a person by the back door.
    #[must_use]
    pub fn db_named_person(&self, given_name: &str, family_name: &str) -> Uuid {
        let id = Uuid::now_v7();
        diesel::sql_query(
            "insert into people (id, site_id, staff_number, given_name, family_name) \
             values ($1, $2, $1::text, $3, $4)",
        )
        .bind::<SqlUuid, _>(id)
        .bind::<SqlUuid, _>(self.site_id)
        .bind::<Text, _>(given_name)
        .bind::<Text, _>(family_name)
        .execute(&mut self.db())
        .expect("a person");
        id
    }

    /// Adds a half facepiece respirator by the back door.
    #[must_use]
    pub fn db_respirator(&self, number: i32) -> Uuid {
        let id = Uuid::now_v7();
        diesel::sql_query(
            "insert into respirators \
             (id, site_id, number, make, model, style, size, facepiece, filter_class, protection_factor) \
             values ($1, $2, $3, 'Orlevane', 'model ' || $3, 'fold', 'medium', 'filtering_facepiece', 'N95', 10)",
        )
        .bind::<SqlUuid, _>(id)
        .bind::<SqlUuid, _>(self.site_id)
        .bind::<Integer, _>(number)
        .execute(&mut self.db())
        .expect("a respirator");
        id
    }

    /// Writes what would follow from a pass a day ago, due in a year, without anybody being tested.
    pub fn db_clear(&self, person_id: Uuid, respirator_id: Uuid) {
        self.db_clearance(person_id, respirator_id, "cleared", self.now() + TimeDelta::days(364));
    }

    /// Writes a clearance in some state that lasts until some moment.
    pub fn db_clearance(&self, person_id: Uuid, respirator_id: Uuid, state: &str, until: DateTime<Utc>) {
        diesel::sql_query(
            "insert into clearances (person_id, respirator_id, site_id, state, reasons, tested_on, due_on, \
                                     valid_from, valid_until, computed_at) \
             values ($1, $2, $3, $4, '{}', $5::date, $6::date - 1, $5, $6, $5) \
             on conflict (person_id, respirator_id) \
             do update set state = excluded.state, due_on = excluded.due_on, valid_until = excluded.valid_until",
        )
        .bind::<SqlUuid, _>(person_id)
        .bind::<SqlUuid, _>(respirator_id)
        .bind::<SqlUuid, _>(self.site_id)
        .bind::<Text, _>(state)
        .bind::<Timestamptz, _>(self.now() - TimeDelta::days(1))
        .bind::<Timestamptz, _>(until)
        .execute(&mut self.db())
        .expect("a clearance");
    }

    /// Somebody who is cleared and whose visit to the day has ended, by the back door.
    #[must_use]
    pub fn db_passed(&self, day: &Value, family_name: &str, respirator_id: Uuid) -> Uuid {
        let person = self.db_named_person("Ines", family_name);
        self.db_clear(person, respirator_id);
        diesel::sql_query(
            "insert into visits (id, site_id, day_id, person_id, ticket, happened_at, recorded_at, recorded_by, step, \
                                 not_before, ready_at) \
             select $1, $2, $3, $4, 1 + count(*), $5, $5, $2, 'done', $5, $5 from visits where day_id = $3",
        )
        .bind::<SqlUuid, _>(Uuid::now_v7())
        .bind::<SqlUuid, _>(self.site_id)
        .bind::<SqlUuid, _>(super::day::id_of(day))
        .bind::<SqlUuid, _>(person)
        .bind::<Timestamptz, _>(self.ago(60))
        .execute(&mut self.db())
        .expect("a visit");
        person
    }

    /// A gate without a policy.
    #[must_use]
    pub fn gate(&self, name: &str) -> Uuid {
        let id = Uuid::now_v7();
        let coordinator = self.signed_in(Role::Coordinator);
        coordinator.post("/api/v1/gates", &json!({ "id": id, "name": name })).ok(201);
        id
    }

    /// A gate at which these respirators are in use, the preferred one first.
    #[must_use]
    pub fn gate_accepting(&self, name: &str, respirator_ids: &[Uuid]) -> Uuid {
        let id = self.gate(name);
        let coordinator = self.signed_in(Role::Coordinator);
        let path = format!("/api/v1/gates/{id}/policies");
        coordinator.post(&path, &self.policy(respirator_ids, false)).ok(201);
        id
    }

    /// The body of a policy in force since a minute ago.
    #[must_use]
    pub fn policy(&self, respirator_ids: &[Uuid], none_needed: bool) -> Value {
        let (id, since) = (Uuid::now_v7(), self.ago(60));
        let accepts: Vec<_> = respirator_ids.iter().map(|id| json!({ "respirator_id": id })).collect();
        json!({
            "id": id, "effective_from": since, "accepts": accepts, "none_needed": none_needed,
            "knowledge_age_max_seconds": 900, "fallback": "Call the lead.", "happened_at": since,
        })
    }

    /// Issues a badge and returns it as the badge desk sees it.
    pub fn badge(&self, desk: &Client, person_id: Uuid) -> Value {
        let body = json!({ "id": Uuid::now_v7(), "person_id": person_id, "happened_at": self.now() });
        desk.post("/api/v1/badges", &body).ok(201)
    }

    /// Asks for a badge for somebody who is cleared for nothing.
    pub fn badge_is_refused(&self, person_id: Uuid) {
        let body = json!({ "id": Uuid::now_v7(), "person_id": person_id, "happened_at": self.now() });
        self.signed_in(Role::BadgeDesk).post("/api/v1/badges", &body).refused(422, "not_cleared");
    }

    /// Scans the code of a badge.
    pub fn scan(&self, gatekeeper: &Client, gate_id: Uuid, code: &str) -> Value {
        let body = json!({ "id": Uuid::now_v7(), "code": code, "happened_at": self.now() });
        gatekeeper.post(&format!("/api/v1/gates/{gate_id}/scans"), &body).ok(201)
    }

    /// The device of a gate, with its token.
    #[must_use]
    pub fn gate_device(&self, gate_id: Uuid) -> Client {
        self.nobody().with_token(&self.gate_token(gate_id))
    }

    /// The token of a new device for a gate.
    #[must_use]
    pub fn gate_token(&self, gate_id: Uuid) -> String {
        let body = json!({ "id": Uuid::now_v7(), "name": "Left door", "role": "gate", "gate_id": gate_id });
        let made = self.signed_in(Role::Admin).post("/api/v1/devices", &body).ok(201);
        made["token"].as_str().expect("a token").to_owned()
    }
}
