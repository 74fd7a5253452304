//! What is no longer kept goes, with proof that it went and that nothing else did.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{
    QueryableByName, RunQueryDsl,
    sql_types::{BigInt, Timestamptz},
};
use sellion_rules::roles::Role;
use sellion_store::{
    audit,
    retention::{self, Pruned},
};
use sellion_tests::harness::Hospital;
use serde_json::json;
use uuid::Uuid;

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

fn older(hospital: &Hospital, than: DateTime<Utc>) -> i64 {
    let counted: Count = diesel::sql_query("select count(*) as count from scans where recorded_at < $1")
        .bind::<Timestamptz, _>(than)
        .get_result(&mut hospital.db())
        .unwrap();
    counted.count
}

fn scan(hospital: &Hospital, gate: Uuid) {
    let gatekeeper = hospital.signed_in(Role::Gate);
    let body = json!({ "id": Uuid::now_v7(), "code": "SL1:AB", "happened_at": hospital.now() });
    gatekeeper.post(&format!("/api/v1/gates/{gate}/scans"), &body).ok(201);
}

fn keep(hospital: &Hospital, settings: &serde_json::Value) {
    let admin = hospital.signed_in(Role::Admin);
    let version = admin.get("/api/v1/sites/current").ok(200)["version"].as_i64().unwrap();
    admin.patch("/api/v1/sites/current", version, settings).ok(200);
}

fn prune(hospital: &Hospital) -> Pruned {
    retention::prune(&mut hospital.db(), hospital.site_id, hospital.now()).unwrap()
}

fn verified(hospital: &Hospital) -> audit::Report {
    audit::verify(&mut hospital.db(), hospital.site_id, |_, _| {}).unwrap()
}

#[test]
fn older_scans_are_gone_and_the_chain_says_so() {
    let hospital = Hospital::open();
    let gate = hospital.gate("North entrance");
    for _ in 0..3 {
        scan(&hospital, gate);
    }
    assert_eq!(prune(&hospital), Pruned::default(), "nobody has decided how long they are kept");
    hospital.clock.shift(TimeDelta::days(40));
    scan(&hospital, gate);
    keep(&hospital, &json!({ "scans_kept_days": 30 }));
    let pruned = prune(&hospital);
    assert_eq!((pruned.scans, pruned.batches), (3, 3));
    let cutoff = hospital.now() - TimeDelta::days(30);
    assert_eq!((older(&hospital, cutoff), older(&hospital, hospital.now())), (0, 1));
    let report = verified(&hospital);
    assert!(report.broken.is_none(), "{report:?}");
    assert_eq!(report.pruned, 3);
    assert_eq!(prune(&hospital), Pruned::default(), "a second time there is nothing left");
    let rows = hospital.signed_in(Role::Auditor).get("/api/v1/audit_rows?limit=500").ok(200);
    let told = rows["items"].as_array().unwrap().iter().filter(|row| row["action"] == "prune_scans").count();
    assert_eq!(told, 1, "and nothing is written about it");

    hospital.clock.shift(TimeDelta::days(31));
    assert_eq!(prune(&hospital).scans, 1);
    assert!(verified(&hospital).broken.is_none());
}

#[test]
fn whoever_deletes_by_hand_is_found_and_so_is_what_was_to_be_gone() {
    let hospital = Hospital::open();
    let gate = hospital.gate("North entrance");
    scan(&hospital, gate);
    hospital.clock.shift(TimeDelta::days(40));
    scan(&hospital, gate);
    let by_hand = "set session_replication_role = replica; ";
    hospital.database.execute(&format!("{by_hand} create table kept as select * from scans"));
    keep(&hospital, &json!({ "scans_kept_days": 30 }));
    assert_eq!(prune(&hospital).scans, 1);
    assert!(verified(&hospital).broken.is_none());
    hospital
        .database
        .execute(&format!("{by_hand} insert into scans select * from kept on conflict do nothing"));
    let broken = verified(&hospital).broken.expect("a break");
    assert_eq!(broken.what, "scans are stored that were to be gone");
    hospital.database.execute(&format!("{by_hand} delete from scans"));
    let broken = verified(&hospital).broken.expect("a break");
    assert_eq!(broken.what, "the stored row is gone", "the newer one was not to go");
}

#[test]
fn a_scan_that_was_changed_by_hand_is_not_deleted_but_told() {
    let hospital = Hospital::open();
    let gate = hospital.gate("North entrance");
    scan(&hospital, gate);
    hospital.database.execute("set session_replication_role = replica; update scans set answer = 'enter'");
    hospital.clock.shift(TimeDelta::days(40));
    keep(&hospital, &json!({ "scans_kept_days": 30 }));
    let error = retention::prune(&mut hospital.db(), hospital.site_id, hospital.now()).unwrap_err();
    assert!(error.to_string().contains("sellion audit verify"), "{error}");
    assert_eq!(older(&hospital, hospital.now()), 1);
}

#[test]
fn entries_go_by_their_own_rule_and_only_once_somebody_has_looked() {
    let hospital = Hospital::open();
    let gate = hospital.gate("North entrance");
    let (gatekeeper, coordinator) = (hospital.signed_in(Role::Gate), hospital.signed_in(Role::Coordinator));
    let entry = || {
        let body = json!({
            "id": Uuid::now_v7(), "lead": "Ada Brennick", "reason": "urgent_repair", "happened_at": hospital.now(),
        });
        gatekeeper.post(&format!("/api/v1/gates/{gate}/lead_entries"), &body).ok(201)["id"].clone()
    };
    let (looked_at, waiting) = (entry(), entry());
    let found =
        json!({ "id": Uuid::now_v7(), "note": "The lift was mended.", "happened_at": hospital.now() });
    let path = format!("/api/v1/lead_entries/{}/reviews", looked_at.as_str().unwrap());
    coordinator.post(&path, &found).ok(201);
    hospital.clock.shift(TimeDelta::days(40));
    keep(&hospital, &json!({ "scans_kept_days": 30 }));
    assert_eq!(prune(&hospital).lead_entries, 0, "scans have their own rule");
    keep(&hospital, &json!({ "lead_entries_kept_days": 30 }));
    assert_eq!(prune(&hospital).lead_entries, 1);
    let coordinator = hospital.signed_in(Role::Coordinator);
    let left = coordinator.get("/api/v1/lead_entries").ok(200);
    assert_eq!(left["items"].as_array().unwrap().len(), 1);
    assert_eq!(left["items"][0]["id"], waiting);
    assert!(verified(&hospital).broken.is_none());
}
