//! Taking the members of a table one by one, so that what is left at the end is what nobody asked for.

use std::str::FromStr;

use super::tree::{Members, Node, Reader, Value};
use super::values::{Confirmation, RuleScalar, RuleStatus};
use crate::UnknownText;

/// A table of the text under the key by which people know it.
pub(super) struct Fields {
    pub(super) at: usize,
    pub(super) key: String,
    members: Members,
}

/// Where a value comes from and how far it can be trusted.
pub(super) struct Backing {
    pub(super) source: String,
    pub(super) status: RuleStatus,
    pub(super) confirmation: Option<Confirmation>,
}

impl Fields {
    /// The table, or a mistake when something else stands there.
    pub(super) fn of(reader: &mut Reader<'_>, at: usize, key: impl Into<String>, node: Node) -> Option<Self> {
        let key = key.into();
        match node.value {
            Value::Table(members) => Some(Self { at, key, members }),
            _ => {
                reader.wrong(node.at, &key, "a table is expected");
                None
            }
        }
    }

    pub(super) fn root(members: Members) -> Self {
        Self { at: 0, key: String::new(), members }
    }

    /// A member that may be absent.
    pub(super) fn take(&mut self, name: &str) -> Option<(usize, Node)> {
        self.members.remove(name)
    }

    /// A member that has to be there.
    pub(super) fn need(&mut self, reader: &mut Reader<'_>, name: &str) -> Option<(usize, Node)> {
        let taken = self.take(name);
        if taken.is_none() {
            reader.wrong(self.at, &self.path(name), format!("{name} is missing"));
        }
        taken
    }

    /// The key of the table; of the whole file that of the member.
    fn path(&self, name: &str) -> String {
        if self.key.is_empty() { name.to_owned() } else { self.key.clone() }
    }

    /// A text that has to be there and says something.
    pub(super) fn text(&mut self, reader: &mut Reader<'_>, name: &str) -> Option<(usize, String)> {
        let (_, node) = self.need(reader, name)?;
        let text = self.as_text(reader, name, node)?;
        if text.1.trim().is_empty() {
            reader.wrong(text.0, &self.path(name), format!("{name} is empty"));
            return None;
        }
        Some(text)
    }

    /// A text that may be absent.
    pub(super) fn optional_text(&mut self, reader: &mut Reader<'_>, name: &str) -> Option<String> {
        let (_, node) = self.take(name)?;
        self.as_text(reader, name, node).map(|(_, text)| text)
    }

    fn as_text(&self, reader: &mut Reader<'_>, name: &str, node: Node) -> Option<(usize, String)> {
        match node.value {
            Value::Text(text) => Some((node.at, text)),
            _ => {
                reader.wrong(node.at, &self.path(name), format!("{name}: a text in quotes is expected"));
                None
            }
        }
    }

    /// One word of a list.
    pub(super) fn word<W: FromStr<Err = UnknownText>>(
        &mut self,
        reader: &mut Reader<'_>,
        name: &str,
    ) -> Option<W> {
        let (at, text) = self.text(reader, name)?;
        let read = text.parse();
        read.map_err(|unknown| reader.wrong(at, &self.path(name), format!("{name}: {unknown}"))).ok()
    }

    /// A whole number from `least` to `most`; `absent` where it is not written.
    pub(super) fn number<N: TryFrom<i64>>(
        &mut self,
        reader: &mut Reader<'_>,
        name: &str,
        (least, absent): (i64, Option<N>),
    ) -> Option<N> {
        let taken = if absent.is_some() { self.take(name) } else { self.need(reader, name) };
        let Some((_, node)) = taken else { return absent };
        let reason = match node.value {
            Value::Number(number) if number < least => format!("{name}: {number} is less than {least}"),
            Value::Number(number) => match N::try_from(number) {
                Ok(number) => return Some(number),
                Err(_) => format!("{name}: {number} is too large"),
            },
            Value::Other(what) => format!("{name}: this is {what}"),
            _ => format!("{name}: a whole number is expected"),
        };
        reader.wrong(node.at, &self.path(name), reason);
        None
    }

    /// A flag, a number or a word.
    pub(super) fn scalar(&mut self, reader: &mut Reader<'_>, name: &str) -> Option<(usize, RuleScalar)> {
        let (_, node) = self.need(reader, name)?;
        let scalar = match node.value {
            Value::Text(text) => RuleScalar::Text(text),
            Value::Number(number) => RuleScalar::Number(number),
            Value::Flag(flag) => RuleScalar::Flag(flag),
            other => {
                let what = match other {
                    Value::Other(what) => what,
                    Value::Date(_) => "a day",
                    Value::List(_) => "a list",
                    _ => "a table",
                };
                reader.wrong(node.at, &self.path(name), format!("{name}: this is {what}"));
                return None;
            }
        };
        Some((node.at, scalar))
    }

    /// Source, status and confirmation. A confirmation makes the status, so only one of the two has to be written.
    pub(super) fn backing(&mut self, reader: &mut Reader<'_>) -> Option<Backing> {
        let source = self.source(reader);
        let confirmation = self.confirmation(reader);
        let status = if confirmation.is_some() && !self.members.contains_key("status") {
            Some(RuleStatus::Confirmed)
        } else {
            let at = self.members.get("status").map_or(self.at, |(_, node)| node.at);
            let status = self.word(reader, "status");
            if let Some(status) =
                status.filter(|status| confirmation.is_some() != (*status == RuleStatus::Confirmed))
            {
                let reason = format!(
                    "status: {status} does not go with {}; a value is confirmed by confirmed_by and confirmed_on",
                    if confirmation.is_some() { "a confirmation" } else { "no confirmation" }
                );
                reader.wrong(at, &self.key, reason);
            }
            status
        };
        Some(Backing { source: source?, status: status?, confirmation })
    }

    fn source(&mut self, reader: &mut Reader<'_>) -> Option<String> {
        let at = self.members.get("source").map_or(self.at, |(_, node)| node.at);
        match self.need(reader, "source").map(|(_, node)| node.value)? {
            Value::Text(text) if !text.trim().is_empty() => Some(text),
            _ => {
                let reason = "the source is empty; write \"no source\" where there is none";
                reader.wrong(at, &self.key, reason);
                None
            }
        }
    }

    fn confirmation(&mut self, reader: &mut Reader<'_>) -> Option<Confirmation> {
        let written = |name: &str| self.members.contains_key(name);
        if !written("confirmed_by") && !written("confirmed_on") {
            return None;
        }
        let by = self.text(reader, "confirmed_by").map(|(_, by)| by.trim().to_owned());
        let on = match self.need(reader, "confirmed_on").map(|(_, node)| (node.at, node.value)) {
            Some((_, Value::Date(on))) => Some(on),
            Some((at, _)) => {
                let reason = "confirmed_on: a day is expected, as 2026-11-25 without quotes";
                reader.wrong(at, &self.key, reason);
                None
            }
            None => None,
        };
        Some(Confirmation { confirmed_by: by?, confirmed_on: on? })
    }

    /// The members that are left, for a table whose names are free.
    pub(super) fn rest(&mut self) -> Members {
        std::mem::take(&mut self.members)
    }

    /// Says of what is left that nobody knows it.
    pub(super) fn end(self, reader: &mut Reader<'_>) {
        for (name, (at, _)) in &self.members {
            reader.wrong(*at, &self.path(name), format!("\"{name}\" is not known here"));
        }
    }
}
