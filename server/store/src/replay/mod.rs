//! Replay: every stored verdict and every clearance computed once more from what it follows from.
//!
//! A verdict is a function of a setup and a list of events, and a clearance one of facts. So whatever is stored has to
//! come out again; what does not was changed behind the program's back, or shows a fault in it.

mod attempts;
mod clearances;
mod screenings;

use diesel::PgConnection;
use serde::Serialize;
use uuid::Uuid;

use crate::StoreError;

/// How many runs or people are read at a time.
const AT_ONCE: i64 = 500;

/// What a replay of one site found.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Report {
    /// Attempts played again.
    pub attempts: u64,
    /// Screenings played again.
    pub screenings: u64,
    /// Clearances computed again.
    pub clearances: u64,
    /// What did not come out as it is stored.
    pub differences: Vec<Difference>,
}

/// Something that does not come out as it is stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// The table of the stored value.
    pub table: &'static str,
    /// The screening, the attempt, or the person of a clearance.
    pub id: Uuid,
    /// The respirator of a clearance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub respirator_id: Option<Uuid>,
    /// What is stored, as JSON or in words.
    pub stored: String,
    /// What comes out.
    pub computed: String,
}

/// Plays everything of one site again, on one picture of the database, and reports every difference.
///
/// `progress` is told how many of how many rows are done.
pub fn replay(
    conn: &mut PgConnection,
    site_id: Uuid,
    mut progress: impl FnMut(u64, u64),
) -> Result<Report, StoreError> {
    conn.build_transaction().read_only().repeatable_read().run(|conn| {
        let total = screenings::count(conn, site_id)?
            + attempts::count(conn, site_id)?
            + clearances::count(conn, site_id)?;
        let mut run = Run { site_id, report: Report::default(), total, progress: &mut progress };
        run.told();
        screenings::all(conn, &mut run)?;
        attempts::all(conn, &mut run)?;
        clearances::all(conn, &mut run)?;
        Ok(run.report)
    })
}

/// A replay on its way.
struct Run<'a> {
    site_id: Uuid,
    report: Report,
    total: u64,
    progress: &'a mut dyn FnMut(u64, u64),
}

impl Run<'_> {
    fn told(&mut self) {
        let Report { attempts, screenings, clearances, .. } = &self.report;
        (self.progress)(attempts + screenings + clearances, self.total);
    }

    /// Keeps a difference, if the two are not the same.
    fn compare<T: PartialEq + Serialize>(
        &mut self,
        (table, id, respirator_id): (&'static str, Uuid, Option<Uuid>),
        stored: Option<&T>,
        computed: Result<Option<&T>, String>,
    ) {
        if computed.as_ref().is_ok_and(|computed| *computed == stored) {
            return;
        }
        let computed = computed.map_or_else(|words| words, shown);
        let stored = shown(stored);
        self.report.differences.push(Difference { table, id, respirator_id, stored, computed });
    }
}

fn shown<T: Serialize>(value: Option<&T>) -> String {
    let Some(value) = value else { return "nothing".to_owned() };
    serde_json::to_string(value).unwrap_or_else(|error| error.to_string())
}

/// A number of rows, which is never negative.
fn rows(count: i64) -> u64 {
    u64::try_from(count).unwrap_or(0)
}
