//! TOML as a plain tree in which every value knows where it stands in the text.

use std::collections::BTreeMap;
use std::str::FromStr;

use chrono::NaiveDate;
use toml::de::{DeTable, DeValue};

use super::mistake::{Mistake, MistakeKind};

/// The members of a table by name, each with the place of its name.
pub(super) type Members = BTreeMap<String, (usize, Node)>;

/// A value and the byte at which it begins.
#[derive(Debug)]
pub(super) struct Node {
    pub(super) at: usize,
    pub(super) value: Value,
}

#[derive(Debug)]
pub(super) enum Value {
    Text(String),
    Number(i64),
    Flag(bool),
    Date(NaiveDate),
    List(Vec<Node>),
    Table(Members),
    /// What no rule set holds, in words.
    Other(&'static str),
}

/// The text, and what was found wrong with it so far.
pub(super) struct Reader<'t> {
    text: &'t str,
    mistakes: Vec<Mistake>,
}

impl<'t> Reader<'t> {
    /// Reads as much of the text as can be read.
    pub(super) fn open(text: &'t str) -> (Self, Members) {
        let mut reader = Self { text, mistakes: Vec::new() };
        let (document, errors) = DeTable::parse_recoverable(text);
        for error in errors {
            let at = error.span().map_or(0, |span| span.start);
            reader.wrong(at, "", error.message().trim_end());
        }
        (reader, members(document.into_inner()))
    }

    pub(super) fn wrong(&mut self, at: usize, key: &str, reason: impl Into<String>) {
        self.push(at, key, MistakeKind::Malformed, reason.into());
    }

    pub(super) fn looser(&mut self, at: usize, key: &str, reason: impl Into<String>) {
        self.push(at, key, MistakeKind::LooserWithoutConfirmation, reason.into());
    }

    fn push(&mut self, at: usize, key: &str, kind: MistakeKind, reason: String) {
        let (line, column) = self.place(at);
        self.mistakes.push(Mistake { line, column, key: key.to_owned(), kind, reason });
    }

    /// Line and column of a byte, both from 1, the column in characters.
    fn place(&self, at: usize) -> (usize, usize) {
        let before = self.text.get(..at).unwrap_or(self.text);
        let line = before.matches('\n').count().saturating_add(1);
        let column = before.rsplit('\n').next().unwrap_or("").chars().count().saturating_add(1);
        (line, column)
    }

    /// Whether something was found wrong with this value.
    pub(super) fn is_wrong(&self, key: &str) -> bool {
        self.mistakes.iter().any(|mistake| mistake.key == key)
    }

    /// Whether something was found wrong with a part of this.
    pub(super) fn is_wrong_in(&self, key: &str) -> bool {
        self.mistakes.iter().any(|mistake| mistake.key.starts_with(key))
    }

    pub(super) fn has_none(&self) -> bool {
        self.mistakes.is_empty()
    }

    /// The mistakes in the order of the text, each once.
    pub(super) fn mistakes(mut self) -> Vec<Mistake> {
        self.mistakes.sort();
        self.mistakes.dedup();
        self.mistakes
    }
}

fn members(table: DeTable<'_>) -> Members {
    let member = |(key, value): (toml::Spanned<toml::de::DeString<'_>>, toml::Spanned<DeValue<'_>>)| {
        let at = key.span().start;
        (key.into_inner().into_owned(), (at, node(value)))
    };
    table.into_iter().map(member).collect()
}

/// The reader of TOML bounds how deep tables and lists may lie in each other, so this ends.
fn node(spanned: toml::Spanned<DeValue<'_>>) -> Node {
    let at = spanned.span().start;
    let value = match spanned.into_inner() {
        DeValue::String(text) => Value::Text(text.into_owned()),
        DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix())
            .map_or(Value::Other("a number that is too large"), Value::Number),
        DeValue::Boolean(flag) => Value::Flag(flag),
        DeValue::Datetime(moment) => NaiveDate::from_str(&moment.to_string())
            .map_or(Value::Other("a time; a day is written as 2026-11-25"), Value::Date),
        DeValue::Array(list) => Value::List(list.into_iter().map(node).collect()),
        DeValue::Table(table) => Value::Table(members(table)),
        DeValue::Float(_) => Value::Other("a number with a point; write it as a text, as \"0.83\""),
    };
    Node { at, value }
}
