//! Look-backs over random histories, compared with a walk over the plain rows that knows nothing of the program's own.
//!
//! Histories have gaps, fillings on top of others, nebulizers that nobody rinsed for days or that were mixed up, records
//! that came in late, bottles that nobody knows the place of, and runs without a hood or without a lot of the facepiece. Which list a run belongs to is common practice, no source.

mod history;
mod nebulizers;
mod walk;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use diesel::{PgConnection, connection::SimpleConnection};
use sellion_rules::{
    clearance::ClearanceReason,
    look_back::{Certainty, Span},
};
use sellion_store::{
    clearance::{self, Moments},
    look_back::{Asked, look_back},
};
use sellion_tests::harness::Hospital;
use uuid::Uuid;

use history::{Dice, invent};
use walk::{Plain, Walk};

const HISTORIES: u64 = 200;

/// The statement that stops something from its own beginning on.
fn stop(site: Uuid, asked: Asked, possibly: bool) -> String {
    let reach = if possibly { "'possibly'" } else { "null" };
    let told = format!("'{}', '{site}', 'it leaks', {reach}, now(), now(), '{site}'", Uuid::now_v7());
    let of = |column: &str, id: Uuid, span: Span| {
        let moment = |at: Option<DateTime<Utc>>| at.map_or("null".to_owned(), |at| format!("'{at}'"));
        let (from, until) = (moment(span.from), moment(span.until));
        format!(
            "insert into stops (id, site_id, reason, reach, happened_at, recorded_at, recorded_by, {column}, from_at, \
             until_at) values ({told}, '{id}', {from}, {until})"
        )
    };
    match asked {
        Asked::Lot(id) => format!(
            "insert into lot_marks (id, site_id, reason, reach, happened_at, recorded_at, recorded_by, mark, lot_id) \
             values ({told}, 'stop', '{id}')"
        ),
        Asked::Bottle(id) => of("bottle_id", id, Span::default()),
        Asked::Fill(id) => of("fill_id", id, Span::default()),
        Asked::Equipment(id, span) => of("equipment_id", id, span),
        Asked::Tester(id, span) => of("tester_id", id, span),
        Asked::Station(id, span) => of("station_id", id, span),
    }
}

/// The attempts whose clearances say that they are in doubt. Nobody here has a permission, which is another reason.
fn in_doubt(conn: &mut PgConnection, site: Uuid, plain: &Plain) -> BTreeSet<String> {
    let now = DateTime::from_timestamp(1_780_400_000, 0).unwrap();
    let moments = Moments { at: now, known_at: DateTime::<Utc>::MAX_UTC };
    let clearances = plain.people().into_iter().flat_map(|person| {
        let of_person = clearance::of_person(conn, site, person, moments).unwrap();
        of_person.into_iter()
    });
    let doubtful = clearances.filter(|found| {
        let doubts = [ClearanceReason::LotStopped, ClearanceReason::InDoubt];
        found.clearance.reasons.iter().any(|reason| doubts.contains(reason))
    });
    doubtful.map(|found| found.respirator_id.to_string()).collect()
}

#[test]
fn look_backs_find_the_same_as_a_walk_over_the_plain_rows() {
    let hospital = Hospital::open();
    let mut conn = hospital.db();
    let (mut seen, mut doubtful): (BTreeMap<Certainty, usize>, usize) = Default::default();
    let first: u64 =
        std::env::var("SELLION_FIRST_HISTORY").ok().and_then(|text| text.parse().ok()).unwrap_or(1);
    for number in first..first + HISTORIES {
        let zero = DateTime::from_timestamp(1_780_000_020, 0).unwrap();
        let history = invent(&mut Dice(number), Uuid::now_v7(), zero);
        // Only the rows that a look-back walks along are there, so nothing else may be asked for.
        let sql = format!("set session_replication_role = replica;\n{}", history.sql);
        conn.batch_execute(&sql).unwrap();
        conn.batch_execute("set session_replication_role = origin").unwrap();
        let plain = Plain::read(&mut conn, history.site);
        for asked in &history.asked {
            let walked = Walk { plain: &plain, asked: *asked }.lists();
            let found = look_back(&mut conn, history.site, *asked).unwrap();
            let mut lists: BTreeMap<String, (String, Certainty)> = BTreeMap::new();
            for person in &found.people {
                let worst = person.runs.iter().map(|run| run.verdict.certainty).max();
                assert_eq!(worst, Some(person.certainty));
                for run in &person.runs {
                    *seen.entry(run.verdict.certainty).or_default() += 1;
                    let run_of = (person.person_id.to_string(), run.verdict.certainty);
                    lists.insert(run.id.to_string(), run_of);
                }
            }
            assert_eq!(lists, walked, "history {number}, {asked:?}");
        }
        // One of them is stopped, in every second history only for what surely stands on it.
        let place = usize::try_from(number).unwrap() % history.asked.len();
        let (asked, possibly) = (history.asked[place], number % 2 == 0);
        // A person in two chairs at once is in doubt anyway, by a rule of its own.
        let before = in_doubt(&mut conn, history.site, &plain);
        conn.batch_execute(&stop(history.site, asked, possibly)).unwrap();
        let held = &in_doubt(&mut conn, history.site, &plain) - &before;
        let walked = &Walk { plain: &plain, asked }.passes_in_doubt(possibly) - &before;
        assert_eq!(held, walked, "history {number}, a stop of {asked:?}");
        doubtful += held.len();
    }
    for certainty in Certainty::ALL {
        let runs = seen.get(certainty).copied().unwrap_or_default();
        assert!(runs > 1000, "the histories hardly show {certainty}: {runs} runs");
    }
    assert!(doubtful > 200, "hardly any clearance was in doubt: {doubtful}");
}
