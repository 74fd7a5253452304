//! Look-backs over random histories, compared with a walk over the plain rows that knows nothing of the program's own.
//!
//! Histories have gaps, fillings on top of others, nebulizers that nobody rinsed, records that came in late, bottles
//! that nobody knows the place of, and runs without a hood. Which list a run belongs to is common practice, no source.

mod history;
mod walk;

use std::collections::BTreeMap;

use chrono::DateTime;
use diesel::connection::SimpleConnection;
use sellion_rules::look_back::Certainty;
use sellion_store::look_back::look_back;
use sellion_tests::harness::Hospital;
use uuid::Uuid;

use history::{Dice, invent};
use walk::{Plain, Walk};

const HISTORIES: u64 = 200;

#[test]
fn look_backs_find_the_same_as_a_walk_over_the_plain_rows() {
    let hospital = Hospital::open();
    let mut conn = hospital.db();
    let mut seen: BTreeMap<Certainty, usize> = BTreeMap::new();
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
    }
    for certainty in Certainty::ALL {
        let runs = seen.get(certainty).copied().unwrap_or_default();
        assert!(runs > 1000, "the histories hardly show {certainty}: {runs} runs");
    }
}
