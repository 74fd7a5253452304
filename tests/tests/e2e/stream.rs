//! The live stream: what is told to whom, the same from every server, once and in order.

use std::time::Duration;

use diesel::{RunQueryDsl, connection::SimpleConnection};
use sellion_rules::{roles::Role, stream::noun};
use sellion_store::{
    Limits, Store, audit,
    stream::{Hub, MISSED_MAX, News},
};
use sellion_tests::harness::{
    Client, Hospital,
    day::{id_of, lot_body},
    respirator_body,
    stream::{Event, Listening},
};
use serde_json::json;
use uuid::Uuid;

/// Streams that show that they live so rarely that nothing can come by their looking at the database.
pub(crate) const SILENT: sellion_web::StreamLimits =
    sellion_web::StreamLimits { most: 50, heartbeat: Duration::from_secs(3600) };

/// Adds a lot and returns its id.
fn lot(hospital: &Hospital, storekeeper: &Client) -> Uuid {
    let body = lot_body("saccharin", "test", "2099-12", hospital.ago(60));
    id_of(&storekeeper.post("/api/v1/lots", &body).ok(201))
}

fn ids(events: &[Event]) -> Vec<i64> {
    events.iter().map(|event| event.id).collect()
}

/// The numbers of all rows after `seq` that this role hears of, read from the chain itself.
fn chain_after(hospital: &Hospital, seq: i64, role: Role) -> Vec<i64> {
    let rows = audit::list(&mut hospital.db(), hospital.site_id, None, (seq, 100_000)).unwrap();
    rows.iter().filter(|row| noun(&row.subject_table, &[role]).is_some()).map(|row| row.seq).collect()
}

#[test]
fn an_event_names_the_row_and_tells_nothing_of_it() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let mut stream = coordinator.listen(None);
    let person = hospital.person("0047192");
    let event = stream.event();
    assert_eq!((event.event.as_str(), event.told()), ("changed", ("people", "create_person")));
    assert_eq!(event.data["id"], person["id"]);
    assert_eq!(event.data["seq"], event.id);
    let mut members: Vec<&String> = event.data.as_object().unwrap().keys().collect();
    members.sort();
    assert_eq!(members, ["id", "noun", "operation", "recorded_at", "seq"]);

    let head = stream.head.to_lowercase();
    // The HTML standard (9.2.5) names the content type; the others keep events from being stored or gathered.
    for header in
        ["content-type: text/event-stream\r", "cache-control: no-store\r", "x-accel-buffering: no\r"]
    {
        assert!(head.contains(header), "{header} is not in {head}");
    }
}

#[test]
fn an_answer_begins_with_what_was_missed() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let last = storekeeper.listen(None).last_id;
    let id = lot(&hospital, &storekeeper);
    let text = storekeeper.with_header("last-event-id", &last.to_string()).get("/api/v1/stream").text();
    let (head, data) = text.split_once("data: ").expect("an event");
    assert_eq!(head, format!("retry: 2000\nid: {seq}\nevent: changed\n", seq = last + 1));
    let data: serde_json::Value = serde_json::from_str(data).unwrap();
    assert_eq!((&data["noun"], &data["id"]), (&json!("lots"), &json!(id)));
}

#[test]
fn two_servers_over_one_database_tell_the_same() {
    let hospital = Hospital::open();
    let other = hospital.server_with_streams(SILENT);
    let coordinator = hospital.signed_in(Role::Coordinator);
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let (mut here, mut there) = (coordinator.listen(None), coordinator.at(&other.base()).listen(None));
    let before = here.last_id;
    let first = lot(&hospital, &storekeeper);
    let second = lot(&hospital, &storekeeper.at(&other.base()));
    let told: Vec<Event> = [here.event(), here.event()].into();
    assert_eq!(
        told.iter().map(|event| event.data["id"].clone()).collect::<Vec<_>>(),
        [json!(first), json!(second)]
    );
    assert_eq!(ids(&told), [there.event().id, there.event().id]);
    assert_eq!(ids(&told), chain_after(&hospital, before, Role::Coordinator));
}

#[test]
fn a_storekeeper_hears_of_supplies_and_never_of_a_person() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let (mut stores, mut board) =
        (storekeeper.listen(None), hospital.signed_in(Role::Coordinator).listen(None));
    let person = hospital.permitted_person("0047192");
    let respirator = hospital.respirator("small");
    hospital.passes(id_of(&person), id_of(&respirator));
    hospital.badge(&hospital.signed_in(Role::BadgeDesk), id_of(&person));
    hospital.signed_in(Role::Coordinator).post("/api/v1/respirators", &respirator_body("large")).ok(201);
    lot(&hospital, &storekeeper);

    let last = |stream: &mut Listening| stream.until("respirators", "create_respirator");
    let (mut heard, mut seen) = (last(&mut stores), last(&mut board));
    heard.extend(last(&mut stores));
    seen.extend(last(&mut board));
    let nouns = |events: &[Event]| {
        let mut nouns: Vec<String> = events.iter().map(|event| event.told().0.to_owned()).collect();
        nouns.sort();
        nouns.dedup();
        nouns
    };
    assert_eq!(
        nouns(&heard),
        [
            "bottle_openings",
            "bottles",
            "days",
            "equipment",
            "fills",
            "lots",
            "placements",
            "places",
            "respirators",
            "stations"
        ]
    );
    let personal =
        ["attempts", "badges", "calls", "people", "permissions", "screenings", "visits"].map(str::to_owned);
    let all = nouns(&seen);
    assert!(personal.iter().all(|noun| all.contains(noun)), "the day went by: {all:?}");
}

#[test]
fn whoever_comes_back_hears_exactly_what_was_missed_from_any_server() {
    let hospital = Hospital::open();
    let other = hospital.server_with_streams(SILENT);
    let coordinator = hospital.signed_in(Role::Coordinator);
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let mut stream = coordinator.listen(None);
    lot(&hospital, &storekeeper);
    stream.event();
    let last = stream.last_id;
    drop(stream);
    for number in 0..5 {
        let _ = hospital.person(&format!("{number}"));
        lot(&hospital, &storekeeper);
    }
    let missed = chain_after(&hospital, last, Role::Coordinator);
    assert_eq!(missed.len(), 10);
    for base in [hospital.server.base(), other.base()] {
        let mut again = coordinator.at(&base).listen(Some(last));
        let replayed: Vec<i64> = (0..10).map(|_| again.event().id).collect();
        assert_eq!(replayed, missed);
        let more = again.block(Duration::from_millis(200)).filter(|block| !block.event.is_empty());
        assert!(more.is_none(), "told twice: {more:?}");
    }
    // Whoever missed nothing hears nothing, and is told where it is all the same.
    let mut present = coordinator.listen(Some(missed[9]));
    assert_eq!(present.last_id, missed[9]);
    let next = lot(&hospital, &storekeeper);
    assert_eq!(present.event().data["id"], json!(next));
}

#[test]
fn an_id_that_is_not_of_this_chain_or_too_long_ago_means_to_read_everything_again() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let mut lines = "staff_number,given_name,family_name\n".to_owned();
    lines.extend((0..=MISSED_MAX).map(|number| format!("{number},Ana,Roe\n")));
    let (from, id) = (coordinator.listen(None).last_id, Uuid::now_v7());
    let taken = coordinator.send(
        "POST",
        &format!("/api/v1/roster_imports?id={id}"),
        &[("content-type", "text/csv")],
        Some(lines.as_bytes()),
    );
    taken.ok(201);
    for strange in [from, -1, i64::MAX, 900_000] {
        let mut stream = coordinator.listen(Some(strange));
        let event = stream.event();
        assert_eq!((event.event.as_str(), &event.data), ("reset", &json!({ "seq": event.id })), "{strange}");
        assert!(event.id > MISSED_MAX);
        let next = lot(&hospital, &storekeeper);
        assert_eq!(stream.event().data["id"], json!(next), "and it goes on from there");
    }
    for no_number in ["seven", "1.5", "", "\u{e9}"] {
        let text = coordinator.with_header("last-event-id", no_number).get("/api/v1/stream").text();
        let reset = text.contains("event: reset");
        assert_eq!(reset, !no_number.is_empty(), "{no_number}: an empty id stands for none");
    }
}

#[test]
fn nothing_is_lost_or_doubled_when_many_write_at_once() {
    let hospital = Hospital::open();
    let other = hospital.server_with_streams(SILENT);
    let coordinator = hospital.signed_in(Role::Coordinator);
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let bases = [hospital.server.base(), other.base()];
    let mut streams: Vec<Listening> =
        bases.iter().cycle().take(6).map(|base| coordinator.at(base).listen(None)).collect();
    let from = streams[0].last_id;
    std::thread::scope(|scope| {
        for base in bases.iter().cycle().take(8) {
            let storekeeper = storekeeper.at(base);
            let hospital = &hospital;
            scope.spawn(move || (0..25).for_each(|_| _ = lot(hospital, &storekeeper)));
        }
        // One who comes and goes in the middle of it loses nothing either.
        let mut heard = Vec::new();
        let mut last = from;
        while heard.len() < 200 {
            let mut stream = coordinator.at(&bases[heard.len() % 2]).listen(Some(last));
            heard.extend((0..40).map(|_| stream.event().id));
            last = stream.last_id;
        }
        assert_eq!(heard, chain_after(&hospital, from, Role::Coordinator)[..heard.len()]);
    });
    let written = chain_after(&hospital, from, Role::Coordinator);
    assert_eq!(written.len(), 200);
    for stream in &mut streams {
        let heard: Vec<i64> = (0..200).map(|_| stream.event().id).collect();
        assert_eq!(heard, written);
    }
}

#[test]
fn each_site_hears_of_itself_only() {
    let hospital = Hospital::open();
    let elsewhere = hospital.another_site("Sallowmere");
    let stranger = hospital.signed_in_at(elsewhere, &[Role::Coordinator]);
    let mut stream = stranger.listen(None);
    lot(&hospital, &hospital.signed_in(Role::Storekeeper));
    let own = lot(&hospital, &hospital.signed_in_at(elsewhere, &[Role::Storekeeper]));
    assert_eq!(stream.event().data["id"], json!(own), "the first that comes is their own");
}

#[test]
fn scans_notify_nobody_and_other_writes_name_their_rows() {
    let hospital = Hospital::open();
    let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
    hospital.db_clear(person, respirator);
    let gate = hospital.gate_accepting("North entrance", &[respirator]);
    let badge = hospital.badge(&hospital.signed_in(Role::BadgeDesk), person);
    let (gatekeeper, storekeeper) = (hospital.signed_in(Role::Gate), hospital.signed_in(Role::Storekeeper));

    let mut database = hospital.db();
    database.batch_execute("listen sellion_changes").unwrap();
    let head = |database: &mut _| sellion_store::stream::head(database, hospital.site_id).unwrap();
    let before = head(&mut database);
    hospital.scan(&gatekeeper, gate, badge["code"].as_str().unwrap());
    assert_eq!(head(&mut database), before + 1, "the scan is in the chain");
    lot(&hospital, &storekeeper);
    diesel::sql_query("select 1").execute(&mut database).unwrap();
    let told: Vec<String> =
        database.notifications_iter().map(|notification| notification.unwrap().payload).collect();
    assert_eq!(told, [format!("{} {seq} {seq}", hospital.site_id, seq = before + 2)]);
}

#[test]
fn a_listener_that_does_not_keep_up_is_told_that_it_lost_something() {
    let hospital = Hospital::open();
    let hub = Hub::open(&Store::open(hospital.database.url(), Limits::default())).unwrap();
    let mut slow = hub.subscribe(hospital.site_id).unwrap();
    let mut quick = hub.subscribe(hospital.site_id).unwrap();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let mut pages = 0;
    while pages < 70 {
        lot(&hospital, &storekeeper);
        // Each write is a page of its own, because the next one waits until this one was heard.
        let (seq, patience) = (head(&hospital), std::time::Instant::now());
        loop {
            match quick.try_recv() {
                Ok(News::Rows { rows, .. }) if rows.last().is_some_and(|row| row.seq == seq) => break,
                Ok(_) => {}
                Err(_) => std::thread::sleep(Duration::from_millis(2)),
            }
            assert!(patience.elapsed() < Duration::from_secs(30), "row {seq} is not told");
        }
        pages += 1;
    }
    let lagged = slow.try_recv();
    assert!(format!("{lagged:?}").contains("Lagged"), "{lagged:?}");
}

fn head(hospital: &Hospital) -> i64 {
    sellion_store::stream::head(&mut hospital.db(), hospital.site_id).unwrap()
}
