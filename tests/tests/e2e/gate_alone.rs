//! `sellion-gate` at the door: it answers with the network cut, keeps its scans through kill -9, and delivers each once.

use std::{
    collections::HashMap,
    io::{BufRead, BufReader, Write},
    os::unix::fs::PermissionsExt,
    path::PathBuf,
    process::{Child, ChildStdin, ChildStdout, Command, Output, Stdio},
    time::{Duration, Instant},
};

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::roles::Role;
use sellion_tests::{
    harness::{
        Hospital,
        cut::{Network, Proxy},
    },
    program::gate_program,
};
use serde_json::{Value, json};
use uuid::Uuid;

/// A door with its program's folder, its token, and people with badges: even ones are cleared, odd ones are not.
struct Door {
    hospital: Hospital,
    gate: Uuid,
    respirator: Uuid,
    people: Vec<(Uuid, Value)>,
    proxy: Proxy,
    folder: tempfile::TempDir,
}

impl Door {
    fn open(people: usize) -> Self {
        let hospital = Hospital::in_machine_time();
        let (respirator, other) = (hospital.db_respirator(1), hospital.db_respirator(2));
        let gate = hospital.gate_accepting("North entrance", &[respirator]);
        let desk = hospital.signed_in(Role::BadgeDesk);
        let people = (0..people).map(|number| {
            let person = hospital.db_named_person("Ines", &format!("Valdrun {number}"));
            hospital.db_clear(person, if number.is_multiple_of(2) { respirator } else { other });
            (person, hospital.badge(&desk, person))
        });
        let people = people.collect();
        let proxy = Proxy::before(&hospital.server.base());
        let folder = tempfile::tempdir().unwrap();
        let token = folder.path().join("token");
        std::fs::write(&token, hospital.gate_token(gate)).unwrap();
        std::fs::set_permissions(&token, std::fs::Permissions::from_mode(0o600)).unwrap();
        Self { hospital, gate, respirator, people, proxy, folder }
    }

    fn token(&self) -> PathBuf {
        self.folder.path().join("token")
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(gate_program());
        command.args(arguments).args(["--server", &self.proxy.base(), "--json"]);
        command.arg("--home").arg(self.folder.path().join("home")).arg("--token-file").arg(self.token());
        command
    }

    fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().unwrap()
    }

    fn ok(&self, arguments: &[&str]) -> String {
        let done = self.run(arguments);
        let told = String::from_utf8_lossy(&done.stderr).into_owned();
        assert!(done.status.success(), "{arguments:?}: {told}");
        String::from_utf8(done.stdout).unwrap()
    }

    /// The exit status and what was shown.
    fn check(&self, text: &str) -> (i32, Value) {
        let done = self.run(&["check", text]);
        (done.status.code().unwrap(), serde_json::from_slice(&done.stdout).unwrap())
    }

    fn status(&self) -> Value {
        serde_json::from_str(&self.ok(&["status"])).unwrap()
    }

    /// Every scan that the server has, by its id.
    fn stored(&self) -> HashMap<String, Value> {
        let auditor = self.hospital.signed_in(Role::Auditor);
        let mut found = HashMap::new();
        let mut path = format!("/api/v1/gates/{}/scans?limit=200", self.gate);
        loop {
            let page = auditor.get(&path).ok(200);
            for item in page["items"].as_array().unwrap() {
                let id = item["id"].as_str().unwrap().to_owned();
                assert!(found.insert(id, item.clone()).is_none(), "a scan that is there twice");
            }
            let Some(next) = page["next"].as_str() else { return found };
            path = format!("/api/v1/gates/{}/scans?limit=200&cursor={next}", self.gate);
        }
    }
}

/// The program as it stands at the door.
struct Watching {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
}

impl Watching {
    fn start(door: &Door) -> Self {
        let mut command = door.command(&["watch", "--refresh-seconds", "1"]);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut child = command.spawn().unwrap();
        let (input, output) = (child.stdin.take().unwrap(), BufReader::new(child.stdout.take().unwrap()));
        Self { child, input, output }
    }

    fn scan(&mut self, text: &str) -> Value {
        writeln!(self.input, "{text}\r").unwrap();
        self.input.flush().unwrap();
        let mut line = String::new();
        self.output.read_line(&mut line).unwrap();
        serde_json::from_str(&line).unwrap()
    }

    fn kill(mut self) {
        // SIGKILL: nothing of it runs any more.
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    fn finish(mut self) {
        drop(self.input);
        assert!(self.child.wait().unwrap().success());
    }
}

#[test]
fn five_hundred_scans_through_a_network_that_comes_and_goes_are_each_stored_once() {
    let door = Door::open(24);
    door.ok(&["fetch"]);
    let mut watching = Watching::start(&door);
    let mut shown = HashMap::new();
    let mut changed_at: Option<DateTime<Utc>> = None;
    for number in 0..500_usize {
        match number {
            100 => door.proxy.set(Network::Cut),
            // While nobody at the door can know: the first person is not cleared any more.
            150 => {
                changed_at = Some(door.hospital.now());
                let lasts = door.hospital.now() + TimeDelta::days(9);
                door.hospital.db_clearance(door.people[0].0, door.respirator, "not_cleared", lasts);
                // The server's word is in whole seconds: from here on it tells before from after.
                std::thread::sleep(Duration::from_millis(1_100));
            }
            200 | 320 => {
                watching.kill();
                watching = Watching::start(&door);
            }
            260 => door.proxy.set(Network::StoredUnheard),
            // Until two answers were lost: a scan whose answer was lost is stored, and sent again.
            340 => {
                let begun = Instant::now();
                while door.proxy.unheard() < 2 {
                    assert!(begun.elapsed() < Duration::from_secs(60), "nothing was sent");
                    std::thread::sleep(Duration::from_millis(50));
                }
                door.proxy.set(Network::Whole);
            }
            _ => {}
        }
        let place = number % door.people.len();
        let badge = &door.people[place].1;
        let text = if number % 7 == 0 { &badge["serial"] } else { &badge["code"] };
        let told = watching.scan(text.as_str().unwrap());
        let known_at: DateTime<Utc> = told["known_at"].as_str().unwrap().parse().unwrap();
        let unknown = changed_at.is_none_or(|changed| known_at < changed);
        let expected =
            if place.is_multiple_of(2) && (place != 0 || unknown) { "enter" } else { "not_cleared" };
        assert_eq!(told["answer"], expected, "scan {number}: {told}");
        assert_eq!(told["kept"], true);
        assert!(shown.insert(told["id"].as_str().unwrap().to_owned(), told).is_none());
    }
    watching.finish();
    door.ok(&["fetch"]);
    door.ok(&["deliver"]);
    let status = door.status();
    assert_eq!((&status["waiting"], &status["damaged"]), (&json!(0), &json!(0)), "{status}");
    assert_eq!(status["refused"], json!([]));
    let stored = door.stored();
    assert_eq!(stored.len(), 500, "none lost, none doubled");
    for (id, told) in &shown {
        assert_eq!(stored[id]["answer"], told["answer"], "kept as it was given");
    }
    assert_eq!(door.check(door.people[0].1["serial"].as_str().unwrap()).1["answer"], "not_cleared");
}

#[test]
fn every_answer_has_its_word_and_its_exit_status() {
    let door = Door::open(3);
    let (status, told) = door.check("7KQ2M-XW9RD");
    assert_eq!((status, &told["answer"]), (11, &json!("cannot_confirm")), "nothing is known yet: {told}");
    door.ok(&["fetch"]);
    let badge = |place: usize| door.people[place].1["code"].as_str().unwrap();
    let (status, told) = door.check(badge(0));
    assert_eq!((status, &told["answer"]), (0, &json!("enter")), "{told}");
    assert_eq!(told["respirator"], "Orlevane model 1 fold medium");
    assert_eq!(told.get("reason"), None);
    assert_eq!(door.check(badge(1)).0, 10);
    assert_eq!(door.check("https://shop.example/p/1").0, 12);
    let serial = door.people[2].1["serial"].as_str().unwrap();
    assert_eq!(door.check(&serial.to_lowercase()).0, 0, "typed");
    let status = door.status();
    assert_eq!(status["waiting"], 5, "every one of them is kept");
    door.ok(&["deliver"]);
    assert_eq!(door.stored().len(), 5);

    let lines = format!(
        "2026-01-01T00:00:00Z\t{serial}\n{}\t{serial}\n",
        (door.hospital.now() + TimeDelta::days(400)).to_rfc3339()
    );
    let mut child = door.command(&["try"]).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(lines.as_bytes()).unwrap();
    let told = String::from_utf8(child.wait_with_output().unwrap().stdout).unwrap();
    let answers: Vec<Value> = told.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(answers[1]["answer"], "not_valid", "it will have run out");
    assert_eq!(door.status()["waiting"], 0, "a try keeps nothing");
}

#[test]
fn what_goes_wrong_is_said_with_what_to_do() {
    let door = Door::open(1);
    let told = |arguments: &[&str]| {
        let done = door.run(arguments);
        assert_eq!(done.status.code(), Some(1), "{arguments:?}");
        String::from_utf8(done.stderr).unwrap()
    };
    std::fs::set_permissions(door.token(), std::fs::Permissions::from_mode(0o644)).unwrap();
    assert!(told(&["fetch"]).contains("chmod 600"), "others can read the token");
    std::fs::set_permissions(door.token(), std::fs::Permissions::from_mode(0o600)).unwrap();
    door.ok(&["fetch"]);
    door.proxy.set(Network::Cut);
    assert!(told(&["fetch"]).contains("does not answer"));
    door.proxy.set(Network::Whole);
    let admin = door.hospital.signed_in(Role::Admin);
    let id = admin.get("/api/v1/devices").ok(200)["items"][0]["id"].as_str().unwrap().to_owned();
    admin.delete(&format!("/api/v1/devices/{id}")).ok(204);
    assert!(told(&["fetch"]).contains("device token"), "the token was taken away");
    assert_eq!(door.check(door.people[0].1["serial"].as_str().unwrap()).0, 0, "what is held is held");
    let pack = door.folder.path().join("home/pack");
    let mut altered = std::fs::read(&pack).unwrap();
    let place = altered.len() / 2;
    altered[place] = if altered[place] == b'A' { b'B' } else { b'A' };
    std::fs::write(&pack, altered).unwrap();
    assert!(told(&["status"]).contains("refused"), "an altered pack");
    assert_eq!(door.check(door.people[0].1["serial"].as_str().unwrap()).0, 11);
    let done = Command::new(gate_program()).arg("--help").output().unwrap();
    assert!(String::from_utf8(done.stdout).unwrap().contains("Exit status"));
}

#[test]
fn a_gate_whose_clock_is_wrong_says_so_and_delivers_the_right_moment() {
    let door = Door::open(1);
    // The server is far ahead: one of the two is wrong.
    door.hospital.clock.shift(TimeDelta::minutes(90));
    door.ok(&["fetch"]);
    let serial = door.people[0].1["serial"].as_str().unwrap();
    let (status, told) = door.check(serial);
    assert_eq!(status, 11, "{told}");
    assert!(told["clock_doubt"].as_str().unwrap().contains("1 hour"), "{told}");
    let refused = door.run(&["confirm-clock"]);
    assert_eq!(
        refused.status.code(),
        Some(1),
        "what the server signed long after our now cannot be confirmed away"
    );
    door.ok(&["deliver"]);
    let stored = door.stored();
    let happened_at: DateTime<Utc> =
        stored.values().next().unwrap()["happened_at"].as_str().unwrap().parse().unwrap();
    let off = (door.hospital.now() - happened_at).abs();
    assert!(off < TimeDelta::seconds(60), "by the server's clock: {off}");
}
