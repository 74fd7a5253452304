//! The program `sellion` as a stranger runs it: its arguments, its exit codes, its private database, its end.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails, and says where")]

use std::{
    fs::{self, Permissions},
    io::{BufRead, BufReader, Write},
    os::unix::fs::PermissionsExt,
    path::Path,
    process::{Child, Command, Output, Stdio},
    sync::atomic::{AtomicBool, Ordering},
    thread,
    time::Duration,
};

use diesel::{Connection, PgConnection, connection::SimpleConnection};
use sellion_tests::{
    harness::{Client, PASSWORD},
    program::program,
};
use serde_json::{Value, json};
use tempfile::TempDir;
use uuid::Uuid;

/// A folder that the database's user can reach, also when the tests run as root.
fn folder() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::set_permissions(folder.path(), Permissions::from_mode(0o755)).unwrap();
    folder
}

fn sellion(data: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(program());
    command.args(arguments).env_remove("DATABASE_URL").env("SELLION_DATA", data);
    command
}

fn run(data: &Path, arguments: &[&str]) -> Output {
    sellion(data, arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Adds a user with a known password; the first one brings the site along.
fn add_user(data: &Path, name: &str, role: &str, new_site: bool) {
    let mut arguments =
        vec!["user", "add", name, "--role", role, "--site", "Marrowfield", "--password-stdin"];
    if new_site {
        arguments.extend(["--new-site", "--time-zone", "Europe/Lisbon"]);
    }
    let mut command = sellion(data, &arguments);
    let mut child =
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(PASSWORD.as_bytes()).unwrap();
    let done = child.wait_with_output().unwrap();
    assert!(done.status.success(), "{}", text(&done.stderr));
}

/// A running `sellion serve`.
struct Serving {
    child: Child,
    base: String,
}

impl Serving {
    fn start(data: &Path) -> Self {
        let mut command = sellion(data, &["serve", "--listen", "127.0.0.1:0"]);
        let mut child = command.stderr(Stdio::piped()).spawn().unwrap();
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let base = lines
            .by_ref()
            .map_while(Result::ok)
            .find_map(|line| line.strip_prefix("Listening on ")?.split(' ').next().map(str::to_owned))
            .expect("it says where it listens");
        thread::spawn(move || lines.for_each(drop));
        Self { child, base }
    }

    fn client(&self) -> Client {
        Client::new(self.base.clone())
    }

    /// Sends SIGTERM and waits for the end; returns the exit code.
    fn terminate(mut self) -> Option<i32> {
        let killed = Command::new("kill").args(["-TERM", &self.child.id().to_string()]).status().unwrap();
        assert!(killed.success());
        self.child.wait().unwrap().code()
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

#[test]
fn help_tells_a_stranger_how_to_begin_and_nonsense_is_a_usage_error() {
    let data = folder();
    let help = run(data.path(), &["--help"]);
    assert!(help.status.success());
    for word in
        ["serve", "demo", "migrate", "user", "openapi", "replay", "audit", "key", "Exit status", "licensed"]
    {
        assert!(text(&help.stdout).contains(word), "{word} is missing");
    }
    for arguments in [
        &["dance"][..],
        &["user", "add", "x", "--site", "y"],
        &["serve", "--listen", "nowhere"],
        &["serve", "--workers", "0"],
    ] {
        assert_eq!(run(data.path(), arguments).status.code(), Some(2), "{arguments:?}");
    }
    let unknown = run(data.path(), &["user", "add", "x", "--site", "y", "--role", "king"]);
    assert!(text(&unknown.stderr).contains("coordinator"), "the roles are named: {}", text(&unknown.stderr));
}

#[test]
fn nothing_is_checked_where_nothing_is_and_that_is_said() {
    let data = folder();
    let nowhere = data.path().join("nowhere");
    for arguments in [&["audit", "verify"][..], &["replay"], &["user", "list"]] {
        let done = run(&nowhere, arguments);
        assert_eq!(done.status.code(), Some(1), "{arguments:?}");
        assert!(text(&done.stderr).contains("there is no database"), "{}", text(&done.stderr));
    }
    assert!(!nowhere.exists());
}

#[test]
fn a_user_is_added_by_the_same_rules_as_over_http() {
    let data = folder();
    let add = |more: &[&str]| {
        let site = ["--site", "Marrowfield", "--new-site", "--time-zone", "Europe/Lisbon"];
        run(data.path(), &[&["user", "add"], more, &site].concat())
    };
    for refused in [
        &["ada lovett", "--role", "admin"][..],
        &["ada\u{200b}", "--role", "admin"],
        &["ada", "--role", "admin", "--display-name", "\u{202e}adA"],
        &["ada", "--role", "admin", "--display-name", " "],
    ] {
        let done = add(refused);
        assert_eq!(done.status.code(), Some(1), "{refused:?}");
        let said = text(&done.stderr);
        assert!(said.starts_with("sellion: ") && !said.contains("invalid_value"), "a sentence: {said}");
    }
    let done = add(&["Ada", "--role", "tester", "--role", "admin", "--role", "tester"]);
    assert!(done.status.success(), "nothing was stored before: {}", text(&done.stderr));
    let listed = text(&run(data.path(), &["user", "list", "--json"]).stdout);
    assert!(
        listed.contains(r#""roles":["tester","admin"]"#) && listed.contains(r#""username":"ada""#),
        "{listed}"
    );
}

#[test]
fn the_document_is_compared_with_a_file() {
    let data = folder();
    let file = data.path().join("openapi.json");
    let path = file.to_str().unwrap();
    assert!(run(data.path(), &["openapi", "--out", path]).status.success());
    assert!(run(data.path(), &["openapi", "--check", path]).status.success());
    fs::write(&file, "{}").unwrap();
    assert_eq!(run(data.path(), &["openapi", "--check", path]).status.code(), Some(1));
}

#[test]
fn commands_work_beside_a_running_server_and_a_second_server_is_told_why_not() {
    let data = folder();
    add_user(data.path(), "ada", "admin", true);
    let serving = Serving::start(data.path());
    add_user(data.path(), "bo", "coordinator", false);
    serving.client().sign_in("bo", PASSWORD).get("/api/v1/sites/current").ok(200);
    let listed = run(data.path(), &["user", "list", "--json"]);
    assert_eq!(text(&listed.stdout).lines().count(), 2);

    let second = run(data.path(), &["serve", "--listen", "127.0.0.1:0"]);
    assert_eq!(second.status.code(), Some(1));
    let said = text(&second.stderr);
    assert!(said.starts_with("sellion: ") && said.trim().lines().count() == 1, "one sentence: {said}");
    assert_eq!(serving.terminate(), Some(0));
}

#[test]
fn what_was_answered_before_sigterm_is_stored_and_nothing_is_half_written() {
    let data = folder();
    add_user(data.path(), "cora", "coordinator", true);
    let serving = Serving::start(data.path());
    let coordinator = serving.client().sign_in("cora", PASSWORD);
    let stop = AtomicBool::new(false);
    let (answered, code) = thread::scope(|scope| {
        let writers: Vec<_> = (0..4)
            .map(|writer| {
                let (coordinator, stop) = (&coordinator, &stop);
                scope.spawn(move || write_until(coordinator, writer, stop))
            })
            .collect();
        thread::sleep(Duration::from_millis(700));
        let code = serving.terminate();
        stop.store(true, Ordering::Relaxed);
        let answered: Vec<String> = writers.into_iter().flat_map(|writer| writer.join().unwrap()).collect();
        (answered, code)
    });
    assert_eq!(code, Some(0));
    assert!(answered.len() > 10, "only {} writes", answered.len());

    let again = Serving::start(data.path());
    let coordinator = again.client().sign_in("cora", PASSWORD);
    for id in &answered {
        coordinator.get(&format!("/api/v1/respirators/{id}")).ok(200);
    }
    let verified = run(data.path(), &["audit", "verify", "--json"]);
    assert!(verified.status.success(), "{}", text(&verified.stdout));
    assert!(run(data.path(), &["replay"]).status.success());
}

/// Adds respirators until the server is gone; returns the ids of those that were answered.
fn write_until(coordinator: &Client, writer: usize, stop: &AtomicBool) -> Vec<String> {
    let mut answered = Vec::new();
    for number in 0.. {
        if stop.load(Ordering::Relaxed) {
            break;
        }
        let id = Uuid::now_v7().to_string();
        let body = json!({
            "id": id, "make": "Ostrel", "model": format!("cup {writer}-{number}"), "style": "cup", "size": "small",
            "facepiece": "filtering_facepiece", "filter_class": "N95",
        });
        match coordinator.try_post("/api/v1/respirators", &body) {
            Some(reply) if reply.status == 201 => answered.push(id),
            Some(_) => {}
            None => break,
        }
    }
    answered
}

#[test]
fn a_row_changed_behind_the_programs_back_is_found_and_named() {
    let data = folder();
    add_user(data.path(), "ada", "admin", true);
    let serving = Serving::start(data.path());
    let home = data.path().join("postgres");
    let url = sellion_store::cluster::address_of_running(&home, "sellion").expect("the private server runs");
    let mut conn = PgConnection::establish(&url).unwrap();
    let verify = || -> (Option<i32>, Value) {
        let done = run(data.path(), &["audit", "verify", "--json"]);
        (done.status.code(), serde_json::from_slice(&done.stdout).unwrap())
    };
    assert_eq!(verify().0, Some(0));

    conn.batch_execute("update users set roles = '{admin,tester}'").unwrap();
    let (code, report) = verify();
    assert_eq!(code, Some(1));
    let broken = &report["sites"][0]["broken"];
    assert!(broken["subject"].as_str().unwrap().starts_with("users "), "{report}");
    assert!(broken["what"].as_str().unwrap().contains("outside the program"), "{report}");

    conn.batch_execute("update users set roles = '{admin}'").unwrap();
    assert_eq!(verify().0, Some(0), "put back as it was, it holds again");
    let refused = conn.batch_execute("update audit_rows set action = 'nothing'").unwrap_err();
    assert!(refused.to_string().contains("append a correction instead"), "{refused}");
    conn.batch_execute(
        "alter table audit_rows disable trigger user; update audit_rows set action = 'nothing' where seq = 2;
         alter table audit_rows enable trigger user",
    )
    .unwrap();
    let (code, report) = verify();
    assert_eq!((code, &report["sites"][0]["broken"]["seq"]), (Some(1), &json!(2)), "{report}");
    assert_eq!(serving.terminate(), Some(0));
}
