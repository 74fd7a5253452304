//! What the text of one rule set says, before anything is made of it.

use std::collections::BTreeMap;

use super::fields::{Backing, Fields};
use super::keys::{Silent, Slot};
use super::protocol::Exercise;
use super::recipe::Recipe;
use super::strictness::Kind;
use super::tree::{Members, Node, Reader, Value};
use super::values::{Confirmation, RuleScalar, RuleSetVersion, RuleStatus};
use super::{written_exercises, written_recipes};
use crate::method::Method;

/// One value as one rule set says it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Said {
    pub(super) by: RuleSetVersion,
    pub(super) value: RuleScalar,
    pub(super) status: RuleStatus,
    pub(super) source: String,
    pub(super) confirmation: Option<Confirmation>,
}

/// An exercise and where it comes from.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Row {
    pub(super) exercise: Exercise,
    pub(super) source: String,
    pub(super) status: RuleStatus,
}

/// A value that nothing is decided by.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Note {
    pub(super) name: String,
    pub(super) unit: String,
    pub(super) said: Said,
}

/// A value at its place in the text.
pub(super) struct WrittenValue {
    pub(super) at: usize,
    pub(super) slot: Slot,
    pub(super) said: Said,
}

/// A list of exercises at its place in the text.
pub(super) struct WrittenList {
    pub(super) at: usize,
    pub(super) rows: Vec<Row>,
}

/// The text of one rule set.
pub(super) struct Written {
    pub(super) id: RuleSetVersion,
    pub(super) title: String,
    pub(super) name_at: usize,
    /// The sets it stands on, each with its place in the text.
    pub(super) based_on: Vec<(usize, RuleSetVersion)>,
    pub(super) values_at: usize,
    pub(super) values: Vec<WrittenValue>,
    pub(super) lists: BTreeMap<String, WrittenList>,
    pub(super) recipes: Vec<(usize, Recipe)>,
    pub(super) notes: Vec<Note>,
}

impl Written {
    /// Reads everything there is to read; what is wrong is noted in the reader, and the rest is still read.
    pub(super) fn read(reader: &mut Reader<'_>, members: Members) -> Self {
        let mut root = Fields::root(members);
        let (name_at, id) = header(reader, &mut root);
        let title = root.text(reader, "title").map(|(_, title)| title).unwrap_or_default();
        let based_on = root.take("based_on").map(|(at, node)| bases(reader, at, node)).unwrap_or_default();
        let (values_at, values) = match root.need(reader, "values") {
            Some((at, node)) => (at, values(reader, at, node, &id)),
            None => (0, Vec::new()),
        };
        let lists = root.take("exercises").map(|(at, node)| written_exercises::lists(reader, at, node));
        let recipes = root.take("recipes").map(|(at, node)| written_recipes::recipes(reader, at, node, &id));
        let notes = root.take("notes").map(|(at, node)| notes(reader, at, node, &id));
        root.end(reader);
        Self {
            id,
            title,
            name_at,
            based_on,
            values_at,
            values,
            lists: lists.unwrap_or_default(),
            recipes: recipes.unwrap_or_default(),
            notes: notes.unwrap_or_default(),
        }
    }
}

fn is_slug(text: &str, between: char) -> bool {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == between || c == '.';
    !text.is_empty() && text.chars().all(plain)
}

/// Whether a name can be part of a key.
pub(super) fn is_key(text: &str) -> bool {
    is_slug(text, '_') && !text.contains('.')
}

fn header(reader: &mut Reader<'_>, root: &mut Fields) -> (usize, RuleSetVersion) {
    let (name_at, name) = root.text(reader, "name").unwrap_or_default();
    if !name.is_empty() && !is_slug(&name, '-') {
        reader.wrong(name_at, "name", "write it in small letters, digits, points and hyphens");
    }
    let (at, version) = root.text(reader, "version").unwrap_or_default();
    let id = RuleSetVersion { name, version };
    if !id.version.is_empty() && id.place().is_none() {
        reader.wrong(at, "version", "write it as a date and a running number, as 2019-09-26.1");
    }
    (name_at, id)
}

fn bases(reader: &mut Reader<'_>, at: usize, node: Node) -> Vec<(usize, RuleSetVersion)> {
    let Value::List(list) = node.value else {
        reader.wrong(node.at, "based_on", "a list of names and versions is expected");
        return Vec::new();
    };
    if list.is_empty() {
        reader.wrong(at, "based_on", "it names no rule set");
    }
    let mut bases: Vec<(usize, RuleSetVersion)> = Vec::new();
    for node in list {
        let at = node.at;
        let Some(mut fields) = Fields::of(reader, at, "based_on", node) else { continue };
        let name = fields.text(reader, "name").map(|(_, name)| name);
        let version = fields.text(reader, "version").map(|(_, version)| version);
        fields.end(reader);
        let Some((name, version)) = name.zip(version) else { continue };
        let id = RuleSetVersion { name, version };
        if bases.iter().any(|(_, listed)| listed.name == id.name) {
            reader.wrong(at, "based_on", format!("{} is named twice", id.name));
        } else {
            bases.push((at, id));
        }
    }
    bases
}

fn values(reader: &mut Reader<'_>, at: usize, node: Node, by: &RuleSetVersion) -> Vec<WrittenValue> {
    let Some(mut fields) = Fields::of(reader, at, "values", node) else { return Vec::new() };
    let mut written = Vec::new();
    for (name, (at, node)) in fields.rest() {
        match name.parse::<Method>() {
            Ok(method) => {
                let Some(mut of_method) = Fields::of(reader, at, name, node) else { continue };
                for (name, (at, node)) in of_method.rest() {
                    written.extend(value(reader, at, (Some(method), &name), node, by));
                }
            }
            Err(_) => written.extend(value(reader, at, (None, &name), node, by)),
        }
    }
    written
}

fn value(
    reader: &mut Reader<'_>,
    at: usize,
    (method, name): (Option<Method>, &str),
    node: Node,
    by: &RuleSetVersion,
) -> Option<WrittenValue> {
    let flat = method.map_or_else(|| name.to_owned(), |method| format!("{method}.{name}"));
    let Some(slot) = Slot::find(method, name) else {
        reader.wrong(at, &flat, "no such value is known");
        return None;
    };
    let mut fields = Fields::of(reader, at, flat.clone(), node)?;
    let value = fields.scalar(reader, "value");
    let unit = fields.text(reader, "unit");
    let backing = fields.backing(reader);
    fields.end(reader);
    if let Some((at, unit)) = unit
        && unit != slot.key.unit
    {
        reader.wrong(at, &flat, format!("the unit of this value is \"{}\", not \"{unit}\"", slot.key.unit));
    }
    let ((value_at, value), backing) = value.zip(backing)?;
    let reason = if value.is_not_set() {
        let open = slot.key.silent != Silent::NoLimit && backing.status.counts();
        open.then(|| "what is not set cannot count: its status is \"unconfirmed\"".to_owned())
    } else {
        slot.key.kind.mistake(&value)
    };
    if let Some(reason) = reason {
        reader.wrong(value_at, &flat, reason);
        return None;
    }
    Some(WrittenValue { at: value_at, slot, said: said(value, backing, by) })
}

fn said(value: RuleScalar, backing: Backing, by: &RuleSetVersion) -> Said {
    let Backing { source, status, confirmation } = backing;
    Said { by: by.clone(), value, status, source, confirmation }
}

fn notes(reader: &mut Reader<'_>, at: usize, node: Node, by: &RuleSetVersion) -> Vec<Note> {
    let Some(mut fields) = Fields::of(reader, at, "notes", node) else { return Vec::new() };
    let mut notes = Vec::new();
    for (name, (at, node)) in fields.rest() {
        let key = format!("notes.{name}");
        if !is_key(&name) {
            reader.wrong(at, &key, "write its name in small letters, digits and underscores");
        }
        let Some(mut fields) = Fields::of(reader, at, key, node) else { continue };
        let value = fields.scalar(reader, "value");
        let unit = fields.text(reader, "unit");
        let backing = fields.backing(reader);
        fields.end(reader);
        if let (Some((_, value)), Some((_, unit)), Some(backing)) = (value, unit, backing) {
            notes.push(Note { name, unit, said: said(value, backing, by) });
        }
    }
    notes
}

impl Said {
    /// Whether it may be used: somebody stands for it, and it says something.
    pub(super) fn counts(&self, slot: Slot) -> bool {
        let says_something = !self.value.is_not_set() || slot.key.silent == Silent::NoLimit;
        self.status.counts() && says_something
    }

    /// Whether it names a list of exercises.
    pub(super) fn names_a_list(&self, slot: Slot) -> Option<&str> {
        match &self.value {
            RuleScalar::Text(name) if slot.key.kind == Kind::List && !self.value.is_not_set() => Some(name),
            _ => None,
        }
    }
}
