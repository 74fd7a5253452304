//! Who may do what: every operation in the OpenAPI document, called as every role and as nobody.

use std::{collections::BTreeMap, fs, path::Path};

use sellion_rules::roles::{MATRIX, Operation, PUBLIC_OPERATIONS, Role, allowed, matrix_as_text};
use sellion_tests::harness::{Client, Hospital, Reply};
use serde_json::Value;
use uuid::Uuid;

/// Every operation of the document with its method and path.
fn operations() -> Vec<(String, String, String)> {
    let document: Value = serde_json::from_str(&sellion_web::openapi_json()).unwrap();
    let mut found = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            if let Some(id) = operation["operationId"].as_str() {
                found.push((id.to_owned(), method.to_uppercase(), path.clone()));
            }
        }
    }
    found
}

/// Calls an operation with ids that nobody has and a body that is none: enough to see who is let through.
fn call(client: &Client, method: &str, path: &str) -> Reply {
    let path = path.split('{').enumerate().fold(String::new(), |made, (index, part)| match index {
        0 => part.to_owned(),
        _ => made + &Uuid::now_v7().to_string() + part.split_once('}').map_or("", |(_, rest)| rest),
    });
    let headers = [("content-type", "application/json"), ("if-match", "\"1\"")];
    let body = (method != "GET" && method != "DELETE").then_some(&b"{garbage"[..]);
    client.send(method, &path, &headers, body)
}

#[test]
fn every_operation_is_in_the_matrix_and_every_row_of_the_matrix_is_an_operation() {
    let served: BTreeMap<String, ()> = operations().into_iter().map(|(id, _, _)| (id, ())).collect();
    let known = |id: &str| id.parse::<Operation>().is_ok() || PUBLIC_OPERATIONS.contains(&id);
    let unknown: Vec<&String> = served.keys().filter(|id| !known(id)).collect();
    assert!(unknown.is_empty(), "operations without a row in the matrix: {unknown:?}");
    let missing: Vec<&str> = MATRIX
        .iter()
        .map(|(operation, _)| operation.as_str())
        .filter(|id| !served.contains_key(*id))
        .collect();
    assert!(missing.is_empty(), "rows of the matrix without an operation: {missing:?}");
}

#[test]
fn nobody_learns_nothing_but_that_they_have_to_sign_in() {
    let hospital = Hospital::open();
    for (id, method, path) in operations() {
        if !PUBLIC_OPERATIONS.contains(&id.as_str()) {
            // The body is garbage as well: 401 comes before 400.
            call(&hospital.nobody(), &method, &path).refused(401, "not_signed_in");
        }
    }
}

#[test]
fn every_role_is_let_through_exactly_where_the_matrix_says() {
    let hospital = Hospital::open();
    for role in Role::ALL {
        let client = hospital.signed_in(*role);
        for (id, method, path) in operations() {
            let Ok(operation) = id.parse::<Operation>() else { continue };
            // Signing out would end the session the next calls need; the sign-in tests show it.
            if operation == Operation::DeleteCurrentSession {
                continue;
            }
            let reply = call(&client, &method, &path);
            if allowed(operation, &[*role]) {
                assert!(![401, 403].contains(&reply.status), "{role} {id}: {}", reply.text());
                assert!(reply.status < 500, "{role} {id}: {}", reply.text());
            } else {
                reply.refused(403, "wrong_role");
            }
        }
    }
}

#[test]
fn the_matrix_is_as_last_agreed() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("golden/roles.txt");
    let now = matrix_as_text();
    if std::env::var_os("SELLION_WRITE_GOLDEN").is_some() {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, &now).unwrap();
    }
    let agreed = fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(
        agreed, now,
        "if this change is meant, run the test with SELLION_WRITE_GOLDEN=1 and commit the file"
    );
}
