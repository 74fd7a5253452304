//! The rules of the house that a machine can check: who may use whom, what stands where, and how long a file is.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

const LONGEST_FILE: usize = 400;

/// Crate -> the crates of this workspace it may use. Everything else is a wrong turn.
const ARROWS: [(&str, &[&str]); 7] = [
    ("sellion-rules", &[]),
    ("sellion-badge", &["sellion-rules"]),
    ("sellion-planning", &["sellion-rules"]),
    ("sellion-gate", &["sellion-badge", "sellion-rules"]),
    ("sellion-store", &["sellion-rules"]),
    ("sellion-web", &["sellion-badge", "sellion-planning", "sellion-rules", "sellion-store"]),
    ("sellion", &["sellion-badge", "sellion-planning", "sellion-rules", "sellion-store", "sellion-web"]),
];

/// What only one crate of the server may know: SQL in the store, HTTP in the web crate.
const ONE_ROOM: [(&str, &[&str]); 2] = [
    ("sellion-store", &["diesel", "diesel_migrations", "r2d2", "pq-sys"]),
    ("sellion-web", &["actix-web", "actix-http", "actix-rt", "utoipa-swagger-ui"]),
];

/// What a pure crate may not use: anything that reaches a database, a socket or an executor.
const NOT_PURE: [&str; 16] = [
    "actix-web",
    "axum",
    "diesel",
    "getrandom",
    "hyper",
    "native-tls",
    "nix",
    "postgres",
    "r2d2",
    "rand",
    "reqwest",
    "rustix",
    "rustls",
    "sqlx",
    "tokio",
    "ureq",
];

/// Where each program reads the clock, and nowhere else.
const CLOCKS: [&str; 2] = ["server/web/src/clock.rs", "clients/scanner/src/clock.rs"];

const TOP: [&str; 11] = [
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "api-spec",
    "clients",
    "docker",
    "migrations",
    "server",
    "tests",
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

/// Direct, non-development dependencies of every crate of the workspace.
fn dependencies() -> BTreeMap<String, BTreeSet<String>> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version=1", "--no-deps", "--offline", "--locked"])
        .current_dir(root())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    packages.iter().map(|package| (text(&package["name"]), uses(package))).collect()
}

fn uses(package: &Value) -> BTreeSet<String> {
    let all = package["dependencies"].as_array().unwrap().iter();
    all.filter(|dependency| dependency["kind"] != "dev").map(|dependency| text(&dependency["name"])).collect()
}

fn text(value: &Value) -> String {
    value.as_str().unwrap().to_owned()
}

#[test]
fn the_arrows_between_crates_are_these_and_no_others() {
    let dependencies = dependencies();
    let allowed: BTreeMap<_, _> = ARROWS.into_iter().collect();
    for (name, uses) in &dependencies {
        if name == "sellion-tests" {
            continue;
        }
        let arrows =
            allowed.get(name.as_str()).unwrap_or_else(|| panic!("{name} has no place in the house yet"));
        for used in uses.iter().filter(|used| dependencies.contains_key(*used)) {
            assert!(arrows.contains(&used.as_str()), "{name} must not use {used}");
        }
    }
    for name in allowed.keys() {
        assert!(dependencies.contains_key(*name), "{name} is gone: take it out of the table");
    }
}

#[test]
fn sql_and_http_each_stay_in_one_room() {
    for (name, uses) in dependencies().iter().filter(|(name, _)| *name != "sellion-tests") {
        for (room, tools) in ONE_ROOM.into_iter().filter(|(room, _)| room != name) {
            for tool in tools {
                assert!(!uses.contains(*tool), "{name} must not use {tool}: that is {room}'s alone");
            }
        }
    }
}

#[test]
fn pure_crates_reach_nothing_outside() {
    let dependencies = dependencies();
    for name in ["sellion-rules", "sellion-badge", "sellion-planning"] {
        for tool in NOT_PURE {
            assert!(!dependencies[name].contains(tool), "{name} is pure and must not use {tool}");
        }
    }
}

#[test]
fn nothing_else_stands_at_the_top() {
    // The folder for build results is ignored by git, so it may stand anywhere.
    let listed = Command::new("git").args(["ls-files"]).current_dir(root()).output();
    let names: BTreeSet<String> = match listed {
        Ok(output) if output.status.success() => String::from_utf8(output.stdout)
            .unwrap()
            .lines()
            .filter_map(|line| line.split('/').next().map(str::to_owned))
            .collect(),
        // An unpacked archive has no git to ask.
        _ => fs::read_dir(root())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name != "target")
            .collect(),
    };
    assert!(names.contains("Cargo.toml"), "the top was not read");
    let strangers: Vec<_> =
        names.iter().filter(|name| !name.starts_with('.') && !TOP.contains(&name.as_str())).collect();
    assert!(strangers.is_empty(), "these do not belong at the top: {strangers:?}");
}

/// Every Rust file of the server, its clients and the tests, by its path from the top.
fn rust_files() -> Vec<(String, String)> {
    let mut found = Vec::new();
    for folder in ["server", "clients", "tests"] {
        collect(&root().join(folder), &mut found);
    }
    assert!(found.len() > 10, "the files were not found");
    found
}

fn collect(folder: &Path, found: &mut Vec<(String, String)>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() && name != "target" && name != "node_modules" && !name.starts_with('.') {
            collect(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            let shown = path.strip_prefix(root()).unwrap().display().to_string();
            found.push((shown, fs::read_to_string(&path).unwrap()));
        }
    }
}

#[test]
fn no_file_is_looking_for_a_missing_noun() {
    // The table of the schema is written by a tool, from the migrations.
    let long: Vec<_> = rust_files()
        .into_iter()
        .filter(|(path, _)| path != "server/store/src/schema.rs")
        .map(|(path, code)| (path, code.lines().count()))
        .filter(|(_, lines)| *lines > LONGEST_FILE)
        .collect();
    assert!(long.is_empty(), "longer than {LONGEST_FILE} lines: {long:?}");
}

#[test]
fn every_file_says_what_it_is_for() {
    let silent: Vec<_> = rust_files()
        .into_iter()
        .filter(|(_, code)| !code.starts_with("//! "))
        .map(|(path, _)| path)
        .filter(|path| path != "server/store/src/schema.rs")
        .collect();
    assert!(silent.is_empty(), "these have no line that says what they are for: {silent:?}");
}

#[test]
fn the_clock_is_read_in_one_place() {
    // Written in two parts, or this file would be its own finding.
    let call = concat!("Utc::", "now");
    let readers: Vec<_> =
        rust_files().into_iter().filter(|(_, code)| code.contains(call)).map(|(path, _)| path).collect();
    assert!(
        readers.iter().all(|path| CLOCKS.contains(&path.as_str())),
        "time comes in elsewhere: {readers:?}"
    );
}

#[test]
fn nothing_is_left_unfinished_in_the_code() {
    let marks =
        [concat!("TO", "DO"), concat!("FIX", "ME"), concat!("to", "do!("), concat!("unimple", "mented!(")];
    let unfinished: Vec<_> = rust_files()
        .into_iter()
        .filter(|(_, code)| marks.iter().any(|mark| code.contains(mark)))
        .map(|(path, _)| path)
        .collect();
    assert!(unfinished.is_empty(), "unfinished: {unfinished:?}");
}
