//! Records one whole exchange of every operation under api-spec/examples, from which the document takes its examples.
//!
//! To record all anew, one test after the other so that each run records the same ones:
//!     SELLION_RECORD_EXAMPLES=1 cargo test -p sellion-tests --test e2e -- --test-threads=1
//! and then write api-spec/openapi.json again: until then the tests of the document fail, because it was built with
//! the examples of before. Without the variable nothing is written.

use std::{
    collections::HashMap,
    fs,
    path::Path,
    sync::{LazyLock, Mutex},
};

use serde_json::{Value, json};

use super::{Reply, operations::operation_of, plain::Plain};

/// A longer answer is worse reading: it is kept only until a shorter one comes.
const LONG_BYTES: usize = 10_000;

/// Answers that are in order, but not what a reader looks for first.
const UNHOPED: [(&str, &[&str]); 4] = [
    ("/answer", &["not_cleared", "cannot_confirm", "not_valid"]),
    ("/items/0/answer", &["not_cleared", "cannot_confirm", "not_valid"]),
    ("/state/verdict/outcome", &["fail", "void", "stopped", "not_tasted"]),
    ("/items/0/verdict/outcome", &["fail", "void", "stopped", "not_tasted"]),
];

/// How well an exchange shows what its operation does. The first one of the best kind stays.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Worth {
    /// A list without an item, a change of nothing, or a day on which nothing goes well.
    Poor,
    /// More than anybody reads.
    Long,
    Good,
}

/// What this process has recorded, by operation id.
static RECORDED: LazyLock<Mutex<HashMap<String, Worth>>> = LazyLock::new(Mutex::default);

static RECORDING: LazyLock<bool> =
    LazyLock::new(|| std::env::var("SELLION_RECORD_EXAMPLES").is_ok_and(|value| value == "1"));

/// Writes this exchange down, if examples are being recorded and it is a better one than those before it.
pub(super) fn record(method: &str, path: &str, sent: Option<&[u8]>, reply: &Reply) {
    if !*RECORDING || !(200..300).contains(&reply.status) {
        return;
    }
    let Some(operation) = operation_of(method, path) else { return };
    let sent = sent.map_or(Value::Null, read);
    let worth = worth(&sent, reply);
    let mut recorded = RECORDED.lock().expect("no recorder failed");
    if recorded.get(&operation.id).is_some_and(|before| *before >= worth) {
        return;
    }
    let mut plain = Plain::default();
    let example = json!({
        "request": { "path": plain.path(path), "body": plain.value(sent) },
        "response": { "status": reply.status, "body": plained(&mut plain, answered(reply)) },
    });
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../api-spec/examples");
    let text = serde_json::to_string_pretty(&example).expect("JSON") + "\n";
    fs::write(folder.join(format!("{}.json", operation.id)), text).expect("an example is written");
    recorded.insert(operation.id.clone(), worth);
}

fn worth(sent: &Value, reply: &Reply) -> Worth {
    let answered = answered(reply);
    let nothing_sent = sent.as_object().is_some_and(serde_json::Map::is_empty)
        || sent["events"].as_array().is_some_and(|events| events.len() < 2);
    let nothing_found =
        ["items", "keys", "events"].iter().any(|list| answered[list].as_array().is_some_and(Vec::is_empty));
    let nothing_told = is_stream(reply) && !reply.text().contains("\nevent: changed");
    if nothing_sent
        || nothing_found
        || nothing_told
        || UNHOPED.iter().any(|(at, words)| says(&answered, at, words))
    {
        return Worth::Poor;
    }
    if reply.body.len() > LONG_BYTES && answered.is_object() { Worth::Long } else { Worth::Good }
}

fn says(answered: &Value, at: &str, words: &[&str]) -> bool {
    answered.pointer(at).and_then(Value::as_str).is_some_and(|word| words.contains(&word))
}

fn answered(reply: &Reply) -> Value {
    match reply.header("content-type") {
        Some("application/pdf") => json!("(PDF)"),
        _ if reply.body.is_empty() => Value::Null,
        _ => read(&reply.body),
    }
}

fn is_stream(reply: &Reply) -> bool {
    reply.header("content-type") == Some("text/event-stream")
}

/// A body with plain ids and times, in the data of a stream's events as well.
fn plained(plain: &mut Plain, body: Value) -> Value {
    let Some(text) = body.as_str().filter(|text| text.starts_with("retry: ")) else {
        return plain.value(body);
    };
    let lines = text.split('\n').map(|line| match line.strip_prefix("data: ") {
        Some(data) => format!("data: {}", plain.value(read(data.as_bytes()))),
        None => line.to_owned(),
    });
    lines.collect::<Vec<_>>().join("\n").into()
}

/// A body as JSON, as text, or, where it is neither, by its length: nobody reads the bytes of a file.
fn read(body: &[u8]) -> Value {
    if let Ok(value) = serde_json::from_slice(body) {
        return value;
    }
    std::str::from_utf8(body).map_or_else(|_| json!(format!("(a file of {} bytes)", body.len())), Value::from)
}
