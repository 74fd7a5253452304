//! A gate alone: how long a pack takes to make, to open and to answer from, beside the signature check of OpenSSL.

use std::{
    path::Path,
    process::Command,
    time::{Duration, Instant},
};

use anyhow::{Context, ensure};
use sellion_badge::{KeyRing, Pack, Read, pack::Moment};
use sellion_rules::{gate::Answer, roles::Role};
use sellion_tests::{harness::Client, program::gate_program};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::{
    Options,
    hospital::{Badges, Hospital},
    load::Times,
};

const PATH: &str = "/api/v1/gate_pack";
/// Starts of the program, and questions of each kind in a round.
const STARTS: usize = 20;
const QUESTIONS: usize = 2_000;

pub(crate) fn measure(hospital: &Hospital, badges: &Badges, options: &Options) -> anyhow::Result<Value> {
    let (admin, _) = hospital.signed_in(Role::Admin)?;
    let body =
        json!({ "id": Uuid::now_v7(), "name": "Left door", "role": "gate", "gate_id": badges.gate_id });
    let token = admin.post("/api/v1/devices", &body).ok(201)["token"].as_str().context("a token")?.to_owned();
    let device = Client::new(hospital.server.base()).with_token(&token);
    let (made, text) = fetched(&device)?;
    let (again, _) = fetched(&device)?;
    let ring = KeyRing::from_jwks(&device.get("/.well-known/jwks.json").text())?;
    let home = tempfile::tempdir()?;
    run(hospital, &token, home.path(), &["fetch"])?;
    let mut report = json!({
        "bytes": text.len(), "made_ms": ms(made), "held_ms": ms(again), "rounds": [],
    });
    for _ in 0..options.rounds {
        let ours = round(hospital, badges, (&ring, &text), (&token, home.path()))?;
        let theirs = openssl_verify_us()?;
        let (code_us, start_ms) = (ours["code_us"].as_f64(), ours["start_ms_p50"].as_f64());
        let mut round = ours;
        round["openssl_verify_us"] = json!(theirs);
        round["code_to_openssl_verify"] = json!(code_us.map(|us| us / theirs));
        round["start_within_50_ms"] = json!(start_ms.is_some_and(|ms| ms < 50.0));
        if let Some(rounds) = report["rounds"].as_array_mut() {
            rounds.push(round);
        }
    }
    Ok(report)
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

fn fetched(device: &Client) -> anyhow::Result<(Duration, String)> {
    let asked = Instant::now();
    let reply = device.get(PATH);
    ensure!(reply.status == 200, "no pack: {}", reply.text());
    Ok((asked.elapsed(), reply.text()))
}

/// Opening, answering within one process, and the whole program from its start to its end.
fn round(
    hospital: &Hospital,
    badges: &Badges,
    (ring, text): (&KeyRing, &str),
    (token, home): (&str, &Path),
) -> anyhow::Result<Value> {
    let opened = Instant::now();
    let pack = Pack::open(ring, text)?;
    let moment = Moment { at: hospital.clock.now(), known_at: hospital.clock.now(), clock_trusted: true };
    let first = pack.answer(&Read::code(&badges.codes[0]), moment)?;
    let open_and_first = opened.elapsed();
    ensure!(first.decision.answer == Answer::Enter, "{:?}", first.decision);
    let serial = first.serial.context("a badge")?.to_string();
    let each = |read: &dyn Fn(usize) -> Read| -> anyhow::Result<f64> {
        let begun = Instant::now();
        for number in 0..QUESTIONS {
            let told = pack.answer(&read(number), moment)?;
            ensure!(told.decision.answer == Answer::Enter, "{:?}", told.decision);
        }
        #[allow(clippy::cast_precision_loss, reason = "a mean")]
        let mean = begun.elapsed().as_secs_f64() * 1e6 / QUESTIONS as f64;
        Ok(mean)
    };
    let code_us = each(&|number| Read::code(&badges.codes[number * 37 % badges.codes.len()]))?;
    let typed_us = each(&|_| Read::typed(&serial))?;
    let mut starts = Times::default();
    for _ in 0..STARTS {
        let asked = Instant::now();
        run(hospital, token, home, &["check", &serial])?;
        starts.add(asked);
    }
    Ok(json!({
        "open_and_first_ms": ms(open_and_first), "code_us": code_us, "typed_us": typed_us,
        "start_ms_p50": starts.percentile_ms(0.5), "start_ms_p99": starts.percentile_ms(0.99),
    }))
}

/// The whole program: start, pack, answer, the scan on the disk.
fn run(hospital: &Hospital, token: &str, home: &Path, arguments: &[&str]) -> anyhow::Result<()> {
    let done = Command::new(gate_program())
        .args(arguments)
        .args(["--server", &hospital.server.base(), "--home"])
        .arg(home)
        .env("SELLION_GATE_TOKEN", token)
        .output()?;
    ensure!(done.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    Ok(())
}

/// One check of a P-256 signature by OpenSSL's own benchmark, in the same minute.
fn openssl_verify_us() -> anyhow::Result<f64> {
    let done = Command::new("openssl")
        .args(["speed", "-mr", "-seconds", "1", "ecdsap256"])
        .output()
        .context("openssl does not run: install openssl")?;
    let text = String::from_utf8_lossy(&done.stdout);
    // Machine-readable: +F4:number:bits:signatures a second:checks a second
    let mut verify =
        text.lines().filter_map(|line| line.strip_prefix("+F4:")?.split(':').nth(3)?.parse::<f64>().ok());
    let per_second = verify.next_back().context("openssl speed told nothing of ecdsap256")?;
    Ok(1e6 / per_second)
}
