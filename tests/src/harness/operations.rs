//! The operations of the program's own document: which one a request meant, and what it may refuse.

use std::{collections::BTreeSet, sync::OnceLock};

use serde_json::Value;

use super::Reply;

/// One operation as the document has it.
pub(super) struct Served {
    /// Its operation id.
    pub(super) id: String,
    method: String,
    path: Vec<String>,
    refusals: BTreeSet<String>,
}

impl Served {
    fn takes(&self, method: &str, path: &[&str]) -> bool {
        self.method == method
            && self.path.len() == path.len()
            && self.path.iter().zip(path).all(|(served, asked)| served.starts_with('{') || served == asked)
    }

    fn blanks(&self) -> usize {
        self.path.iter().filter(|part| part.starts_with('{')).count()
    }
}

/// The operation that this request meant, if it is one of the document's.
pub(super) fn operation_of(method: &str, path: &str) -> Option<&'static Served> {
    let path = path.split('?').next().unwrap_or_default();
    let parts: Vec<&str> = path.split('/').collect();
    let meant = operations().iter().filter(|served| served.takes(method, &parts));
    meant.min_by_key(|served| served.blanks())
}

/// A client can prepare only for the refusals it was told of, so an operation declares all that it gives.
pub(super) fn assert_declared(method: &str, path: &str, reply: &Reply) {
    let Some(served) = operation_of(method, path) else { return };
    let code = reply.json()["code"].as_str().unwrap_or_default().to_owned();
    let id = &served.id;
    assert!(
        served.refusals.contains(&code),
        "{id} gave the refusal {code}, which server/web/src/spec/refusals.rs does not declare for it: {}",
        reply.text()
    );
}

fn operations() -> &'static [Served] {
    static OPERATIONS: OnceLock<Vec<Served>> = OnceLock::new();
    OPERATIONS.get_or_init(|| {
        let document: Value = serde_json::from_str(&sellion_web::openapi_json()).expect("the document");
        let common = words(&document["x-common-refusals"]);
        let items = document["paths"].as_object().expect("paths");
        let operations = items.iter().flat_map(|(path, item)| {
            let methods = item.as_object().into_iter().flatten();
            methods.map(|(method, operation)| served(path, method, operation, &common))
        });
        operations.collect()
    })
}

fn served(path: &str, method: &str, operation: &Value, common: &BTreeSet<String>) -> Served {
    Served {
        id: operation["operationId"].as_str().expect("an operation id").to_owned(),
        method: method.to_uppercase(),
        path: path.split('/').map(str::to_owned).collect(),
        refusals: common | &words(&operation["x-sellion"]["refusals"]),
    }
}

fn words(list: &Value) -> BTreeSet<String> {
    let words = list.as_array().expect("a list of codes").iter();
    words.filter_map(|word| word.as_str()).map(str::to_owned).collect()
}
