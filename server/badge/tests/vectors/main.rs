//! The published test vectors: made here, always the same, and judged by this implementation as they say.
//!
//! `SELLION_WRITE_GOLDEN=1` writes them anew, and keeps every signature whose token has not changed.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

mod badges;
mod keys;
mod lists;
mod texts;

use std::{env, fs, path::PathBuf};

use chrono::{DateTime, Utc};
use sellion_badge::status_list::{self, StatusListError};
use sellion_badge::{KeyRing, Serial, TokenError, base45, code, token};
use serde_json::Value;

/// What every file says first.
const NOTE: &str =
    "Test vectors of ../badge-format.md. The keys are published and worth nothing: accept them nowhere.";

fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../api-spec/test-vectors").join(name)
}

fn stored(name: &str) -> Value {
    serde_json::from_str(&fs::read_to_string(path(name)).unwrap()).unwrap()
}

/// Compares a file with what is made now, or writes it.
fn compare(name: &str, made: &Value) {
    let text = format!("{}\n", serde_json::to_string_pretty(made).unwrap());
    if env::var_os("SELLION_WRITE_GOLDEN").is_some() {
        fs::create_dir_all(path("")).unwrap();
        fs::write(path(name), &text).unwrap();
    }
    assert_eq!(fs::read_to_string(path(name)).unwrap_or_default(), text, "{name} is not what is made now");
}

#[test]
fn the_published_files_are_those_that_are_made() {
    compare("base45.json", &texts::base45());
    compare("serials.json", &texts::serials());
    compare("badges.json", &badges::all());
    compare("status-lists.json", &lists::all());
}

fn cases<'v>(file: &'v Value, group: &str) -> impl Iterator<Item = &'v Value> {
    file[group].as_array().unwrap().iter()
}

fn text<'v>(case: &'v Value, member: &str) -> &'v str {
    case[member].as_str().unwrap()
}

fn at(case: &Value) -> DateTime<Utc> {
    DateTime::from_timestamp(case["at"].as_i64().unwrap(), 0).unwrap()
}

fn ring(file: &Value) -> KeyRing {
    KeyRing::from_jwks(&file["jwks"].to_string()).unwrap()
}

#[test]
fn texts_are_judged_as_their_files_say() {
    let file = stored("base45.json");
    for case in cases(&file, "good") {
        let bytes = base45::decode(text(case, "text")).unwrap();
        let hex: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(hex, text(case, "bytes"));
        assert_eq!(base45::encode(&bytes), text(case, "text"));
    }
    for case in cases(&file, "refused") {
        assert!(base45::decode(case.as_str().unwrap()).is_err(), "{case}");
    }
    let file = stored("serials.json");
    for case in cases(&file, "good") {
        assert_eq!(Serial::parse(case.as_str().unwrap()).unwrap().compact(), case.as_str().unwrap());
    }
    for case in cases(&file, "refused") {
        assert!(Serial::parse(case.as_str().unwrap()).is_err(), "{case}");
    }
}

#[test]
fn badges_are_judged_as_their_file_says() {
    let file = stored("badges.json");
    let ring = ring(&file);
    for case in cases(&file, "good") {
        let jwt = code::unpack(text(case, "code")).unwrap();
        assert_eq!(jwt, text(case, "jwt"));
        assert_eq!(code::pack(&jwt).unwrap(), text(case, "code"));
        let claims = token::verify(&ring, &jwt, at(case)).unwrap();
        assert_eq!(serde_json::to_value(&claims).unwrap(), case["claims"], "{}", case["name"]);
    }
    for case in cases(&file, "expired") {
        let jwt = code::unpack(text(case, "code")).unwrap();
        let judged = token::verify(&ring, &jwt, at(case));
        assert!(matches!(judged, Err(TokenError::Expired(_))), "{}: {judged:?}", case["name"]);
    }
    for case in cases(&file, "refused") {
        let jwt = match case.get("jwt") {
            Some(jwt) => Ok(jwt.as_str().unwrap().to_owned()),
            None => code::unpack(text(case, "code")),
        };
        let judged = jwt.map(|jwt| token::verify(&ring, &jwt, at(case)));
        assert!(!matches!(judged, Ok(Ok(_) | Err(TokenError::Expired(_)))), "{}", case["name"]);
    }
}

#[test]
fn status_lists_are_judged_as_their_file_says() {
    let file = stored("status-lists.json");
    let ring = ring(&file);
    let read = |case: &Value| status_list::read(&ring, text(case, "jwt"), text(case, "issuer"), at(case));
    for case in cases(&file, "good") {
        let list = read(case).unwrap();
        let values: Vec<Value> = (0..).map_while(|index| list.value(index)).map(Value::from).collect();
        let wanted = case["values"].as_array().unwrap();
        assert_eq!(&values[..wanted.len()], &wanted[..], "{}", case["name"]);
    }
    for case in cases(&file, "refused") {
        let judged: Result<_, StatusListError> = read(case);
        assert!(judged.is_err(), "{}", case["name"]);
    }
}
