//! Plays gates and badges at a hospital and writes down, for a reader that is not ours, the packs and the answers of the
//! server and of `sellion-gate` to the same questions. Usage: gate-cases DIRECTORY [CASES]

use std::{
    fs,
    io::Write,
    path::Path,
    process::{Command, Stdio},
    sync::atomic::{AtomicUsize, Ordering},
};

use anyhow::{Context, ensure};
use chrono::{DateTime, SecondsFormat, TimeDelta, Utc};
use sellion_badge::Serial;
use sellion_rules::roles::Role;
use sellion_tests::{
    harness::{Client, Hospital},
    program::gate_program,
};
use serde_json::{Value, json};
use uuid::Uuid;

const PEOPLE: u64 = 240;
const RESPIRATORS: usize = 5;
/// Questions reach so far beyond the packs, in seconds: most packs are too old by then, some are not.
const SPAN: u64 = 9 * 86_400;
/// Within that span badges become unclaimed.
const UNCLAIMED_DAYS: u32 = 4;

/// The same cases every time (a linear congruential generator with the constants of Knuth, TAOCP vol. 2, 3.3.4).
struct Draw(u64);

impl Draw {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % bound
    }

    fn one_of<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[usize::try_from(self.below(from.len() as u64)).unwrap_or_default()]
    }
}

struct Gate {
    id: Uuid,
    device: Client,
    token: String,
}

fn main() -> anyhow::Result<()> {
    let mut arguments = std::env::args().skip(1);
    let out = arguments.next().context("gate-cases DIRECTORY [CASES]")?;
    let cases: usize = arguments.next().map_or(Ok(10_000), |cases| cases.parse())?;
    let out = Path::new(&out);
    fs::create_dir_all(out)?;
    let hospital = Hospital::open();
    let mut draw = Draw(20_261_127);
    let respirators: Vec<Uuid> =
        (1..=RESPIRATORS).map(|number| hospital.db_respirator(number as i32)).collect();
    let gates = gates(&hospital, &respirators);
    let badges = badges(&hospital, &respirators, &mut draw);
    // Some days into the time that is asked about, what nobody handed over opens no gate.
    let closed = json!({ "unclaimed_badges_open_gates": false, "unclaimed_after_days": UNCLAIMED_DAYS });
    hospital.signed_in(Role::Admin).patch("/api/v1/sites/current", 1, &closed).ok(200);
    let keys = hospital.nobody().get("/.well-known/jwks.json").text();
    fs::write(out.join("jwks.json"), keys)?;
    for gate in &gates {
        let reply = gate.device.get("/api/v1/gate_pack");
        ensure!(reply.status == 200, "no pack: {}", reply.text());
        fs::write(out.join(format!("{}.pack", gate.id)), reply.text())?;
        let current = reply.header("sellion-pack-current").context("no word that the pack is current")?;
        fs::write(out.join(format!("{}.current", gate.id)), current)?;
        let fetched = program(&hospital, gate, out, "fetch", None)?;
        ensure!(fetched.0, "sellion-gate fetch: {}", fetched.1);
    }
    let begin = hospital.now() + TimeDelta::seconds(2);
    let cases: Vec<Value> = (0..cases)
        .map(|_| {
            let gate = draw.one_of(&gates).id;
            // Half of the questions are asked soon, when no pack is too old.
            let reach = if draw.below(2) == 0 { 800 } else { SPAN };
            let at = begin + TimeDelta::seconds(i64::try_from(draw.below(reach)).unwrap_or_default());
            json!({ "gate": gate, "at": moment(at), "text": text(&badges, &mut draw) })
        })
        .collect();
    hospital.clock.shift(TimeDelta::seconds(SPAN.cast_signed() + 3_600));
    let mut cases = asked(&gates, cases)?;
    for gate in &gates {
        tried(&hospital, gate, out, &mut cases)?;
    }
    fs::write(out.join("cases.json"), serde_json::to_string(&cases)?)?;
    Ok(())
}

/// To the second: a pack keeps moments of badges to the second, as the badges do.
fn moment(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// Gates of every kind: one respirator, two, a class, a change ahead, none needed for a time, one without a policy.
fn gates(hospital: &Hospital, respirators: &[Uuid]) -> Vec<Gate> {
    let coordinator = hospital.signed_in(Role::Coordinator);
    let named =
        |ids: &[Uuid]| -> Vec<Value> { ids.iter().map(|id| json!({ "respirator_id": id })).collect() };
    let day = |days| moment(hospital.now() + TimeDelta::days(days));
    let policies: [Vec<Value>; 6] = [
        vec![json!({ "accepts": named(&respirators[..1]) })],
        vec![json!({ "accepts": named(&respirators[1..3]), "knowledge_age_max_seconds": 864_000 })],
        vec![json!({ "accepts": [{ "filter_class": "N95" }], "knowledge_age_max_seconds": 864_000 })],
        vec![
            json!({ "accepts": named(&respirators[2..4]), "knowledge_age_max_seconds": 864_000 }),
            json!({ "accepts": named(&respirators[4..]), "effective_from": day(3), "knowledge_age_max_seconds": 864_000 }),
        ],
        vec![json!({
            "accepts": named(&respirators[..2]), "none_needed": true, "none_needed_until": day(4),
            "knowledge_age_max_seconds": 864_000,
        })],
        vec![],
    ];
    let made = policies.iter().enumerate().map(|(number, policies)| {
        let id = hospital.gate(&format!("Gate {number}"));
        for given in policies {
            let mut body = hospital.policy(&[], false);
            for (member, value) in given.as_object().into_iter().flatten() {
                body[member] = value.clone();
            }
            coordinator.post(&format!("/api/v1/gates/{id}/policies"), &body).ok(201);
        }
        let token = hospital.gate_token(id);
        Gate { id, device: hospital.nobody().with_token(&token), token }
    });
    made.collect()
}

/// People with badges, and afterwards everything that can become of them.
fn badges(hospital: &Hospital, respirators: &[Uuid], draw: &mut Draw) -> Vec<Value> {
    let desk = hospital.signed_in(Role::BadgeDesk);
    let states = ["cleared", "cleared", "held", "not_cleared"];
    let mut badges = Vec::new();
    for number in 0..PEOPLE {
        let person = hospital.db_named_person("Ines", &format!("Valdrun {number}"));
        hospital.db_clear(person, *draw.one_of(respirators));
        let badge = hospital.badge(&desk, person);
        if draw.below(12) == 0 {
            badges.push(badge.clone());
            // A second badge ends the first.
            badges.push(hospital.badge(&desk, person));
        } else {
            badges.push(badge.clone());
        }
        let path = format!("/api/v1/badges/{}", badge["id"].as_str().unwrap_or_default());
        let said =
            |reason: &str| json!({ "id": Uuid::now_v7(), "reason": reason, "happened_at": hospital.now() });
        match draw.below(12) {
            0 => drop(desk.post(&format!("{path}/endings"), &said("lost"))),
            1 => drop(desk.post(&format!("{path}/holds"), &said("under_review"))),
            // Refused where another badge replaced it: that one lies there then.
            2..9 => {
                let body = json!({ "id": Uuid::now_v7(), "happened_at": hospital.now() });
                drop(desk.post(&format!("{path}/hand_overs"), &body));
            }
            _ => {}
        }
        for respirator in respirators {
            if draw.below(3) == 0 {
                let until = hospital.now() + TimeDelta::seconds(draw.below(2 * SPAN).cast_signed() - 86_400);
                let state: &&str = draw.one_of(&states);
                hospital.db_clearance(person, *respirator, state, until);
            }
        }
    }
    badges
}

/// What somebody holds under the scanner.
fn text(badges: &[Value], draw: &mut Draw) -> String {
    let badge = draw.one_of(badges);
    let (code, serial) =
        (badge["code"].as_str().unwrap_or_default(), badge["serial"].as_str().unwrap_or_default());
    match draw.below(20) {
        0 => Serial::from_number(draw.below(1_000_000)).map(|serial| serial.to_string()).unwrap_or_default(),
        1 => format!("{}A", &code[..code.len() - 1]),
        2 => format!("{}{}", &code[..60], &code[61..]),
        3 => "4006381333931".to_owned(),
        4..9 => serial.to_owned(),
        _ => code.to_owned(),
    }
}

/// The server's answer to each, by eight gates at once.
fn asked(gates: &[Gate], mut cases: Vec<Value>) -> anyhow::Result<Vec<Value>> {
    let next = AtomicUsize::new(0);
    let answers: Vec<(usize, Value)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..8)
            .map(|_| {
                scope.spawn(|| {
                    let mut found = Vec::new();
                    while let Some((place, case)) = {
                        let place = next.fetch_add(1, Ordering::Relaxed);
                        cases.get(place).map(|case| (place, case))
                    } {
                        found.push((place, server_says(gates, case)));
                    }
                    found
                })
            })
            .collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap_or_default()).collect()
    });
    ensure!(answers.len() == cases.len(), "a question without an answer");
    for (place, answer) in answers {
        cases[place]["server"] = answer;
    }
    Ok(cases)
}

fn server_says(gates: &[Gate], case: &Value) -> Value {
    let text = case["text"].as_str().unwrap_or_default();
    let gate = gates.iter().find(|gate| case["gate"] == json!(gate.id)).expect("a gate");
    let how = if Serial::parse(text).is_ok() { "serial" } else { "code" };
    let body = json!({ "id": Uuid::now_v7(), how: text, "happened_at": case["at"] });
    let said = gate.device.post(&format!("/api/v1/gates/{}/scans", gate.id), &body).ok(201);
    said["answer"].clone()
}

/// What `sellion-gate` says to the questions of one gate, from the pack that it fetched.
fn tried(hospital: &Hospital, gate: &Gate, out: &Path, cases: &mut [Value]) -> anyhow::Result<()> {
    let mine = || cases.iter().enumerate().filter(|(_, case)| case["gate"] == json!(gate.id));
    let places: Vec<usize> = mine().map(|(place, _)| place).collect();
    let lines: String = mine()
        .map(|(_, case)| {
            let (at, text) =
                (case["at"].as_str().unwrap_or_default(), case["text"].as_str().unwrap_or_default());
            format!("{at}\t{text}\n")
        })
        .collect();
    let (done, told) = program(hospital, gate, out, "try", Some(lines))?;
    ensure!(done && told.lines().count() == places.len(), "sellion-gate try: {told}");
    for (place, line) in places.into_iter().zip(told.lines()) {
        let said: Value = serde_json::from_str(line)?;
        cases[place]["sellion_gate"] = said["answer"].clone();
    }
    Ok(())
}

fn program(
    hospital: &Hospital,
    gate: &Gate,
    out: &Path,
    what: &str,
    input: Option<String>,
) -> anyhow::Result<(bool, String)> {
    let mut child = Command::new(gate_program())
        .args([what, "--json", "--server", &hospital.server.base(), "--home"])
        .arg(out.join("homes").join(gate.id.to_string()))
        .env("SELLION_GATE_TOKEN", &gate.token)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()?;
    let mut stdin = child.stdin.take().context("a standard input")?;
    let feeder = std::thread::spawn(move || stdin.write_all(input.unwrap_or_default().as_bytes()));
    let done = child.wait_with_output()?;
    feeder.join().map_err(|_| anyhow::anyhow!("a thread ended badly"))??;
    Ok((done.status.success(), String::from_utf8(done.stdout)?))
}
