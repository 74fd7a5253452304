//! Creates that can be repeated: ids are made by the client, so a retry finds the row it made before.

use diesel::{PgConnection, QueryResult};
use sellion_rules::refusal::{Code, Refusal};

use crate::StoreError;

/// Whether a create made its row now or found it made already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Added {
    /// The row is new.
    Now,
    /// The same request came before; the stored row stands.
    Before,
}

impl Added {
    /// True when the row is new.
    #[must_use]
    pub fn is_new(self) -> bool {
        self == Self::Now
    }
}

/// Inserts a row unless its id is there already, in which case the stored row must be the same.
///
/// `insert` runs `insert .. on conflict (id) do nothing` and returns the number of rows it made;
/// `stored` reads the row with that id at the caller's site, in the shape of the new one. The shape
/// leaves out who recorded it and when, because those differ between a request and its repeat.
pub fn insert_once<N: PartialEq>(
    conn: &mut PgConnection,
    new: &N,
    insert: impl FnOnce(&mut PgConnection, &N) -> Result<usize, StoreError>,
    stored: impl FnOnce(&mut PgConnection) -> QueryResult<Option<N>>,
) -> Result<Added, StoreError> {
    if insert(conn, new)? == 1 {
        return Ok(Added::Now);
    }
    match stored(conn)? {
        Some(row) if row == *new => Ok(Added::Before),
        _ => Err(id_reused()),
    }
}

/// The refusal of an id that is stored with other content.
pub(crate) fn id_reused() -> StoreError {
    let sentence = "This id belongs to another record: make a new id for a new record.";
    Refusal::new(Code::IdReused, sentence).field("id").into()
}
