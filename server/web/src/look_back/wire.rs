//! A look-back as it is sent.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use sellion_planning::retests::{PersonRetests, Retest};
use sellion_rules::{
    clearance::{Clearance, ClearanceReason, ClearanceState},
    look_back::{Certainty, Reason},
};
use sellion_store::look_back::{
    BadgeHeld, ClearanceDoubt, GateEntries, Judged, PersonDetail, RunKind, StationUse, Totals,
};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::page::{Page, Window};

/// How many there are of one kind.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TotalsView {
    /// People whose worst verdict it is.
    #[schema(example = 41)]
    people: usize,
    #[schema(example = 38)]
    screenings: usize,
    #[schema(example = 52)]
    attempts: usize,
}

impl From<Totals> for TotalsView {
    fn from(Totals { people, screenings, attempts }: Totals) -> Self {
        Self { people, screenings, attempts }
    }
}

/// How many there are of each kind.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AllTotals {
    /// By the record they stand on it.
    surely: TotalsView,
    /// The record does not rule it out.
    possibly: TotalsView,
    /// Tested where it was in use, or may have been, but not with it.
    not_affected: TotalsView,
}

impl From<[Totals; 3]> for AllTotals {
    fn from([surely, possibly, not_affected]: [Totals; 3]) -> Self {
        Self { surely: surely.into(), possibly: possibly.into(), not_affected: not_affected.into() }
    }
}

/// A run with its verdict.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RunView {
    #[schema(inline)]
    kind: Kind,
    id: Uuid,
    station_id: Uuid,
    /// Of an attempt.
    #[serde(skip_serializing_if = "Option::is_none")]
    respirator_id: Option<Uuid>,
    happened_at: DateTime<Utc>,
    /// Absent while it is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    ended_at: Option<DateTime<Utc>>,
    /// Absent while it is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "pass")]
    outcome: Option<String>,
    /// Whether a correction took it out of every judgement.
    corrected: bool,
    certainty: Certainty,
    /// Why it is counted there.
    reasons: Vec<Reason>,
}

#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum Kind {
    Screening,
    Attempt,
}

impl From<RunKind> for Kind {
    fn from(kind: RunKind) -> Self {
        match kind {
            RunKind::Screening => Self::Screening,
            RunKind::Attempt => Self::Attempt,
        }
    }
}

impl From<Judged> for RunView {
    fn from(run: Judged) -> Self {
        Self {
            kind: run.kind.into(),
            id: run.id,
            station_id: run.station_id,
            respirator_id: run.respirator_id,
            happened_at: run.began_at,
            ended_at: run.ended_at,
            outcome: run.outcome,
            corrected: run.corrected,
            certainty: run.verdict.certainty,
            reasons: run.verdict.reasons,
        }
    }
}

/// A clearance in brief.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BriefClearance {
    state: ClearanceState,
    /// Why not, when it is not `cleared`.
    reasons: Vec<ClearanceReason>,
    #[serde(skip_serializing_if = "Option::is_none")]
    due_on: Option<NaiveDate>,
}

impl From<Clearance> for BriefClearance {
    fn from(clearance: Clearance) -> Self {
        Self { state: clearance.state, reasons: clearance.reasons, due_on: clearance.due_on }
    }
}

/// One clearance, and what it would be without the doubtful attempts.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ClearanceDoubtView {
    respirator_id: Uuid,
    /// In words.
    #[schema(example = "Tarn & Vale Linnet 2 folded M")]
    respirator: String,
    /// As it would be if what is asked about were not stopped.
    before: BriefClearance,
    /// As it is.
    now: BriefClearance,
    /// With the surely affected attempts held.
    without_sure: BriefClearance,
    /// With the possibly affected ones held as well.
    without_possible: BriefClearance,
    /// Present where it is lost: already without the sure attempts, or only without the possible ones as well.
    #[serde(skip_serializing_if = "Option::is_none")]
    retest: Option<Certainty>,
}

impl From<ClearanceDoubt> for ClearanceDoubtView {
    fn from(doubt: ClearanceDoubt) -> Self {
        Self {
            retest: doubt.retest(),
            respirator_id: doubt.respirator_id,
            respirator: doubt.respirator,
            before: doubt.before.into(),
            now: doubt.now.into(),
            without_sure: doubt.without_sure.into(),
            without_possible: doubt.without_possible.into(),
        }
    }
}

/// How often somebody was let in at a gate since their first doubtful pass.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct GateEntriesView {
    gate_id: Uuid,
    #[schema(example = "Heron ward, north door")]
    gate: String,
    #[schema(example = 3)]
    count: i64,
    last_at: DateTime<Utc>,
}

impl From<GateEntries> for GateEntriesView {
    fn from(GateEntries { gate_id, name, count, last_at }: GateEntries) -> Self {
        Self { gate_id, gate: name, count, last_at }
    }
}

/// A badge in force.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeHeldView {
    badge_id: Uuid,
    #[schema(example = "7K4M2Q9XTD")]
    serial: String,
}

impl From<BadgeHeld> for BadgeHeldView {
    fn from(BadgeHeld { badge_id, serial }: BadgeHeld) -> Self {
        Self { badge_id, serial }
    }
}

/// One person of a look-back.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LookBackPerson {
    person_id: Uuid,
    #[schema(example = "0047192")]
    staff_number: String,
    #[schema(example = "Ines")]
    given_name: String,
    #[schema(example = "Valdrun")]
    family_name: String,
    #[schema(example = "Heron ward")]
    unit: String,
    /// The worst verdict of the runs.
    certainty: Certainty,
    /// In the order in which they were opened.
    runs: Vec<RunView>,
    clearances: Vec<ClearanceDoubtView>,
    /// Gates where the person was let in since the first doubtful pass.
    entries: Vec<GateEntriesView>,
    badges: Vec<BadgeHeldView>,
    /// The fewest retests that open the gates which the person needs: those of the entries, or, without any, those
    /// where something is accepted that was lost.
    retests: Vec<Retest>,
    /// Needed gates that no retest opens: another respirator is needed there, or the gate has no policy.
    gates_without_retest: Vec<Uuid>,
}

impl LookBackPerson {
    fn new(person: PersonDetail, needs: Option<PersonRetests>) -> Self {
        let (retests, gates_without_retest) =
            needs.map(|needs| (needs.retests, needs.uncoverable)).unwrap_or_default();
        Self {
            retests,
            gates_without_retest,
            person_id: person.found.person_id,
            staff_number: person.staff_number,
            given_name: person.given_name,
            family_name: person.family_name,
            unit: person.unit,
            certainty: person.found.certainty,
            runs: person.found.runs.into_iter().map(Into::into).collect(),
            clearances: person.clearances.into_iter().map(Into::into).collect(),
            entries: person.entries.into_iter().map(Into::into).collect(),
            badges: person.badges.into_iter().map(Into::into).collect(),
        }
    }
}

/// A page of a look-back, with the totals of the whole of it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LookBackView {
    totals: AllTotals,
    /// By person id.
    items: Vec<LookBackPerson>,
    /// Send as `cursor` for the next page; absent on the last one.
    #[serde(skip_serializing_if = "Option::is_none")]
    next: Option<String>,
}

impl LookBackView {
    pub(super) fn new(
        totals: [Totals; 3],
        people: Vec<PersonDetail>,
        retests: HashMap<Uuid, PersonRetests>,
        window: Window,
    ) -> Self {
        let needs = |person: PersonDetail| {
            let needs = retests.get(&person.found.person_id).cloned();
            LookBackPerson::new(person, needs)
        };
        let Page { items, next } = Page::of(people, window, |person| person.found.person_id, needs);
        Self { totals: totals.into(), items, next }
    }
}

/// One station where it was in use, or may have been.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StationCounts {
    station_id: Uuid,
    #[schema(example = "Station 2")]
    station: String,
    /// The place of its day.
    #[schema(example = "Heron ward")]
    place: String,
    /// When its day opened.
    opens_at: DateTime<Utc>,
    /// Runs there that stand on it by the record.
    surely: usize,
    /// Runs there that may.
    possibly: usize,
    /// Runs there that do not.
    not_affected: usize,
}

impl From<StationUse> for StationCounts {
    fn from(used: StationUse) -> Self {
        let [surely, possibly, not_affected] = used.runs;
        Self {
            station_id: used.station_id,
            station: used.name,
            place: used.place,
            opens_at: used.opens_at,
            surely,
            possibly,
            not_affected,
        }
    }
}

/// How many stand on what is asked about, and where.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CountsView {
    totals: AllTotals,
    /// By the opening of their day and by name.
    stations: Vec<StationCounts>,
}

impl CountsView {
    pub(super) fn new(totals: [Totals; 3], stations: Vec<StationCounts>) -> Self {
        Self { totals: totals.into(), stations }
    }
}
