//! Replay: what is stored comes out again, and what was changed behind the program's back is found.

use diesel::connection::SimpleConnection;
use sellion_store::replay::{Report, replay};
use sellion_tests::harness::{Hospital, day::id_of, taste::Ending};

fn replayed(hospital: &Hospital) -> Report {
    let mut told = Vec::new();
    let report =
        replay(&mut hospital.db(), hospital.site_id, |done, total| told.push((done, total))).unwrap();
    assert_eq!(told.first().unwrap().0, 0);
    let (done, total) = told.last().unwrap();
    assert_eq!(done, total, "progress reaches its end");
    report
}

/// A day with every kind of end.
fn busy_day(hospital: &Hospital) {
    let respirator = id_of(&hospital.respirator("M"));
    let endings = [Ending::Pass, Ending::Fail, Ending::Void, Ending::Stopped];
    for (number, ending) in endings.into_iter().enumerate() {
        let person = id_of(&hospital.permitted_person(&format!("004{number}")));
        let _ = hospital.tests(person, respirator, ending, hospital.ago(1200));
    }
}

/// Changes what nobody may change, as somebody with the keys of the database could.
fn tamper(hospital: &Hospital, sql: &str) {
    hospital.db().batch_execute(&format!("set session_replication_role = replica; {sql}")).unwrap();
}

#[test]
fn every_stored_verdict_and_clearance_comes_out_again() {
    let hospital = Hospital::open();
    assert_eq!(replayed(&hospital), Report::default());
    busy_day(&hospital);
    let report = replayed(&hospital);
    assert_eq!((report.screenings, report.attempts, report.clearances), (4, 4, 2));
    assert_eq!(report.differences, []);
}

#[test]
fn a_verdict_that_was_changed_is_reported_with_what_comes_out() {
    let hospital = Hospital::open();
    busy_day(&hospital);
    tamper(
        &hospital,
        "update attempt_verdicts set outcome = 'pass', reason = 'completed' where outcome = 'fail'",
    );
    let differences = replayed(&hospital).differences;
    let tables: Vec<&str> = differences.iter().map(|difference| difference.table).collect();
    assert_eq!(tables, ["attempt_verdicts", "clearances"], "{differences:?}");
    assert!(differences[0].stored.contains("\"pass\"") && differences[0].computed.contains("\"fail\""));
    assert!(differences[1].computed.contains("\"cleared\""), "what would follow from the changed verdict");
}

#[test]
fn a_changed_level_a_lost_event_and_a_lost_verdict_are_reported() {
    let hospital = Hospital::open();
    busy_day(&hospital);
    tamper(
        &hospital,
        "update screening_verdicts set level = 30 where screening_id = (select min(id::text)::uuid from screenings);
         delete from attempt_events where seq = 4 and attempt_id = (select min(id::text)::uuid from attempts);
         delete from attempt_verdicts where outcome = 'stopped'",
    );
    let differences = replayed(&hospital).differences;
    let tables: Vec<&str> = differences.iter().map(|difference| difference.table).collect();
    assert_eq!(tables, ["screening_verdicts", "attempt_verdicts", "attempts", "attempt_verdicts"]);
    assert!(differences[1].computed.contains("event 4 is refused"), "{differences:?}");
    assert_eq!(differences[3].stored, "nothing");
}

#[test]
fn a_clearance_that_follows_from_nothing_is_reported() {
    let hospital = Hospital::open();
    let person = id_of(&hospital.permitted_person("0047"));
    let respirator = id_of(&hospital.respirator("M"));
    tamper(
        &hospital,
        &format!(
            "insert into clearances (person_id, respirator_id, site_id, state, reasons, computed_at)
             select '{person}', '{respirator}', id, 'cleared', '{{}}', now() from sites"
        ),
    );
    let report = replayed(&hospital);
    assert_eq!(report.clearances, 1);
    assert_eq!(report.differences[0].computed, "nothing");
    assert_eq!(report.differences[0].respirator_id, Some(respirator));
}
