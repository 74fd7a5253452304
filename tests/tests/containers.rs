//! Postgres in a container, by testcontainers, and the process that keeps a server for tests.
//!
//! Where no engine answers, the container tests say loudly that they were not exercised, and pass; with
//! `SELLION_REQUIRE_CONTAINER=1` that is a failure.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::env;
use std::io::{Write, stderr};
use std::time::{Duration, Instant};

use diesel::connection::SimpleConnection;
use diesel::sql_types::Text;
use diesel::{Connection, PgConnection, QueryableByName, RunQueryDsl, sql_query};
use sellion_tests::database::{ContainerServer, Engine, Keeper, TestDatabase, engine, with_database};

#[derive(QueryableByName)]
struct Word {
    #[diesel(sql_type = Text)]
    word: String,
}

fn word(url: &str, sql: &str) -> String {
    let mut conn = PgConnection::establish(url).unwrap();
    sql_query(sql).get_result::<Word>(&mut conn).unwrap().word
}

/// Whether to go on; a missing engine is never passed over in silence.
fn exercised(test: &str) -> bool {
    let Engine::Silent(reason) = engine() else {
        return true;
    };
    assert!(
        env::var("SELLION_REQUIRE_CONTAINER").as_deref() != Ok("1"),
        "containers are required in this run, and {reason}"
    );
    let _ = writeln!(stderr(), "*** NOT EXERCISED HERE: {test}: {reason}");
    false
}

#[test]
fn what_was_committed_survives_a_restart_of_the_container() {
    if !exercised("what_was_committed_survives_a_restart_of_the_container") {
        return;
    }
    let mut server = ContainerServer::start().unwrap();
    let mut conn = PgConnection::establish(server.url()).unwrap();
    conn.batch_execute("create table note (word text not null); insert into note values ('kept')").unwrap();

    server.restart().unwrap();

    assert!(conn.batch_execute("select 1").is_err(), "the old connection must have ended with the server");
    assert_eq!(word(server.url(), "select word from note"), "kept");
}

#[test]
fn the_container_listens_on_loopback_only_and_wants_its_password() {
    if !exercised("the_container_listens_on_loopback_only_and_wants_its_password") {
        return;
    }
    let server = ContainerServer::start().unwrap();
    assert!(server.url().contains("@127.0.0.1:"), "{}", server.url());
    assert_eq!(server.published_on().unwrap(), ["127.0.0.1"]);

    let (before, after) = server.url().split_once("//sellion:").unwrap();
    let (_, place) = after.split_once('@').unwrap();
    let error = PgConnection::establish(&format!("{before}//sellion:guess@{place}")).err().unwrap();
    assert!(error.to_string().contains("password authentication failed"), "{error}");
}

#[test]
fn a_server_ends_when_its_owner_lets_go() {
    let keeper = Keeper::start(|command| {
        command.env("SELLION_TEST_DATABASE", "private").env_remove("SELLION_REQUIRE_CONTAINER");
    })
    .unwrap();
    let url = keeper.url().to_owned();
    assert_eq!(word(&url, "select current_database()::text as word"), "postgres");

    let started = Instant::now();
    keeper.finish().unwrap();

    assert!(started.elapsed() < Duration::from_secs(20), "it took {:?}", started.elapsed());
    assert!(PgConnection::establish(&url).is_err(), "the server outlived its owner");
}

#[test]
fn a_choice_that_is_none_is_refused_in_words() {
    let refused = Keeper::start(|command| {
        command.env("SELLION_TEST_DATABASE", "sometimes");
    });
    assert!(refused.is_err());
}

#[test]
fn each_test_has_a_migrated_database_of_its_own() {
    let (one, other) = (TestDatabase::fresh(), TestDatabase::fresh());
    one.execute("create table only_here (word text)");
    let tables = "select count(*)::text as word from pg_tables where schemaname = 'public'";
    let (here, there) = (word(one.url(), tables), word(other.url(), tables));
    assert_eq!(here.parse::<u32>().unwrap(), there.parse::<u32>().unwrap() + 1);
    assert_ne!(there, "0", "the template was not migrated");
    assert_eq!(word(TestDatabase::empty().url(), tables), "0");
}

#[test]
fn a_database_is_dropped_with_its_test_even_while_it_is_in_use() {
    let database = TestDatabase::fresh();
    let url = database.url().to_owned();
    let mut in_use = database.connect();
    drop(database);
    assert!(in_use.batch_execute("select 1").is_err());
    let name = url.rsplit_once("sellion_test_").unwrap().1.split('?').next().unwrap().to_owned();
    let left =
        format!("select count(*)::text as word from pg_database where datname = 'sellion_test_{name}'");
    assert_eq!(word(&with_database(&url, "postgres"), &left), "0");
}

#[test]
fn a_database_can_go_away_and_come_back() {
    let database = TestDatabase::fresh();
    let mut conn = database.connect();
    database.go_away();
    assert!(conn.batch_execute("select 1").is_err());
    assert!(PgConnection::establish(database.url()).is_err());
    database.come_back();
    database.execute("select 1");
}
