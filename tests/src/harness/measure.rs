//! Measured attempts: a room with an instrument, and whoever was referred to it.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use super::{
    Client, Hospital,
    day::id_of,
    taste::{Script, events_path},
};

/// Seconds from the opening of a measured attempt to the instrument's start, in every run told here.
pub const STARTED: i64 = 320;

/// Seconds of the exercises of the modified protocol for filtering facepieces (29 CFR 1910.134 App. A Table A-2).
pub const MODIFIED: i64 = 149;

/// A room with one station that measures, and the tester in it.
pub struct MeasuringRoom<'h> {
    hospital: &'h Hospital,
    /// The day.
    pub day: Value,
    /// The station.
    pub station: Value,
    /// Who sits there.
    pub tester: Client,
}

impl Hospital {
    /// A room with an instrument, on a day of its own.
    #[must_use]
    pub fn measuring_room(&self) -> MeasuringRoom<'_> {
        let day = self.day();
        let station = self.station(&day, "Room 9", &["measuring"]);
        MeasuringRoom { hospital: self, day, station, tester: self.signed_in(Role::Tester) }
    }
}

impl MeasuringRoom<'_> {
    /// Checks somebody in, refers them, and calls them; returns the visit.
    pub fn called(&self, person_id: Uuid, at: DateTime<Utc>) -> Value {
        let visit = self.hospital.check_in(&self.hospital.signed_in(Role::CheckIn), &self.day, person_id, at);
        let referral = json!({ "id": Uuid::now_v7(), "visit_id": id_of(&visit), "reason": "cannot_taste", "happened_at": at });
        self.tester.post("/api/v1/referrals", &referral).ok(201);
        let call = json!({ "id": Uuid::now_v7(), "step": "measuring", "happened_at": at });
        let called =
            self.tester.post(&format!("/api/v1/stations/{}/calls", id_of(&self.station)), &call).ok(201);
        assert_eq!(called["visit"]["id"], visit["id"], "somebody else was next");
        visit
    }

    /// What describes an attempt by a method that measures.
    #[must_use]
    pub fn attempt(&self, visit: &Value, respirator: Uuid, method: &str, at: DateTime<Utc>) -> Value {
        json!({
            "id": Uuid::now_v7(), "visit_id": id_of(visit), "station_id": id_of(&self.station),
            "respirator_id": respirator, "method": method, "instrument": "Counter 2", "happened_at": at,
        })
    }

    /// Opens an attempt on a filtering facepiece by the modified protocol, ready for the instrument.
    pub fn opened(&self, visit: &Value, respirator: Uuid, at: DateTime<Utc>) -> Value {
        let body = self.attempt(visit, respirator, "modified_ambient_aerosol_filtering", at);
        let attempt = self.tester.post("/api/v1/attempts", &body).ok(201);
        self.tester.post(&events_path(&attempt), &Script::from(at).worn().body()).ok(200);
        attempt
    }

    /// Opens an attempt by the modified protocol and plays it with these four fit factors; as it ended.
    pub fn measures(&self, visit: &Value, respirator: Uuid, factors: [&str; 4], at: DateTime<Utc>) -> Value {
        let attempt = self.opened(visit, respirator, at);
        let measured = Script::from(at).worn().measured(factors);
        let done = self.tester.post(&events_path(&attempt), &measured.events(3)).ok(200);
        if done["state"]["verdict"].is_object() {
            return done;
        }
        self.tester.post(&events_path(&attempt), &measured.after_measuring().events(9)).ok(200)
    }
}

impl Script {
    /// Put on and checked, five minutes before the instrument starts.
    #[must_use]
    pub fn worn(self) -> Self {
        self.then(10, json!({ "kind": "donned", "by_wearer": true }))
            .then(20, json!({ "kind": "seal_checked", "result": "ok" }))
    }

    /// The four exercises of the modified protocol with these fit factors.
    #[must_use]
    pub fn measured(self, factors: [&str; 4]) -> Self {
        let started = self.then(STARTED, json!({ "kind": "measuring_started" }));
        let ends = [50, 80, 110, MODIFIED];
        let measured = (1..).zip(ends).zip(factors).fold(started, |script, ((exercise, end), factor)| {
            let reading = json!({ "basis": "fit_factor", "fit_factor": factor });
            script
                .then(STARTED + end, json!({ "kind": "measured", "exercise": exercise, "reading": reading }))
        });
        measured.then(STARTED + MODIFIED, json!({ "kind": "measuring_ended" }))
    }

    /// What comes after a fit that is good enough.
    #[must_use]
    pub fn after_measuring(self) -> Self {
        let end = STARTED + MODIFIED;
        self.then(end + 5, json!({ "kind": "asked_again", "tasted": false, "comfortable": true }))
            .then(end + 20, json!({ "kind": "modification_removed" }))
            .then(end + 25, json!({ "kind": "signed" }))
    }
}

/// A moment some seconds later.
#[must_use]
pub fn later(at: DateTime<Utc>, seconds: i64) -> DateTime<Utc> {
    at + TimeDelta::seconds(seconds)
}
