//! `sellion rules` as a coordinator runs it: what is in force, where it comes from, and every mistake of a file.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails, and says where")]

use std::{fs, process::Command};

use sellion_tests::program::program;
use serde_json::Value;

/// Exit code, standard output, standard error.
fn rules(arguments: &[&str]) -> (Option<i32>, String, String) {
    let done =
        Command::new(program()).arg("rules").args(arguments).env_remove("DATABASE_URL").output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (done.status.code(), text(&done.stdout), text(&done.stderr))
}

const OWN: &str = "name = \"ours\"
version = \"2026-11-25.1\"
title = \"Ours\"
based_on = [{ name = \"us-29cfr1910-134\", version = \"2019-09-26.2\" }]

[values.wear_seconds]
value = 600
unit = \"seconds\"
source = \"our own rule\"
status = \"common_practice\"
";

#[test]
fn the_list_names_every_set_and_whether_it_can_be_used() {
    let (code, listed, _) = rules(&["list"]);
    assert_eq!(code, Some(0));
    for name in ["us-29cfr1910-134", "uk-hse-indg479", "ca-csa-z94.4", "iso-16975-3", "au-nzs-1715"] {
        assert!(listed.lines().any(|line| line.starts_with(name)), "{name}: {listed}");
    }
    let open = listed.lines().filter(|line| line.contains("to be confirmed before use")).count();
    assert_eq!(open, 4, "{listed}");
}

#[test]
fn every_value_has_value_unit_and_source() {
    let (code, shown, _) = rules(&["show", "us-29cfr1910-134", "--json"]);
    assert_eq!(code, Some(0));
    let set: Value = serde_json::from_str(&shown).unwrap();
    assert_eq!(set["version"], "2019-09-26.2", "the newest");
    let values = set["values"].as_array().unwrap();
    assert!(values.len() > 200, "{}", values.len());
    for value in values {
        assert!(!value["value"].is_null(), "{value}");
        for member in ["unit", "source", "status"] {
            assert!(value[member].as_str().is_some_and(|text| !text.is_empty()), "{value}");
        }
    }
    let (_, older, _) = rules(&["show", "us-29cfr1910-134", "--version", "2019-09-26.1"]);
    assert!(older.contains("wear_seconds = 300 (seconds)") && !older.contains("ambient_aerosol"), "{older}");
}

#[test]
fn a_sound_file_is_shown_compared_and_checked() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("ours.toml");
    fs::write(&file, OWN).unwrap();
    let file = file.to_str().unwrap();
    let (code, said, _) = rules(&["check", file]);
    assert_eq!(code, Some(0));
    assert!(said.ends_with("ours 2026-11-25.1 is sound, and can be used\n"), "{said}");
    assert!(said.contains("does not accept irritant smoke"), "what is not accepted is said too: {said}");
    let (_, shown, _) = rules(&["show", file]);
    assert!(shown.contains("decided by ours 2026-11-25.1"), "{shown}");
    let (code, differences, _) = rules(&["diff", "us-29cfr1910-134", file]);
    assert_eq!(code, Some(0));
    assert!(
        differences.starts_with("wear_seconds\n") && differences.ends_with("Values that differ: 1\n"),
        "{differences}"
    );
}

#[test]
fn every_mistake_is_named_with_file_line_and_column() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("ours.toml");
    let broken = OWN.replace("value = 600", "value = 60").replace("title = \"Ours\"", "title = 3");
    fs::write(&file, broken + "\n[values.shoe_size]\nvalue = 42\n").unwrap();
    let file = file.to_str().unwrap();
    let (code, said, _) = rules(&["check", file]);
    assert_eq!(code, Some(1));
    for place in ["3:9: title", "7:9: wear_seconds: 60 is looser than 300", "12:9: shoe_size"] {
        assert!(said.contains(&format!("{file}:{place}")), "{place}: {said}");
    }
    assert!(said.ends_with("Mistakes: 3\n"), "{said}");
}

#[test]
fn what_is_not_there_is_said_in_a_sentence() {
    let (code, _, said) = rules(&["show", "nowhere"]);
    assert_eq!(code, Some(1));
    assert!(said.contains("there is no rule set nowhere"), "{said}");
    let (code, _, said) = rules(&["check", "no/such/file.toml"]);
    assert_eq!((code, said.contains("cannot be read")), (Some(1), true), "{said}");
}
