//! People, permissions and respirators, as the actors of a day add them.

use chrono::TimeDelta;
use sellion_rules::roles::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use super::{Client, Hospital};

impl Hospital {
    /// Somebody from an agency with this staff number.
    #[must_use]
    pub fn person(&self, staff_number: &str) -> Value {
        let body = json!({
            "id": Uuid::now_v7(), "staff_number": staff_number, "given_name": "Ines",
            "family_name": format!("Valdrun {staff_number}"), "birth_date": "1988-04-17",
            "unit": "Heron ward", "kind": "temporary", "sponsor": "Tomas Brask, stores",
        });
        self.signed_in(Role::CheckIn).post("/api/v1/people", &body).ok(201)
    }

    /// Somebody who may wear a respirator from last week on.
    #[must_use]
    pub fn permitted_person(&self, staff_number: &str) -> Value {
        let person = self.person(staff_number);
        let _ = self.decision(&self.signed_in(Role::Clinician), &person, "permitted");
        person
    }

    /// A clinician's decision that holds from last week on.
    pub fn decision(&self, clinician: &Client, person: &Value, decision: &str) -> Value {
        let body = json!({
            "id": Uuid::now_v7(), "decision": decision, "happened_at": self.now(),
            "valid_from": (self.now() - TimeDelta::days(7)).date_naive(),
        });
        clinician.post(&permissions_path(person), &body).ok(201)
    }

    /// A respirator of this size.
    #[must_use]
    pub fn respirator(&self, size: &str) -> Value {
        let coordinator = self.signed_in(Role::Coordinator);
        coordinator.post("/api/v1/respirators", &respirator_body(size)).ok(201)
    }
}

/// Where the decisions about a person are.
#[must_use]
pub fn permissions_path(person: &Value) -> String {
    format!("/api/v1/people/{}/permissions", person["id"].as_str().expect("an id"))
}

/// What describes a filtering facepiece of this size.
#[must_use]
pub fn respirator_body(size: &str) -> Value {
    json!({
        "id": Uuid::now_v7(), "make": "Tarn & Vale", "model": "Linnet 2", "style": "folded", "size": size,
        "facepiece": "filtering_facepiece", "filter_class": "N95", "approval_number": "TV-0042",
    })
}
