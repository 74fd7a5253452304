//! Screenings and attempts as a station plays them, told in seconds from a virtual start.

use std::cell::Cell;

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use super::{Client, Hospital, day::id_of};

/// Seconds from the opening of an attempt to its first dose, in every run told here.
pub const FIRST_DOSE: i64 = 320;

/// Seconds from the first dose to the end of the last exercise.
pub const EXERCISES: i64 = 420;

/// Events of one run, each with its second.
#[derive(Debug, Clone)]
pub struct Script {
    zero: DateTime<Utc>,
    events: Vec<Value>,
}

impl Script {
    /// An empty script whose seconds are counted from `zero`.
    #[must_use]
    pub fn from(zero: DateTime<Utc>) -> Self {
        Self { zero, events: Vec::new() }
    }

    /// One more event at this second.
    #[must_use]
    pub fn then(mut self, second: i64, mut event: Value) -> Self {
        event["seq"] = json!(self.events.len() + 1);
        event["happened_at"] = json!(self.zero + TimeDelta::seconds(second));
        self.events.push(event);
        self
    }

    /// A screening in which the agent is tasted in the set of this level, or in none of three.
    #[must_use]
    pub fn screened(self, level: Option<u8>) -> Self {
        let sets = level.map_or(3, |level| i64::from(level / 10));
        let explained = self.then(10, json!({ "kind": "explained" }));
        (1..=sets).fold(explained, |script, set| {
            let tasted = level.is_some() && set == sets;
            let squeezes = if tasted { 7 } else { 10 };
            script.then(10 + 30 * set, json!({ "kind": "set_done", "tasted": tasted, "squeezes": squeezes }))
        })
    }

    /// An attempt up to the moment before the first dose.
    #[must_use]
    pub fn fitted(self) -> Self {
        self.then(10, json!({ "kind": "donned", "by_wearer": true }))
            .then(40, json!({ "kind": "seal_checked", "result": "ok" }))
            .then(300, json!({ "kind": "hooded", "taste_gone": true }))
    }

    /// A dose of so many squeezes, so many seconds after the first one.
    #[must_use]
    pub fn dose(self, after_first: i64, squeezes: u8) -> Self {
        self.then(FIRST_DOSE + after_first, json!({ "kind": "dose_given", "squeezes": squeezes }))
    }

    /// These exercises at full length, one after the other, with a dose every 30 seconds.
    #[must_use]
    pub fn exercises(mut self, numbers: std::ops::RangeInclusive<i64>, redose: u8) -> Self {
        for number in numbers {
            let begin = 60 * (number - 1);
            self = self.then(FIRST_DOSE + begin, json!({ "kind": "exercise_started", "number": number }));
            self = self.dose(begin + 30, redose);
            if number < 7 {
                self = self.dose(begin + 60, redose);
            }
            self = self.then(FIRST_DOSE + begin + 60, json!({ "kind": "exercise_ended", "number": number }));
        }
        self
    }

    /// The last question, the look at the nebulizer, and the signature.
    #[must_use]
    pub fn closed(self) -> Self {
        let end = FIRST_DOSE + EXERCISES;
        self.then(end + 5, json!({ "kind": "asked_again", "tasted": false, "comfortable": true }))
            .then(end + 10, json!({ "kind": "nebulizer_checked", "clear": true }))
            .then(end + 20, json!({ "kind": "signed" }))
    }

    /// A whole attempt at this level that ends in this way.
    #[must_use]
    pub fn attempt(self, level: u8, ending: Ending) -> Self {
        let (fitted, redose) = (self.fitted(), level / 2);
        match ending {
            Ending::Pass => fitted.dose(0, level).exercises(1..=7, redose).closed(),
            Ending::Fail => fitted
                .dose(0, level)
                .exercises(1..=2, redose)
                .then(FIRST_DOSE + 125, json!({ "kind": "tasted" }))
                .then(FIRST_DOSE + 140, json!({ "kind": "signed" })),
            Ending::Void => fitted
                .dose(0, level)
                .exercises(1..=1, redose)
                .then(FIRST_DOSE + 70, json!({ "kind": "adjusted" })),
            Ending::Stopped => fitted.dose(0, level).then(FIRST_DOSE + 12, json!({ "kind": "unwell" })),
        }
    }

    /// The events from this number on.
    #[must_use]
    pub fn events(&self, from_seq: usize) -> Value {
        json!({ "events": self.events.get(from_seq - 1..).unwrap_or_default() })
    }

    /// All of it, as it is sent.
    #[must_use]
    pub fn body(&self) -> Value {
        self.events(1)
    }
}

/// How an attempt is to end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// Nothing is tasted.
    Pass,
    /// The agent is tasted in the third exercise.
    Fail,
    /// The respirator is adjusted in the second exercise.
    Void,
    /// The wearer is unwell after the first dose.
    Stopped,
}

/// A room with one station that screens and tests, and the tester in it.
pub struct Room<'h> {
    hospital: &'h Hospital,
    /// The day.
    pub day: Value,
    /// The station.
    pub station: Value,
    /// Who sits there.
    pub tester: Client,
    /// Who checks people in.
    pub desk: Client,
    fills: Cell<u32>,
}

impl Hospital {
    /// A room on a day of its own, its nebulizers filled with saccharin at `filled_at`.
    #[must_use]
    pub fn room(&self, filled_at: DateTime<Utc>) -> Room<'_> {
        let day = self.day();
        let station = self.station(&day, "Room 2", &["screening", "testing"]);
        let (tester, desk) = (self.signed_in(Role::Tester), self.signed_in(Role::CheckIn));
        let room = Room { hospital: self, day, station, tester, desk, fills: Cell::new(0) };
        room.fill_with("saccharin", filled_at);
        room
    }

    /// Lets the person pass on the respirator, 20 minutes ago, on a day and in a room of their own.
    pub fn passes(&self, person_id: Uuid, respirator_id: Uuid) -> Value {
        self.tests(person_id, respirator_id, Ending::Pass, self.ago(1200))
    }

    /// Lets the person be checked in, screened at level 10 and tested from `at` on, in a room of their own.
    pub fn tests(&self, person_id: Uuid, respirator_id: Uuid, ending: Ending, at: DateTime<Utc>) -> Value {
        let room = self.room(at - TimeDelta::minutes(10));
        let visit = room.check_in(person_id, at);
        let screening = room.screens(&visit, Some(10), at);
        room.tests(&visit, respirator_id, &screening, ending, at + TimeDelta::seconds(120))
    }
}

impl Room<'_> {
    /// Fills two nebulizers from new bottles of new lots; returns the lots of screening and test solution.
    pub fn fill_with(&self, agent: &str, at: DateTime<Utc>) -> (Value, Value) {
        let filled = |solution: &str| {
            let lot = self.hospital.lot(agent, solution);
            let bottle = self.hospital.opened_bottle(&lot);
            self.fills.set(self.fills.get() + 1);
            let nebulizer = format!("{} {solution}", self.fills.get());
            let _ = self.hospital.fill(&self.station, &bottle, &nebulizer, at);
            lot
        };
        (filled("screening"), filled("test"))
    }

    /// Checks somebody in who may be tested at once.
    pub fn check_in(&self, person_id: Uuid, at: DateTime<Utc>) -> Value {
        self.hospital.check_in(&self.desk, &self.day, person_id, at)
    }

    /// Calls whoever is next for this step.
    pub fn call(&self, step: &str, at: DateTime<Utc>) -> Value {
        let body = json!({ "id": Uuid::now_v7(), "step": step, "happened_at": at });
        self.tester.post(&format!("/api/v1/stations/{}/calls", id_of(&self.station)), &body).ok(201)
    }

    /// What describes a screening.
    #[must_use]
    pub fn screening(&self, visit: &Value, agent: &str, at: DateTime<Utc>) -> Value {
        json!({
            "id": Uuid::now_v7(), "visit_id": id_of(visit), "station_id": id_of(&self.station),
            "agent": agent, "happened_at": at,
        })
    }

    /// Calls the person and screens them with saccharin, level or none.
    pub fn screens(&self, visit: &Value, level: Option<u8>, at: DateTime<Utc>) -> Value {
        self.screens_with("saccharin", visit, level, at)
    }

    /// Calls the person and screens them; returns the screening as it ended.
    pub fn screens_with(&self, agent: &str, visit: &Value, level: Option<u8>, at: DateTime<Utc>) -> Value {
        let called = self.call("screening", at);
        assert_eq!(called["visit"]["id"], visit["id"], "somebody else was next");
        let screening = self.tester.post("/api/v1/screenings", &self.screening(visit, agent, at)).ok(201);
        self.append_screening(&screening, &Script::from(at).screened(level))
    }

    /// Sends the events of a screening.
    pub fn append_screening(&self, screening: &Value, script: &Script) -> Value {
        let path = format!("/api/v1/screenings/{}/events", id_of(screening));
        self.tester.post(&path, &script.body()).ok(200)
    }

    /// What describes an attempt.
    #[must_use]
    pub fn attempt(&self, visit: &Value, respirator: Uuid, screening: &Value, at: DateTime<Utc>) -> Value {
        json!({
            "id": Uuid::now_v7(), "visit_id": id_of(visit), "station_id": id_of(&self.station),
            "respirator_id": respirator, "screening_id": id_of(screening), "happened_at": at,
        })
    }

    /// Opens an attempt and plays it to its end; returns the attempt as it ended.
    pub fn tests(
        &self,
        visit: &Value,
        respirator_id: Uuid,
        screening: &Value,
        ending: Ending,
        at: DateTime<Utc>,
    ) -> Value {
        let body = self.attempt(visit, respirator_id, screening, at);
        let attempt = self.tester.post("/api/v1/attempts", &body).ok(201);
        let level =
            attempt["plan"]["doses"]["first_dose"].as_u64().and_then(|level| u8::try_from(level).ok());
        let script = Script::from(at).attempt(level.expect("a level"), ending);
        self.tester.post(&events_path(&attempt), &script.body()).ok(200)
    }
}

/// Where the events of an attempt go.
#[must_use]
pub fn events_path(attempt: &Value) -> String {
    format!("/api/v1/attempts/{}/events", id_of(attempt))
}
