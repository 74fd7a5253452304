//! The OpenAPI document: committed, served, the same as the program's, and with an example of everything.

use std::{
    collections::{BTreeMap, BTreeSet},
    fs,
    path::Path,
};

use sellion_rules::{refusal::Code, roles::Operation};
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

/// Each operation of the document: id, method, and itself.
fn operations(document: &Value) -> Vec<(String, String, Value)> {
    let items = document["paths"].as_object().unwrap().values();
    let operations = items.flat_map(|item| item.as_object().unwrap());
    operations
        .map(|(method, operation)| {
            let id = operation["operationId"].as_str().unwrap().to_owned();
            (id, method.to_uppercase(), operation.clone())
        })
        .collect()
}

fn examples() -> BTreeMap<String, Value> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../api-spec/examples");
    let files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    files
        .map(|path| {
            let id = path.file_name().unwrap().to_str().unwrap().strip_suffix(".json").unwrap().to_owned();
            (id, serde_json::from_str(&fs::read_to_string(&path).unwrap()).unwrap())
        })
        .collect()
}

fn shown(body: &Value) -> Vec<Option<&Value>> {
    let contents = body["content"].as_object().into_iter().flatten();
    contents.map(|(_, content)| content.get("example")).collect()
}

#[test]
fn every_operation_has_a_whole_example_and_every_example_its_operation() {
    let document: Value = serde_json::from_str(&sellion_web::openapi_json()).unwrap();
    let mut examples = examples();
    for (id, _, operation) in operations(&document) {
        let example = examples.remove(&id).unwrap_or_else(|| panic!("{id}: no example is recorded"));
        let status = example["response"]["status"].as_u64().unwrap_or_default();
        assert!((200..300).contains(&status), "{id}: the example is no success: {example}");
        let answers = shown(&operation["responses"][status.to_string()]);
        assert!(
            !answers.is_empty() || status == 204,
            "{id}: the recorded status {status} is not the documented one"
        );
        for answer in answers {
            assert_eq!(answer, Some(&example["response"]["body"]), "{id}: the answer");
        }
        let bodies = shown(&operation["requestBody"]);
        assert_eq!(bodies.is_empty(), example["request"]["body"].is_null(), "{id}: a body sent for nothing");
        for body in bodies {
            assert_eq!(body, Some(&example["request"]["body"]), "{id}: the request");
        }
    }
    assert!(examples.is_empty(), "these belong to no operation: {:?}", examples.keys());
}

#[test]
fn every_example_is_understood_by_a_server_that_never_saw_it() {
    let hospital = Hospital::open();
    let document: Value = serde_json::from_str(&sellion_web::openapi_json()).unwrap();
    let examples = examples();
    for (id, method, operation) in operations(&document) {
        let request = &examples[&id]["request"];
        let role = id.parse::<Operation>().ok().and_then(|known| known.roles().first().copied());
        let client = role.map_or_else(|| hospital.nobody(), |role| hospital.signed_in(role));
        let content_type = operation["requestBody"]["content"].as_object().and_then(|it| it.keys().next());
        let mut headers = vec![("if-match", "\"1\"")];
        headers.extend(content_type.map(|content_type| ("content-type", content_type.as_str())));
        let body = match &request["body"] {
            Value::Null => None,
            Value::String(text) => Some(text.clone()),
            other => Some(other.to_string()),
        };
        let path = request["path"].as_str().unwrap();
        let reply = client.send(&method, path, &headers, body.as_deref().map(str::as_bytes));
        assert!(![400, 403, 405, 413, 415].contains(&reply.status), "{id}: {}", reply.text());
        assert!(reply.status < 500, "{id}: {}", reply.text());
        // Signed out or not, the example of signing in names nobody of this hospital.
        assert!(reply.status != 401 || id == "create_session", "{id}: {}", reply.text());
        if reply.status == 404 {
            assert_eq!(reply.json()["code"], "not_found", "{id}: the path is none");
        }
    }
}

#[test]
fn every_code_is_declared_where_it_can_be_met() {
    let document: Value = serde_json::from_str(&sellion_web::openapi_json()).unwrap();
    let common: Vec<&str> =
        document["x-common-refusals"].as_array().unwrap().iter().map(|code| code.as_str().unwrap()).collect();
    let mut declared = BTreeSet::new();
    for (id, _, operation) in operations(&document) {
        let own = operation["x-sellion"]["refusals"].as_array().unwrap();
        for code in own.iter().map(|code| code.as_str().unwrap()) {
            assert!(code.parse::<Code>().is_ok(), "{id}: {code}");
            assert!(!common.contains(&code), "{id}: {code} is common to all");
            declared.insert(code.to_owned());
        }
        let distinct: BTreeSet<&str> = own.iter().filter_map(Value::as_str).collect();
        assert_eq!(distinct.len(), own.len(), "{id}: a code is named twice");
    }
    // A code that no operation declares is one that nobody can meet. Two belong to addresses that are no operation.
    let of_no_operation = [Code::UnknownPath, Code::MethodNotAllowed];
    let unused: Vec<&Code> = Code::ALL
        .iter()
        .filter(|code| !of_no_operation.contains(code))
        .filter(|code| !common.contains(&code.as_str()) && !declared.contains(code.as_str()))
        .collect();
    assert!(unused.is_empty(), "no operation declares {unused:?}");
}

#[test]
fn every_list_says_how_to_ask_for_a_page() {
    let document: Value = serde_json::from_str(&sellion_web::openapi_json()).unwrap();
    let operations = document["paths"].as_object().unwrap().values().filter_map(|item| item.get("get"));
    let mut lists = 0;
    for operation in operations {
        let id = operation["operationId"].as_str().unwrap();
        // The rule sets are part of the program and few: they always come on one page.
        if !operation["responses"]["200"].to_string().contains("schemas/Page_") || id == "list_rule_sets" {
            continue;
        }
        lists += 1;
        let parameters = operation["parameters"].as_array().cloned().unwrap_or_default();
        for name in ["limit", "cursor"] {
            assert!(parameters.iter().any(|parameter| parameter["name"] == name), "{id} has no {name}");
        }
    }
    assert!(lists > 10, "only {lists} lists were looked at");
}
