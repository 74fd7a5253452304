//! How a live stream ends, and what it outlives: sign-ins, lost connections, full houses, and the server's own end.

use std::time::{Duration, Instant};

use chrono::TimeDelta;
use diesel::{QueryableByName, RunQueryDsl, sql_types::BigInt};
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::{id_of, lot_body},
};
use sellion_web::StreamLimits;
use serde_json::json;
use uuid::Uuid;

use crate::stream::SILENT;

/// Long enough for a busy machine, far shorter than anything that a stream waits for by itself.
const SOON: Duration = Duration::from_secs(5);

fn lot(hospital: &Hospital, storekeeper: &Client) -> Uuid {
    let body = lot_body("saccharin", "test", "2099-12", hospital.ago(60));
    id_of(&storekeeper.post("/api/v1/lots", &body).ok(201))
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

/// Ends every connection that listens, and returns how many there were.
fn end_listeners(hospital: &Hospital) -> i64 {
    let end = "select count(pg_terminate_backend(pid)) from pg_stat_activity \
               where application_name = 'sellion-stream' and datname = current_database()";
    diesel::sql_query(end).get_result::<Count>(&mut hospital.db()).unwrap().count
}

/// Waits until somebody listens, and ends that connection.
fn end_the_listener(hospital: &Hospital) {
    let asked = Instant::now();
    while end_listeners(hospital) == 0 {
        assert!(asked.elapsed() < SOON, "nobody listens");
        std::thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn a_listener_whose_connection_is_killed_loses_nothing() {
    let hospital = Hospital::open();
    let server = hospital.server_with_streams(SILENT);
    let storekeeper = hospital.signed_in(Role::Storekeeper).at(&server.base());
    let mut stream = storekeeper.listen(None);
    for _ in 0..3 {
        end_the_listener(&hospital);
        // Written while nobody listens, most likely; told all the same, and once.
        let written = [lot(&hospital, &storekeeper), lot(&hospital, &storekeeper)];
        let killed = Instant::now();
        let told = [stream.event(), stream.event()].map(|event| event.data["id"].clone());
        assert_eq!(told, written.map(|id| json!(id)));
        assert!(killed.elapsed() < SOON, "after {:?}", killed.elapsed());
    }
}

#[test]
fn a_stream_outlives_a_database_that_is_away() {
    let hospital = Hospital::open();
    let limits = StreamLimits { heartbeat: Duration::from_millis(300), ..SILENT };
    let server = hospital.server_with_streams(limits);
    let storekeeper = hospital.signed_in(Role::Storekeeper).at(&server.base());
    let mut stream = storekeeper.listen(None);
    hospital.database.go_away();
    std::thread::sleep(Duration::from_millis(1500));
    hospital.database.come_back();
    let written = lot(&hospital, &storekeeper);
    assert_eq!(stream.event().data["id"], json!(written));
}

#[test]
fn signs_of_life_come_and_move_the_last_id_past_what_is_not_told() {
    let hospital = Hospital::open();
    let limits = StreamLimits { heartbeat: Duration::from_millis(300), ..SILENT };
    let server = hospital.server_with_streams(limits);
    let mut stream = hospital.signed_in(Role::Storekeeper).at(&server.base()).listen(None);
    let from = stream.last_id;
    let _ = hospital.person("0047192");
    let asked = Instant::now();
    while stream.last_id == from {
        let block = stream.block(SOON).expect("a sign of life");
        assert_eq!(block.event, "", "a person is no news for a storekeeper");
        assert!(asked.elapsed() < SOON);
    }
}

#[test]
fn signing_out_ends_the_streams_of_this_sign_in_at_once_and_no_other() {
    let hospital = Hospital::open();
    let server = hospital.server_with_streams(SILENT);
    let username = hospital.db_user(hospital.site_id, &[Role::Storekeeper]);
    let sign_in = || hospital.nobody().sign_in(&username, sellion_tests::harness::PASSWORD);
    let (leaving, staying) = (sign_in(), sign_in());
    // The session is ended at the other server: the news of it has to travel.
    let mut ending = leaving.at(&server.base()).listen(None);
    let mut going_on = staying.at(&server.base()).listen(None);
    leaving.delete("/api/v1/sessions/current").ok(204);
    assert!(ending.ends(SOON));
    let written = lot(&hospital, &staying);
    assert_eq!(going_on.event().data["id"], json!(written));
}

#[test]
fn a_closed_account_and_a_device_whose_token_is_taken_hear_nothing_more() {
    let hospital = Hospital::open();
    let admin = hospital.signed_in(Role::Admin);
    let username = hospital.db_user(hospital.site_id, &[Role::Tester]);
    let tester = hospital.nobody().sign_in(&username, sellion_tests::harness::PASSWORD);
    let user_id = tester.get("/api/v1/sessions/current").ok(200)["user_id"].clone();
    let mut of_user = tester.listen(None);
    admin
        .patch(&format!("/api/v1/users/{}", user_id.as_str().unwrap()), 1, &json!({ "disabled": true }))
        .ok(200);
    assert!(of_user.ends(SOON));

    let body = json!({ "id": Uuid::now_v7(), "name": "Tablet 3", "role": "tester" });
    let made = admin.post("/api/v1/devices", &body).ok(201);
    let device = hospital.nobody().with_token(made["token"].as_str().unwrap());
    let mut of_device = device.listen(None);
    admin.delete(&format!("/api/v1/devices/{}", id_of(&body))).ok(204);
    assert!(of_device.ends(SOON));
    device.get("/api/v1/stream").refused(401, "session_ended");
}

#[test]
fn a_sign_in_that_is_over_by_itself_ends_its_stream_at_the_next_sign_of_life() {
    let hospital = Hospital::open();
    let limits = StreamLimits { heartbeat: Duration::from_millis(300), ..SILENT };
    let server = hospital.server_with_streams(limits);
    let mut stream = hospital.signed_in(Role::Storekeeper).at(&server.base()).listen(None);
    hospital.clock.shift(TimeDelta::hours(15));
    assert!(stream.ends(SOON));
}

#[test]
fn a_full_house_says_so_and_takes_the_next_one_when_somebody_leaves() {
    let hospital = Hospital::open();
    let limits = StreamLimits { most: 2, heartbeat: Duration::from_millis(300) };
    let server = hospital.server_with_streams(limits);
    let client = hospital.signed_in(Role::Coordinator).at(&server.base());
    let streams = [client.listen(None), client.listen(None)];
    let reply = client.get("/api/v1/stream");
    assert_eq!(reply.header("retry-after"), Some("15"));
    reply.refused(503, "streams_full");
    drop(streams);
    let left = Instant::now();
    while client.get("/api/v1/stream").status != 200 {
        assert!(left.elapsed() < SOON, "no room after {:?}", left.elapsed());
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn whoever_asks_only_for_the_head_gets_it_and_takes_no_room() {
    let hospital = Hospital::open();
    let server = hospital.server_with_streams(StreamLimits { most: 1, ..SILENT });
    let client = hospital.signed_in(Role::Coordinator).at(&server.base());
    for _ in 0..3 {
        let head = client.send("HEAD", "/api/v1/stream", &[], None);
        assert_eq!((head.status, head.body.len()), (200, 0), "RFC 9110 s.9.3.2");
        assert_eq!(head.header("content-type"), Some("text/event-stream"));
    }
    drop(client.listen(None));
}

#[test]
fn a_server_that_is_told_to_stop_does_not_wait_for_its_streams() {
    let hospital = Hospital::open();
    let server = hospital.server_with_streams(SILENT);
    let client = hospital.signed_in(Role::Coordinator).at(&server.base());
    let mut streams: Vec<_> = (0..10).map(|_| client.listen(None)).collect();
    let told = Instant::now();
    server.stop_gracefully();
    assert!(told.elapsed() < Duration::from_secs(3), "stopped after {:?}", told.elapsed());
    assert!(streams.iter_mut().all(|stream| stream.ends(SOON)));
}

#[test]
fn a_client_that_never_reads_holds_nobody_up() {
    let hospital = Hospital::open();
    let server = hospital.server_with_streams(SILENT);
    let client = hospital.signed_in(Role::Coordinator).at(&server.base());
    let unread: Vec<_> = (0..5).map(|_| client.listen_unread(Some(0))).collect();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let mut stream = client.listen(None);
    for _ in 0..20 {
        let written = lot(&hospital, &storekeeper);
        let asked = Instant::now();
        assert_eq!(stream.event().data["id"], json!(written));
        assert!(asked.elapsed() < SOON);
    }
    drop(unread);
}
