//! The OpenAPI document: committed, served, and the same as the program's.

use std::{fs, path::Path};

use sellion_tests::harness::Hospital;
use serde_json::Value;

#[test]
fn the_committed_document_is_the_programs_own() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../api-spec/openapi.json");
    let committed = fs::read_to_string(path).unwrap_or_default();
    assert!(
        committed == sellion_web::openapi_json(),
        "api-spec/openapi.json differs: write it with `cargo run -p sellion -- openapi --out api-spec/openapi.json`"
    );
}

#[test]
fn the_document_is_served_with_a_page_that_asks_no_third_party() {
    let hospital = Hospital::open();
    let nobody = hospital.nobody();
    let served = nobody.get("/api/v1/openapi.json").ok(200);
    assert_eq!(served, serde_json::from_str::<Value>(&sellion_web::openapi_json()).unwrap());

    let page = nobody.get("/docs/");
    assert_eq!(page.status, 200);
    let text = page.text();
    let linked: Vec<&str> =
        text.split(['"', '\'']).filter(|part| part.starts_with("http") || part.starts_with("//")).collect();
    assert!(linked.is_empty(), "the page asks {linked:?}");
    for file in text.split('"').filter(|part| part.ends_with(".js") || part.ends_with(".css")) {
        let file = file.trim_start_matches("./");
        assert_eq!(nobody.get(&format!("/docs/{file}")).status, 200, "{file}");
    }
}

#[test]
fn every_operation_says_who_may_call_it_and_how_it_fails() {
    let document: Value = serde_json::from_str(&sellion_web::openapi_json()).unwrap();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let told = format!("{method} {path}");
            assert!(operation["summary"].as_str().is_some_and(|text| !text.is_empty()), "{told}: no summary");
            let responses = operation["responses"].as_object().unwrap();
            assert!(responses.keys().any(|status| status.starts_with('2')), "{told}: no success");
            for (status, response) in responses.iter().filter(|(status, _)| status.as_str() >= "400") {
                let content =
                    response["content"].as_object().unwrap_or_else(|| panic!("{told}: {status} is bare"));
                assert!(content.contains_key("application/problem+json"), "{told}: {status}");
            }
        }
    }
}
