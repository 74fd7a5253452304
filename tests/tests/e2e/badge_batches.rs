//! Batches: everybody who is ready on a day gets one badge, whoever asks and however often, and a sheet to print.

use std::{
    io::Write,
    process::{Command, Stdio},
    thread,
    time::{Duration, Instant},
};

use chrono::TimeDelta;
use diesel::connection::SimpleConnection;
use sellion_rules::roles::Role;
use sellion_store::{Limits, PgConnection, audit};
use sellion_tests::harness::{
    Client, Hospital, Reply,
    day::{id_of, visit_body},
};
use serde_json::{Value, json};
use uuid::Uuid;

/// A badge takes milliseconds; the machine of a test may be busy.
const PATIENCE: Duration = Duration::from_secs(60);

fn new_batch(hospital: &Hospital) -> Value {
    json!({ "id": Uuid::now_v7(), "happened_at": hospital.now() })
}

fn path_of(day: &Value) -> String {
    format!("/api/v1/days/{}/badge_batches", id_of(day))
}

/// Asks for a batch and waits until it is done.
fn batch(hospital: &Hospital, desk: &Client, day: &Value) -> Value {
    let asked = desk.post(&path_of(day), &new_batch(hospital)).ok(201);
    done(desk, &asked)
}

pub(crate) fn done(desk: &Client, asked: &Value) -> Value {
    let begun = Instant::now();
    loop {
        let found = desk.get(&format!("/api/v1/badge_batches/{}", id_of(asked))).ok(200);
        if found["state"] == "done" {
            return found;
        }
        assert!(begun.elapsed() < PATIENCE, "not done: {found}");
        thread::sleep(Duration::from_millis(30));
    }
}

fn sheet(desk: &Client, batch: &Value, query: &str) -> Reply {
    desk.get(&format!("/api/v1/badge_batches/{}/sheet?{query}", id_of(batch)))
}

fn items(batch: &Value) -> &Vec<Value> {
    batch["items"].as_array().unwrap()
}

/// What poppler finds in a PDF.
fn told_by(program: &str, arguments: &[&str], pdf: &[u8]) -> String {
    let mut reader = Command::new(program)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("install poppler-utils");
    reader.stdin.take().unwrap().write_all(pdf).unwrap();
    String::from_utf8(reader.wait_with_output().unwrap().stdout).unwrap()
}

fn pages(pdf: &[u8]) -> String {
    let told = told_by("pdfinfo", &["-"], pdf);
    told.lines().find_map(|line| line.strip_prefix("Pages:")).expect("pages").trim().to_owned()
}

#[test]
fn everybody_who_is_ready_gets_a_badge_and_the_rest_is_listed_with_what_to_do() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (day, respirator) = (hospital.day(), hospital.db_respirator(1));
    let first = hospital.db_passed(&day, "Valdrun", respirator);
    let second = hospital.db_passed(&day, "Brennick", respirator);
    let unprintable = hospital.db_passed(&day, "\u{13000}\u{13001}", respirator);
    // Still being tested, and cleared by an earlier day: whoever is not through yet waits.
    let testing = hospital.db_named_person("Oda", "Tamsin");
    hospital.db_clear(testing, respirator);
    let check_in = hospital.signed_in(Role::CheckIn);
    check_in.post("/api/v1/visits", &visit_body(&day, testing, hospital.ago(30))).ok(201);

    let due_path = format!("/api/v1/days/{}/badges_due", id_of(&day));
    let due = desk.get(&due_path).ok(200);
    let named: Vec<&Value> = due["items"].as_array().unwrap().iter().map(|due| &due["person_id"]).collect();
    assert_eq!(named, [&json!(first), &json!(second), &json!(unprintable)]);
    assert_eq!(due["items"][0]["need"], "no_badge");
    assert_eq!(due["items"][0]["respirators"][0]["name"], "Orlevane model 1 fold");
    let page = desk.get(&format!("{due_path}?limit=2")).ok(200);
    let rest = desk.get(&format!("{due_path}?limit=2&cursor={}", page["next"].as_str().unwrap())).ok(200);
    assert_eq!(rest["items"].as_array().unwrap().len(), 1);

    let made = batch(&hospital, &desk, &day);
    assert_eq!((&made["people"], &made["made"], &made["left_out"]), (&json!(3), &json!(2), &json!(1)));
    assert_eq!(items(&made)[2]["left_out"]["reason"], "no_glyph");
    assert!(items(&made)[2]["left_out"]["instruction"].as_str().unwrap().contains("font"));
    for (item, person) in items(&made).iter().zip([first, second]) {
        assert_eq!((&item["person_id"], &item["badge"]["status"]), (&json!(person), &json!("valid")));
        let badge =
            desk.get(&format!("/api/v1/badges/{}", item["badge"]["badge_id"].as_str().unwrap())).ok(200);
        assert_eq!((&badge["serial"], &badge["person_id"]), (&item["badge"]["serial"], &json!(person)));
    }
    let listed = desk.get(&format!("/api/v1/badge_batches?day_id={}", id_of(&day))).ok(200);
    assert_eq!(listed["items"].as_array().unwrap().len(), 1);
    assert_eq!(listed["items"][0]["made"], 2);
    let due = desk.get(&due_path).ok(200);
    assert_eq!(due["items"].as_array().unwrap().len(), 1, "one name cannot be printed yet: {due}");
    let report = audit::verify(&mut hospital.db(), hospital.site_id, |_, _| ()).unwrap();
    assert!(report.broken.is_none(), "{:?}", report.broken);
}

#[test]
fn a_repeat_makes_no_second_batch_and_nobody_is_left_for_another_one() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (day, respirator) = (hospital.day(), hospital.db_respirator(1));
    let person = hospital.db_passed(&day, "Valdrun", respirator);
    let body = new_batch(&hospital);
    let asked = desk.post(&path_of(&day), &body).ok(201);
    let made = done(&desk, &asked);
    let again = desk.post(&path_of(&day), &body).ok(201);
    assert_eq!((&again["id"], &again["made"]), (&asked["id"], &json!(1)));
    desk.post(&path_of(&day), &new_batch(&hospital)).refused(422, "no_badge_due");
    let other = json!({ "id": body["id"], "happened_at": hospital.ago(5) });
    desk.post(&path_of(&day), &other).refused(409, "id_reused");
    let ahead = json!({ "id": Uuid::now_v7(), "happened_at": hospital.now() + TimeDelta::hours(1) });
    desk.post(&path_of(&day), &ahead).refused(422, "happened_in_future");
    desk.post(&format!("/api/v1/days/{}/badge_batches", Uuid::now_v7()), &new_batch(&hospital))
        .refused(404, "not_found");

    // Cleared for more since: the badge says too little, and the next batch replaces it.
    hospital.db_clear(person, hospital.db_respirator(2));
    let due = desk.get(&format!("/api/v1/days/{}/badges_due", id_of(&day))).ok(200);
    assert_eq!(due["items"][0]["need"], "more_to_say");
    assert_eq!(due["items"][0]["badge_id"], items(&made)[0]["badge"]["badge_id"]);
    let next = batch(&hospital, &desk, &day);
    assert_ne!(items(&next)[0]["badge"]["serial"], items(&made)[0]["badge"]["serial"]);
    let before = desk.get(&format!("/api/v1/badge_batches/{}", id_of(&made))).ok(200);
    assert_eq!(items(&before)[0]["badge"]["status"], "replaced");
    sheet(&desk, &made, "layout=a4_sheet").refused(409, "badge_outdated");
}

#[test]
fn two_desks_that_ask_at_once_make_nobody_two_badges() {
    let hospital = Hospital::open();
    let (day, respirator) = (hospital.day(), hospital.db_respirator(1));
    let people: Vec<Uuid> =
        (0..24).map(|number| hospital.db_passed(&day, &format!("Valdrun {number}"), respirator)).collect();
    let second = hospital.second_server(Limits::default());
    let desks: Vec<Client> = (0..4)
        .map(|place| {
            let desk = hospital.signed_in(Role::BadgeDesk);
            if place % 2 == 0 { desk } else { desk.at(&second.base()) }
        })
        .collect();
    let asked: Vec<Value> = thread::scope(|scope| {
        let (hospital, path) = (&hospital, path_of(&day));
        let asking: Vec<_> = desks
            .iter()
            .map(|desk| {
                let path = path.clone();
                scope.spawn(move || {
                    let reply = desk.post(&path, &new_batch(hospital));
                    if reply.status == 201 {
                        return Some(reply.json());
                    }
                    reply.refused(422, "no_badge_due");
                    None
                })
            })
            .collect();
        asking.into_iter().filter_map(|asking| asking.join().unwrap()).collect()
    });
    assert_eq!(asked.len(), 1, "one of them was first");
    assert_eq!(done(&desks[0], &asked[0])["made"], 24);
    let listed = desks[0].get("/api/v1/badges?limit=100").ok(200);
    let badges = listed["items"].as_array().unwrap();
    assert_eq!(badges.len(), people.len());
    for person in people {
        assert_eq!(badges.iter().filter(|badge| badge["person_id"] == json!(person)).count(), 1);
    }
}

/// People whose rows are held by the back door, so that a batch takes everybody else first; let go when dropped.
pub(crate) struct Busy(#[expect(dead_code, reason = "what holds the rows is the connection")] PgConnection);

impl Busy {
    pub(crate) fn hold(mut conn: PgConnection, people: &[Uuid]) -> Self {
        let people: Vec<String> = people.iter().map(|person| format!("'{person}'")).collect();
        let people = people.join(", ");
        conn.batch_execute(&format!("begin; select from people where id in ({people}) for no key update"))
            .unwrap();
        Self(conn)
    }
}

#[test]
fn clearances_are_asked_again_at_the_moment_of_each_badge() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (day, respirator) = (hospital.day(), hospital.db_respirator(1));
    let names = ["Valdrun", "Brennick", "Tamsin", "Orsolin"];
    let people = names.map(|name| hospital.db_passed(&day, name, respirator));
    let busy = Busy::hold(hospital.db(), &people[..1]);
    let asked = desk.post(&path_of(&day), &new_batch(&hospital)).ok(201);
    assert_eq!(
        (&asked["state"], &asked["people"], &asked["made"]),
        (&json!("running"), &json!(4), &json!(0))
    );
    sheet(&desk, &asked, "layout=card").refused(409, "batch_running");
    let due = desk.get(&format!("/api/v1/days/{}/badges_due", id_of(&day))).ok(200);
    assert_eq!(due["items"][1]["badge_batch_id"], asked["id"]);
    let problem = desk.post(&path_of(&day), &new_batch(&hospital)).refused(422, "no_badge_due");
    assert_eq!(problem["badge_batch_id"], asked["id"]);

    // Meanwhile: one is not cleared any more, one gets a badge at another desk.
    hospital.db_clearance(people[1], respirator, "held", hospital.now() + TimeDelta::days(9));
    let elsewhere = hospital.badge(&desk, people[2]);
    drop(busy);
    let made = done(&desk, &asked);
    assert_eq!((&made["made"], &made["left_out"]), (&json!(2), &json!(2)));
    assert_eq!(items(&made)[1]["left_out"]["reason"], "not_cleared");
    assert_eq!(items(&made)[2]["left_out"]["reason"], "has_badge");
    let theirs = desk.get(&format!("/api/v1/badges?person_id={}", people[2])).ok(200);
    assert_eq!(theirs["items"].as_array().unwrap().len(), 1, "only the one from the other desk: {elsewhere}");
}

#[test]
fn whoever_s_badge_is_under_review_is_held_back_until_that_is_over() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (day, respirator) = (hospital.day(), hospital.db_respirator(1));
    let person = hospital.db_passed(&day, "Valdrun", respirator);
    let badge = hospital.badge(&desk, person);
    hospital.db_clear(person, hospital.db_respirator(2));
    let hold = json!({ "id": Uuid::now_v7(), "reason": "under_review", "happened_at": hospital.now() });
    desk.post(&format!("/api/v1/badges/{}/holds", id_of(&badge)), &hold).ok(201);
    let due = desk.get(&format!("/api/v1/days/{}/badges_due", id_of(&day))).ok(200);
    assert!(due["items"][0]["held_back"].as_str().unwrap().contains("review"), "{due}");
    desk.post(&path_of(&day), &new_batch(&hospital)).refused(422, "no_badge_due");
    let release = json!({ "id": Uuid::now_v7(), "reason": "checked", "happened_at": hospital.now() });
    desk.post(&format!("/api/v1/badge_holds/{}/releases", id_of(&hold)), &release).ok(201);
    assert_eq!(batch(&hospital, &desk, &day)["made"], 1);
}

#[test]
fn the_sheet_of_a_batch_has_the_same_bytes_each_time_and_begins_at_any_place() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (day, respirator) = (hospital.day(), hospital.db_respirator(1));
    let people: Vec<Uuid> = (1..=12)
        .map(|number| hospital.db_passed(&day, &format!("Valdrun {number:02}"), respirator))
        .collect();
    let made = batch(&hospital, &desk, &day);
    let first = sheet(&desk, &made, "layout=a4_sheet");
    assert_eq!((first.status, first.header("content-type")), (200, Some("application/pdf")));
    assert_eq!((first.header("sellion-badges"), first.header("sellion-left-out")), (Some("12"), Some("0")));
    assert_eq!(pages(&first.body), "2");
    let told = told_by("pdftotext", &["-layout", "-", "-"], &first.body);
    for item in items(&made) {
        assert!(told.contains(item["badge"]["serial"].as_str().unwrap()), "{told}");
    }
    assert_eq!(sheet(&desk, &made, "layout=a4_sheet").body, first.body);
    let second = hospital.second_server(Limits::default());
    assert_eq!(sheet(&desk.at(&second.base()), &made, "layout=a4_sheet").body, first.body);

    let from_the_ninth = sheet(&desk, &made, "layout=a4_sheet&first_place=8");
    assert_eq!(pages(&from_the_ninth.body), "2");
    assert_eq!(pages(&sheet(&desk, &made, "layout=a4_sheet&first_place=9").body), "3");
    assert_eq!(pages(&sheet(&desk, &made, "layout=card&from=11&to=11").body), "1");
    let rest = sheet(&desk, &made, "layout=letter_sheet&from=11&dots_per_inch=600&offset_x_mm=0.4");
    assert_eq!(rest.header("sellion-badges"), Some("2"));
    let told = told_by("pdftotext", &["-layout", "-", "-"], &rest.body);
    let serial = |place: usize| items(&made)[place]["badge"]["serial"].as_str().unwrap();
    assert!(told.contains(serial(11)) && told.contains(serial(10)) && !told.contains(serial(9)), "{told}");
    sheet(&desk, &made, "layout=a4_sheet&first_place=10").refused(422, "invalid_value");
    sheet(&desk, &made, "layout=a4_sheet&dots_per_inch=100").refused(422, "invalid_value");

    // One has lost the badge since: it goes on no paper any more, and the paper says that it is not there.
    let lost = json!({ "id": Uuid::now_v7(), "happened_at": hospital.now() });
    desk.post(&format!("/api/v1/people/{}/lost_badges", people[3]), &lost).ok(201);
    let fewer = sheet(&desk, &made, "layout=a4_sheet");
    assert_eq!((fewer.header("sellion-badges"), fewer.header("sellion-left-out")), (Some("11"), Some("1")));
    assert!(!told_by("pdftotext", &["-", "-"], &fewer.body).contains(serial(3)));
    let mut row = audit::list(&mut hospital.db(), hospital.site_id, None, (0, 100_000)).unwrap();
    row.retain(|row| row.action == "read_badge_batch_sheet");
    assert!(row.len() >= 12 * 2, "each print of each badge is in the chain: {}", row.len());
}

#[test]
fn whoever_listens_hears_how_far_a_batch_has_come() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (day, respirator) = (hospital.day(), hospital.db_respirator(1));
    let _ =
        (hospital.db_passed(&day, "Valdrun", respirator), hospital.db_passed(&day, "Brennick", respirator));
    let mut stream = desk.listen(None);
    let asked = desk.post(&path_of(&day), &new_batch(&hospital)).ok(201);
    let mut news = 0;
    // Two rows for the batch and its people, one for each outcome, one for the end.
    while news < 5 {
        let event = stream.event();
        if event.told().0 == "badge_batches" {
            assert_eq!(event.data["id"], asked["id"]);
            news += 1;
        }
    }
    let found = desk.get(&format!("/api/v1/badge_batches/{}", id_of(&asked))).ok(200);
    assert_eq!(found["state"], "done");
    let auditor = hospital.signed_in(Role::Auditor);
    auditor.get(&format!("/api/v1/badge_batches/{}", id_of(&asked))).ok(200);
    sheet(&auditor, &asked, "layout=card").refused(403, "wrong_role");
}

#[test]
fn another_site_s_batches_are_not_there() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (day, respirator) = (hospital.day(), hospital.db_respirator(1));
    let _ = hospital.db_passed(&day, "Valdrun", respirator);
    let made = batch(&hospital, &desk, &day);
    let stranger = hospital.signed_in_at(hospital.another_site("Tollmere"), &[Role::BadgeDesk]);
    stranger.get(&format!("/api/v1/badge_batches/{}", id_of(&made))).refused(404, "not_found");
    sheet(&stranger, &made, "layout=card").refused(404, "not_found");
    stranger.post(&path_of(&day), &new_batch(&hospital)).refused(404, "not_found");
    stranger.get(&format!("/api/v1/days/{}/badges_due", id_of(&day))).refused(404, "not_found");
    assert_eq!(stranger.get("/api/v1/badge_batches").ok(200)["items"], json!([]));
}
