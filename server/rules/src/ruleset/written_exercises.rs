//! Lists of exercises as written.

use std::collections::BTreeMap;

use super::fields::Fields;
use super::protocol::Exercise;
use super::tree::{Node, Reader, Value};
use super::written::{Row, WrittenList, is_key};

/// The lists by name.
pub(super) fn lists(reader: &mut Reader<'_>, at: usize, node: Node) -> BTreeMap<String, WrittenList> {
    let Some(mut fields) = Fields::of(reader, at, "exercises", node) else { return BTreeMap::new() };
    let mut lists = BTreeMap::new();
    for (name, (at, node)) in fields.rest() {
        let key = format!("exercises.{name}");
        if !is_key(&name) {
            reader.wrong(at, &key, "write its name in small letters, digits and underscores");
        }
        if let Some(rows) = list(reader, at, &key, node) {
            lists.insert(name, WrittenList { at, rows });
        }
    }
    lists
}

/// The list, if all of it can be read.
fn list(reader: &mut Reader<'_>, at: usize, key: &str, node: Node) -> Option<Vec<Row>> {
    let Value::List(nodes) = node.value else {
        reader.wrong(node.at, key, "a list of exercises is expected");
        return None;
    };
    if nodes.is_empty() || nodes.len() > usize::from(u8::MAX) {
        reader.wrong(at, key, format!("it has {} exercises; from 1 to 255 can be done", nodes.len()));
        return None;
    }
    let count = nodes.len();
    let rows: Vec<_> =
        (1..=u8::MAX).zip(nodes).filter_map(|(number, node)| row(reader, key, number, node)).collect();
    (rows.len() == count).then_some(rows)
}

fn row(reader: &mut Reader<'_>, list: &str, number: u8, node: Node) -> Option<Row> {
    let at = node.at;
    let mut fields = Fields::of(reader, at, format!("{list}.{number}"), node)?;
    let key = fields.text(reader, "key").map(|(_, key)| key);
    let seconds = fields.number(reader, "seconds", (0, None));
    let measurements = fields.number(reader, "measurements", (0, Some(0)));
    let measuring_seconds = fields.number(reader, "measuring_seconds", (0, Some(0)));
    let alternative = fields.optional_text(reader, "alternative");
    let breaths = fields.optional_text(reader, "breaths");
    let sampling = fields.optional_text(reader, "sampling");
    let backing = fields.backing(reader);
    let path = fields.key.clone();
    fields.end(reader);
    let (key, seconds): (String, u32) = key.zip(seconds)?;
    let (measurements, measuring_seconds): (u8, u32) = measurements.zip(measuring_seconds)?;
    let wrong = if !is_key(&key) || !alternative.as_deref().is_none_or(is_key) {
        Some("write the name of an exercise in small letters, digits and underscores")
    } else if seconds == 0 && measuring_seconds == 0 {
        Some("it has no length")
    } else if measurements == 0 && measuring_seconds > 0 {
        Some("it is measured for some seconds and gives no measurement")
    } else {
        None
    };
    if let Some(reason) = wrong {
        reader.wrong(at, &path, reason);
        return None;
    }
    let exercise =
        Exercise { number, key, seconds, alternative, measurements, measuring_seconds, breaths, sampling };
    let backing = backing?;
    if backing.confirmation.is_some() {
        let reason = "a list is confirmed where a method names it, under its \"exercises\" value";
        reader.wrong(at, &path, reason);
        return None;
    }
    Some(Row { exercise, source: backing.source, status: backing.status })
}
