//! The three lists: every run at the stations where what is asked about was in use, or may have been, each judged.

use std::collections::{BTreeMap, HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel::PgConnection;
use sellion_rules::look_back::{Certainty, Subject, Verdict, judge, judge_attempt};
use uuid::Uuid;

use super::{
    Asked, RunKind,
    in_use::stations,
    rows::{self, Around, RunRow, Wanted},
    subjects::{self, Detail},
};
use crate::StoreError;

/// A run with its verdict.
#[derive(Debug, Clone)]
pub struct Judged {
    /// Screening or attempt.
    pub kind: RunKind,
    /// Its id.
    pub id: Uuid,
    /// Whose.
    pub person_id: Uuid,
    /// Where.
    pub station_id: Uuid,
    /// Of an attempt, on which respirator.
    pub respirator_id: Option<Uuid>,
    /// When it was opened.
    pub began_at: DateTime<Utc>,
    /// When it ended.
    pub ended_at: Option<DateTime<Utc>>,
    /// How it ended, as its word; none while it is open.
    pub outcome: Option<String>,
    /// Whether a correction took it out of every judgement.
    pub corrected: bool,
    /// What it has to do with what is asked about.
    pub verdict: Verdict,
}

impl Judged {
    /// Whether a clearance can stand on it: a pass that no correction took away.
    #[must_use]
    pub fn counts(&self) -> bool {
        self.kind == RunKind::Attempt && self.outcome.as_deref() == Some("pass") && !self.corrected
    }
}

/// One person with the runs that were looked at, and the worst of their verdicts.
#[derive(Debug, Clone)]
pub struct PersonFound {
    /// The person.
    pub person_id: Uuid,
    /// The worst verdict.
    pub certainty: Certainty,
    /// The runs, in the order in which they were opened.
    pub runs: Vec<Judged>,
}

/// How many there are of each kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Totals {
    /// People whose worst verdict it is.
    pub people: usize,
    /// Screenings with that verdict.
    pub screenings: usize,
    /// Attempts with that verdict.
    pub attempts: usize,
}

/// Everything that was found.
#[derive(Debug, Clone)]
pub struct LookBack {
    /// Everybody, by id.
    pub people: Vec<PersonFound>,
    /// The stations where it was in use, or may have been.
    pub stations: Vec<Uuid>,
}

impl LookBack {
    /// How many there are with this verdict.
    #[must_use]
    pub fn totals(&self, certainty: Certainty) -> Totals {
        let runs = |kind| {
            let runs = self.people.iter().flat_map(|person| &person.runs);
            runs.filter(|run| run.kind == kind && run.verdict.certainty == certainty).count()
        };
        Totals {
            people: self.people.iter().filter(|person| person.certainty == certainty).count(),
            screenings: runs(RunKind::Screening),
            attempts: runs(RunKind::Attempt),
        }
    }
}

/// Looks back at what is asked about.
pub fn look_back(conn: &mut PgConnection, site_id: Uuid, asked: Asked) -> Result<LookBack, StoreError> {
    asked.known(conn, site_id)?;
    let subjects = subjects::load(conn, site_id, &[asked], Detail::Whereabouts, None)?;
    let subjects = subjects.into_iter().next().unwrap_or_default();
    let stations = stations(conn, site_id, &subjects)?;
    let runs = judged_at(conn, site_id, &subjects, &stations)?;
    let mut people: BTreeMap<Uuid, Vec<Judged>> = BTreeMap::new();
    for run in runs {
        people.entry(run.person_id).or_default().push(run);
    }
    let people = people.into_iter().map(|(person_id, mut runs)| {
        runs.sort_by_key(|run| (run.began_at, run.kind, run.id));
        let worst = runs.iter().map(|run| run.verdict.certainty).max();
        PersonFound { person_id, certainty: worst.unwrap_or(Certainty::NotAffected), runs }
    });
    Ok(LookBack { people: people.collect(), stations })
}

/// The runs at these stations, and the attempts elsewhere that stand on an affected screening there, judged.
fn judged_at(
    conn: &mut PgConnection,
    site_id: Uuid,
    subjects: &[Subject],
    stations: &[Uuid],
) -> Result<Vec<Judged>, StoreError> {
    let here = Wanted::Stations(stations);
    let screened = rows::screenings(conn, site_id, &here)?;
    let mut tested = rows::attempts(conn, site_id, &here)?;
    let known: HashSet<Uuid> = tested.iter().map(|row| row.id).collect();
    let ids: Vec<Uuid> = screened.iter().map(|row| row.id).collect();
    let standing = rows::attempts(conn, site_id, &Wanted::StandingOn(&ids))?;
    tested.extend(standing.into_iter().filter(|row| !known.contains(&row.id)));
    let screened_here: HashSet<Uuid> = ids.into_iter().collect();
    let elsewhere: HashSet<Uuid> = tested
        .iter()
        .filter_map(|row| row.screening_id)
        .filter(|screening| !screened_here.contains(screening))
        .collect();
    let elsewhere: Vec<Uuid> = elsewhere.into_iter().collect();
    let elsewhere = rows::screenings(conn, site_id, &Wanted::Ids(&elsewhere))?;
    let all: Vec<&RunRow> = screened.iter().chain(&tested).chain(&elsewhere).collect();
    let around = rows::around(conn, site_id, &all)?;
    let screenings: HashMap<Uuid, &RunRow> =
        screened.iter().chain(&elsewhere).map(|row| (row.id, row)).collect();
    let mut found: Vec<Judged> = Vec::with_capacity(screened.len() + tested.len());
    for row in screened.iter().chain(&tested) {
        let verdict = verdict(subjects, &around, row, &screenings);
        let here = stations.binary_search(&row.station_id).is_ok();
        if here || verdict.certainty > Certainty::NotAffected {
            found.push(row.judged(verdict));
        }
    }
    Ok(found)
}

/// The verdict on one run, with its screening where it stands on one.
pub(super) fn verdict(
    subjects: &[Subject],
    around: &Around,
    row: &RunRow,
    screenings: &HashMap<Uuid, &RunRow>,
) -> Verdict {
    let run = around.run(row);
    match row.kind {
        RunKind::Screening => judge(subjects, &run),
        RunKind::Attempt => {
            let screening = row.screening_id.and_then(|id| screenings.get(&id));
            judge_attempt(subjects, &run, screening.map(|row| around.run(row)).as_ref())
        }
    }
}

impl RunRow {
    fn judged(&self, verdict: Verdict) -> Judged {
        Judged {
            kind: self.kind,
            id: self.id,
            person_id: self.person_id,
            station_id: self.station_id,
            respirator_id: self.respirator_id,
            began_at: self.began_at,
            ended_at: self.ended_at,
            outcome: self.outcome.clone(),
            corrected: self.corrected,
            verdict,
        }
    }
}
