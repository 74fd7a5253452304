//! What happens when the database is gone, or everybody wants it at once.

use std::time::{Duration, Instant};

use diesel::RunQueryDsl;
use sellion_rules::roles::Role;
use sellion_store::Limits;
use sellion_tests::harness::Hospital;

/// A pool so small and patient so briefly that one slow query exhausts it.
fn narrow() -> Limits {
    Limits { connections: 1, wait: Duration::from_millis(300), ..Limits::default() }
}

#[test]
fn a_database_that_is_gone_is_said_to_be_and_works_again_once_it_is_back() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    admin.get("/api/v1/sites/current").ok(200);
    hospital.database.go_away();
    for path in ["/api/v1/sites/current", "/health/ready"] {
        let reply = admin.get(path);
        assert_eq!(reply.header("retry-after"), Some("1"));
        reply.refused(503, "database_unavailable");
    }
    admin.get("/health/live").ok(200);
    hospital.database.come_back();
    admin.get("/api/v1/sites/current").ok(200);
    admin.get("/health/ready").ok(200);
}

#[test]
fn whoever_cannot_have_a_connection_is_told_soon_to_come_back() {
    let hospital = Hospital::open_with(narrow());
    let admin = hospital.signed_in(Role::Admin);
    // Somebody holds the row that the change wants, so the only connection waits.
    let mut blocker = hospital.db();
    diesel::sql_query("begin").execute(&mut blocker).unwrap();
    diesel::sql_query("select 1 from sites for update").execute(&mut blocker).unwrap();
    std::thread::scope(|scope| {
        let body = serde_json::json!({ "name": "Heronwick" });
        let waiting = admin.clone();
        let change = scope.spawn(move || waiting.patch("/api/v1/sites/current", 1, &body));
        std::thread::sleep(Duration::from_millis(200));
        let asked = Instant::now();
        let reply = admin.get("/api/v1/sites/current");
        assert!(asked.elapsed() < Duration::from_secs(3), "waited for {:?}", asked.elapsed());
        assert_eq!(reply.header("retry-after"), Some("1"));
        reply.refused(503, "busy");
        diesel::sql_query("rollback").execute(&mut blocker).unwrap();
        assert_eq!(change.join().unwrap().ok(200)["name"], "Heronwick", "the one who waited was served");
    });
    admin.get("/api/v1/sites/current").ok(200);
}

#[test]
fn one_connection_is_enough_for_every_read() {
    let hospital = Hospital::open_with(narrow());
    for role in Role::ALL {
        hospital.signed_in(*role).get("/api/v1/sessions/current").ok(200);
    }
}
