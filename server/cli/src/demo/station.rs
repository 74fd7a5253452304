//! A station at work: one tester who calls, screens, tests, refills, and keeps their own clock.

use std::{
    collections::{HashMap, HashSet},
    sync::{
        Mutex,
        atomic::{AtomicBool, Ordering},
    },
    thread,
    time::Duration,
};

use anyhow::{Context, bail};
use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};

use super::{
    api::Api,
    invent::{Mishap, Person},
    runs::{self, Events, SWEET},
    stage::{FILL_UL, Stage, new_id},
    stores,
};

/// Events sent with one request.
const BATCH: usize = 8;
/// Seconds for wiping the hood and the next person's sitting down; common practice, no source.
const TURNOVER_SECONDS: i64 = 80;
/// Minutes after which a station refills rather than let the four hours end in the middle of a test.
const REFILL_MINUTES: i64 = 220;
/// How long a station waits, on the wall clock, for others to be done with somebody.
const POLL: Duration = Duration::from_millis(20);

/// What the stations share: what has become of each person so far.
pub(super) struct Day<'a> {
    pub(super) stage: &'a Stage,
    pub(super) people: HashMap<String, &'a Person>,
    pub(super) told: Mutex<Told>,
    /// Nobody starts anything that could end after this.
    pub(super) last_start: DateTime<Utc>,
    /// A station could not go on; the others need not wait for it.
    pub(super) broken_off: AtomicBool,
}

/// What came out, for the summary.
#[derive(Debug, Default)]
pub(super) struct Told {
    pub(super) screenings: u64,
    /// Whether a file of readings was taken.
    file_read: bool,
    /// People whose one mishap has happened.
    mishaps: HashSet<String>,
    /// People who did not come when they were first called.
    late: HashSet<String>,
}

/// One station.
pub(super) struct Station<'a> {
    day: &'a Day<'a>,
    tester: Api,
    id: &'a str,
    number: usize,
    /// What it does; whoever has been screened is served before the next one is.
    steps: &'static [&'static str],
    clock: DateTime<Utc>,
    /// When the nebulizers of each agent were filled.
    filled_at: HashMap<String, DateTime<Utc>>,
}

impl<'a> Station<'a> {
    pub(super) fn new(day: &'a Day<'a>, tester: Api, number: usize, opens_at: DateTime<Utc>) -> Self {
        Self {
            day,
            tester,
            id: &day.stage.stations[number],
            number,
            steps: if number + 1 == day.stage.stations.len() {
                &["measuring"]
            } else {
                &["testing", "screening"]
            },
            clock: opens_at,
            filled_at: HashMap::new(),
        }
    }

    /// Calls one person after another until nobody is left, or another station cannot go on.
    pub(super) fn work(mut self, done: impl Fn()) -> anyhow::Result<()> {
        let worked = self.serve_everybody(done);
        if worked.is_err() {
            self.day.broken_off.store(true, Ordering::Relaxed);
        }
        worked
    }

    fn serve_everybody(&mut self, done: impl Fn()) -> anyhow::Result<()> {
        while self.clock < self.day.last_start && !self.day.broken_off.load(Ordering::Relaxed) {
            let mut soonest = None;
            let mut called = None;
            for step in self.steps {
                match self.call(step)? {
                    Ok(call) => {
                        called = Some(call);
                        break;
                    }
                    Err(at) => soonest = soonest.into_iter().chain(at).min(),
                }
            }
            match called {
                Some(call) => {
                    self.serve(&call)?;
                    done();
                }
                None => match soonest {
                    Some(at) => self.clock = self.clock.max(at),
                    None if self.everybody_is_done()? => return Ok(()),
                    None => thread::sleep(POLL),
                },
            }
        }
        Ok(())
    }

    /// The call of the next person, or when somebody will be ready.
    fn call(&self, step: &str) -> anyhow::Result<Result<Value, Option<DateTime<Utc>>>> {
        let body = json!({ "id": new_id(), "step": step, "happened_at": self.clock });
        let answer = self.tester.try_post(&format!("/api/v1/stations/{}/calls", self.id), &body)?;
        let body = answer.json()?;
        if answer.status == 201 {
            return Ok(Ok(body));
        }
        if answer.refusal().as_deref() != Some("nobody_ready") {
            bail!("station {} may not call: {}", self.number + 1, body["detail"]);
        }
        Ok(Err(body["next_ready_at"].as_str().map(str::parse).transpose()?))
    }

    /// Whether nobody waits and nobody is being served anywhere.
    fn everybody_is_done(&self) -> anyhow::Result<bool> {
        let queue = self.tester.get(&format!("/api/v1/days/{}/queue", self.day.stage.day_id))?;
        let items = queue["items"].as_array().context("a queue without items")?;
        // Somebody who is held back by a missing permission is not coming any more today.
        Ok(items.iter().all(|entry| entry["hold_reasons"].as_array().is_some_and(|holds| !holds.is_empty())))
    }

    /// Screens and tests whoever was called, for as long as the next step can be done here and now.
    fn serve(&mut self, call: &Value) -> anyhow::Result<()> {
        let visit_id = call["visit"]["id"].as_str().context("a visit without an id")?;
        let person_id = call["visit"]["person_id"].as_str().context("a visit without a person")?;
        let person = *self.day.people.get(person_id).context("a person nobody invented")?;
        if person.traits.slow_to_come && self.told().late.insert(person_id.to_owned()) {
            return self.give_back(visit_id);
        }
        let mut next = call["next_step"].clone();
        loop {
            next = match next["step"].as_str() {
                Some("screen") if next["not_before"].is_null() => self.screen(visit_id, person, &next)?,
                Some("attempt") if next["not_before"].is_null() => {
                    self.test(visit_id, person_id, person, &next)?
                }
                Some("measure") if self.steps.contains(&"measuring") => {
                    self.measure(visit_id, person, &next)?
                }
                _ => break,
            };
        }
        self.clock += TimeDelta::seconds(TURNOVER_SECONDS);
        Ok(())
    }

    /// Nobody came: the person keeps a place in the queue, and the next one is called.
    fn give_back(&mut self, visit_id: &str) -> anyhow::Result<()> {
        self.clock += TimeDelta::seconds(TURNOVER_SECONDS);
        let body = json!({ "id": new_id(), "reason": "not_there", "happened_at": self.clock });
        self.tester.post(&format!("/api/v1/visits/{visit_id}/returns"), &body)?;
        Ok(())
    }

    /// One screening; returns what comes next.
    fn screen(&mut self, visit_id: &str, person: &Person, next: &Value) -> anyhow::Result<Value> {
        let agent = next["agent"].as_str().context("a screening without an agent")?;
        let body = json!({
            "id": new_id(), "visit_id": visit_id, "station_id": self.id, "agent": agent,
            "happened_at": self.clock,
        });
        let screening = self.start("/api/v1/screenings", &body, agent)?;
        self.told().screenings += 1;
        let events = runs::screening(&person.traits, agent, self.clock);
        self.post_events("screenings", &screening, events)
    }

    /// One attempt on the first respirator that is not excluded; returns what comes next.
    fn test(
        &mut self,
        visit_id: &str,
        person_id: &str,
        person: &Person,
        next: &Value,
    ) -> anyhow::Result<Value> {
        let (place, respirator) = self.first_free(next)?;
        let agent = next["agent"].as_str().unwrap_or(SWEET);
        let body = json!({
            "id": new_id(), "visit_id": visit_id, "station_id": self.id, "respirator_id": respirator,
            "screening_id": next["screening"], "facepiece_lot_id": self.day.stage.facepiece_lots.get(place),
            "happened_at": self.clock,
        });
        let attempt = self.start("/api/v1/attempts", &body, agent)?;
        let mishap = self.mishap_of(person_id, person);
        let events = runs::attempt(&person.traits, place, mishap, &attempt["plan"], self.clock);
        self.post_events("attempts", &attempt, events)
    }

    /// The first respirator of the offer that is not excluded, with its place there.
    pub(super) fn first_free(&self, next: &Value) -> anyhow::Result<(usize, &'a str)> {
        let excluded = next["excluded_respirators"].as_array();
        let is_free = |id: &str| !excluded.is_some_and(|ids| ids.iter().any(|other| other == id));
        let mut offer = self.day.stage.respirators.iter().map(String::as_str).enumerate();
        offer.find(|(_, id)| is_free(id)).context("every respirator is excluded")
    }

    /// Everybody has one mishap at most.
    fn mishap_of(&self, person_id: &str, person: &Person) -> Option<Mishap> {
        let mishap = person.traits.mishap?;
        self.told().mishaps.insert(person_id.to_owned()).then_some(mishap)
    }

    /// Starts a run, refilling the nebulizers first when the server says so or their four hours could end meanwhile.
    fn start(&mut self, path: &str, body: &Value, agent: &str) -> anyhow::Result<Value> {
        let filled_at = self.filled_at.get(agent);
        if filled_at.is_some_and(|at| self.clock - at > TimeDelta::minutes(REFILL_MINUTES)) {
            self.refill(agent)?;
        }
        for _ in 0..3 {
            let answer = self.tester.try_post(path, body)?;
            match answer.refusal().as_deref() {
                None => return answer.json(),
                Some("fill_missing" | "fill_too_old") => self.refill(agent)?,
                Some("nebulizer_out") => {
                    self.mend()?;
                    self.refill(agent)?;
                }
                Some(code) => {
                    bail!("{path} at station {}: {code} {}", self.number + 1, answer.json()?["detail"])
                }
            }
        }
        bail!("station {} cannot get a usable fill", self.number + 1)
    }

    /// Rinses what was found clogged here, and sees that it sprays again.
    fn mend(&mut self) -> anyhow::Result<()> {
        let mine = format!("{}-", self.number + 1);
        for thing in self.tester.list("/api/v1/equipment")? {
            let clogged = thing["state"] == "clogged"
                && thing["label"].as_str().is_some_and(|label| label.starts_with(&mine));
            if !clogged {
                continue;
            }
            for finding in ["rinsed", "sprays"] {
                let check = json!({ "id": new_id(), "finding": finding, "happened_at": self.clock });
                let path = format!("/api/v1/equipment/{}/checks", thing["id"].as_str().unwrap_or_default());
                self.tester.post(&path, &check)?;
            }
        }
        Ok(())
    }

    /// Rinses and refills both nebulizers of an agent.
    fn refill(&mut self, agent: &str) -> anyhow::Result<()> {
        for solution in ["screening", "test"] {
            let bottle = self.day.stage.bottle(agent, solution, self.number).context("a bottle")?;
            let nebulizer = stores::nebulizer(self.number, agent, solution);
            let fill = json!({
                "id": new_id(), "station_id": self.id, "bottle_id": bottle, "nebulizer": nebulizer,
                "volume_ul": FILL_UL, "rinsed": true, "happened_at": self.clock,
            });
            self.tester.post("/api/v1/fills", &fill)?;
        }
        self.filled_at.insert(agent.to_owned(), self.clock);
        Ok(())
    }

    /// Sends the events of a new run, and returns what comes next.
    pub(super) fn post_events(&mut self, kind: &str, run: &Value, events: Events) -> anyhow::Result<Value> {
        Ok(self.post_all(kind, run, 1, &events)?["next_step"].take())
    }

    /// Sends more events of an attempt, after those it has, and returns what comes next.
    pub(super) fn post_events_from(&mut self, attempt: &Value, events: Events) -> anyhow::Result<Value> {
        let next = attempt["state"]["next_seq"].as_u64().and_then(|next| u32::try_from(next).ok());
        let next = next.context("an attempt without a next number")?;
        Ok(self.post_all("attempts", attempt, next, &events)?["next_step"].take())
    }

    /// Sends the events in order, a few at a time, as a station does while it works; the run as it stands then.
    pub(super) fn post_all(
        &mut self,
        kind: &str,
        run: &Value,
        first: u32,
        events: &Events,
    ) -> anyhow::Result<Value> {
        let path = format!("/api/v1/{kind}/{}/events", run["id"].as_str().unwrap_or_default());
        let mut last = Value::Null;
        let numbered: Vec<Value> =
            (first..).zip(events).map(|(seq, (at, event))| with_place(event, seq, *at)).collect();
        for batch in numbered.chunks(BATCH) {
            last = self.tester.post(&path, &json!({ "events": batch }))?;
        }
        self.clock = events.last().map_or(self.clock, |(at, _)| *at);
        Ok(last)
    }

    /// Its id.
    pub(super) fn id(&self) -> &'a str {
        self.id
    }

    /// Its own clock.
    pub(super) fn clock(&self) -> DateTime<Utc> {
        self.clock
    }

    /// Who works here.
    pub(super) fn tester(&self) -> &Api {
        &self.tester
    }

    /// Moves its clock on to the end of a run.
    pub(super) fn advance_to(&mut self, run: &Value) {
        let ended_at = run["state"]["verdict"]["ended_at"].as_str().and_then(|at| at.parse().ok());
        self.clock = ended_at.unwrap_or(self.clock);
    }

    /// The mapping for a file of readings, the first time it is asked for.
    pub(super) fn take_mapping(&self) -> Option<&'a str> {
        let mut told = self.told();
        let first = !told.file_read;
        told.file_read = true;
        first.then_some(self.day.stage.reading_mapping.as_str())
    }

    fn told(&self) -> std::sync::MutexGuard<'a, Told> {
        self.day.told.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }
}

fn with_place(event: &Value, seq: u32, at: DateTime<Utc>) -> Value {
    let mut event = event.clone();
    event["seq"] = json!(seq);
    event["happened_at"] = json!(at);
    event
}
