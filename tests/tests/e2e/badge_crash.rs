//! A server that is killed in the middle of a batch: what was made stays made, the next one goes on, nobody gets two.

use std::{
    io::{BufRead, BufReader},
    path::Path,
    process::{Child, Command, Stdio},
    thread,
    time::{Duration, Instant},
};

use diesel::prelude::*;
use sellion_rules::roles::Role;
use sellion_store::{PgConnection, audit};
use sellion_tests::{
    harness::{Client, Hospital, PASSWORD, day::id_of},
    program::program,
};
use sellion_web::{Secret, keys};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::badge_batches::{Busy, done};

const PEOPLE: usize = 30;
/// So many have their badge when the server is killed; the others are held until then.
const KILLED_AT: usize = 11;

/// The program, serving a database. Killed when dropped, as a machine that loses its power.
struct Serving {
    child: Child,
    base: String,
}

impl Serving {
    fn start(url: &str, secret: &Path) -> Self {
        let mut child = Command::new(program())
            .args(["serve", "--listen", "127.0.0.1:0"])
            .env("DATABASE_URL", url)
            .env("SELLION_SECRET_FILE", secret)
            .env_remove("SELLION_SECRET")
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let listening = lines.by_ref().map(Result::unwrap).find(|line| line.starts_with("Listening on "));
        let listening = listening.expect("a server that listens");
        let base = listening.split_whitespace().nth(2).unwrap().to_owned();
        // Read on, so that the program never waits for somebody to read what it says.
        thread::spawn(move || lines.for_each(drop));
        Self { child, base }
    }

    fn desk(&self, username: &str) -> Client {
        Client::new(self.base.clone()).sign_in(username, PASSWORD)
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

fn read(desk: &Client, batch: &Value) -> Value {
    desk.get(&format!("/api/v1/badge_batches/{}", id_of(batch))).ok(200)
}

fn badges_of(url: &str, person: Uuid) -> i64 {
    #[derive(QueryableByName)]
    struct Count {
        #[diesel(sql_type = diesel::sql_types::BigInt)]
        count: i64,
    }
    let mut conn = PgConnection::establish(url).unwrap();
    let counted = diesel::sql_query("select count(*) as count from badges where person_id = $1")
        .bind::<diesel::sql_types::Uuid, _>(person)
        .get_result::<Count>(&mut conn);
    counted.unwrap().count
}

#[test]
fn a_server_killed_in_the_middle_of_a_batch_goes_on_where_it_stopped() {
    let hospital = Hospital::in_machine_time();
    let username = hospital.db_user(hospital.site_id, &[Role::BadgeDesk]);
    let (day, respirator) = (hospital.day(), hospital.db_respirator(1));
    let people: Vec<Uuid> = (0..PEOPLE)
        .map(|number| hospital.db_passed(&day, &format!("Valdrun {number:02}"), respirator))
        .collect();
    let busy = Busy::hold(hospital.db(), &people[KILLED_AT..]);
    let (site_id, now, url) = (hospital.site_id, hospital.now(), hospital.database.url().to_owned());
    let folder = tempfile::tempdir().unwrap();
    let secret = folder.path().join("secret");
    // The program takes its secret from a file.
    let on_file = Secret::from_file(&secret).unwrap();
    keys::reseal(&mut hospital.db(), hospital.secret(), &on_file, now).unwrap();
    // No other server is there that could go on with it.
    drop(hospital.server);

    let killed = Serving::start(&url, &secret);
    let desk = killed.desk(&username);
    let body = json!({ "id": Uuid::now_v7(), "happened_at": now });
    let asked = desk.post(&format!("/api/v1/days/{}/badge_batches", id_of(&day)), &body).ok(201);
    let begun = Instant::now();
    while read(&desk, &asked)["made"] != json!(KILLED_AT) {
        assert!(begun.elapsed() < Duration::from_secs(60), "{}", read(&desk, &asked));
        thread::sleep(Duration::from_millis(20));
    }
    let before = read(&desk, &asked);
    drop(killed);
    drop(busy);

    let next = Serving::start(&url, &secret);
    let desk = next.desk(&username);
    let made = done(&desk, &asked);
    assert_eq!((&made["made"], &made["left_out"]), (&json!(PEOPLE), &json!(0)));
    let serials = |batch: &Value| -> Vec<Value> {
        let items = batch["items"].as_array().unwrap().iter();
        items.filter_map(|item| item["badge"].get("serial").cloned()).collect()
    };
    assert_eq!(serials(&before), serials(&made)[..KILLED_AT], "what was made before stayed as it was");
    let mut all: Vec<String> =
        serials(&made).iter().map(|serial| serial.as_str().unwrap().to_owned()).collect();
    all.sort();
    all.dedup();
    assert_eq!(all.len(), PEOPLE);
    for person in people {
        assert_eq!(badges_of(&url, person), 1);
    }
    let mut conn = PgConnection::establish(&url).unwrap();
    let report = audit::verify(&mut conn, site_id, |_, _| ()).unwrap();
    assert!(report.broken.is_none(), "{:?}", report.broken);
}
