//! The audit chain: every write leaves rows that carry the hash of the row before them.
//!
//! A row names its subject and keeps a digest of the subject as it was after the write. Whoever
//! changes a stored fact, or an audit row, breaks the chain at a place that [`verify`] can name.

mod append;
mod chain;
mod digest;
mod list;
mod verify;

pub(crate) use append::{Entry, append, append_entries};
pub use chain::{Row as AuditRow, start};
pub(crate) use digest::of_rows as digest_of_rows;
pub use list::list;
pub use verify::{Break, Report, verify};

use serde_json::Value;
use uuid::Uuid;

/// One subject of a write: a row, or a run of events of one screening or attempt.
#[derive(Debug, Clone)]
pub(crate) struct Subject {
    table: &'static str,
    id: Uuid,
    span: Option<(i32, i32)>,
    detail: Option<Value>,
}

impl Subject {
    pub(crate) fn row(table: &'static str, id: Uuid) -> Self {
        Self { table, id, span: None, detail: None }
    }

    pub(crate) fn events(table: &'static str, id: Uuid, from_seq: i32, to_seq: i32) -> Self {
        Self { table, id, span: Some((from_seq, to_seq)), detail: None }
    }

    pub(crate) fn with(mut self, detail: Value) -> Self {
        self.detail = Some(detail);
        self
    }
}
