//! The versions of policies that scans have met. A version never changes, so each is read once and kept.

use std::collections::HashMap;

use diesel::PgConnection;
use sellion_rules::policy::PolicyVersion;
use uuid::Uuid;

use super::facts::Facts;
use crate::{StoreError, policy};

/// Versions kept: many more than are in force at a time. Beyond it, all are read anew.
const KEPT_MAX: usize = 4096;

/// Versions by id.
#[derive(Default)]
pub(super) struct Versions(HashMap<Uuid, PolicyVersion>);

impl Versions {
    /// Reads those of these policies that were not met before.
    pub(super) fn meet(
        &mut self,
        conn: &mut PgConnection,
        policies: impl IntoIterator<Item = Uuid>,
    ) -> Result<(), StoreError> {
        let mut unknown: Vec<Uuid> = policies.into_iter().filter(|id| !self.0.contains_key(id)).collect();
        if unknown.is_empty() {
            return Ok(());
        }
        unknown.sort_unstable();
        unknown.dedup();
        if self.0.len() + unknown.len() > KEPT_MAX {
            self.0.clear();
        }
        let read = policy::by_ids(conn, &unknown)?;
        self.0.extend(read.into_iter().map(|version| (version.id, version)));
        Ok(())
    }

    /// A version that was met.
    pub(super) fn get(&self, policy: Option<Uuid>) -> Option<&PolicyVersion> {
        self.0.get(&policy?)
    }

    /// The version that governs a scan.
    pub(super) fn of(&self, facts: &Facts) -> Option<&PolicyVersion> {
        self.get(facts.policy_id)
    }
}
