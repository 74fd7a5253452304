//! The schema: its migrations go up, down and up again, also over stored rows; the code's picture of it is current.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails, and says where")]

use std::{fs, path::Path, process::Command};

use diesel::{QueryableByName, RunQueryDsl, sql_query, sql_types::Text};
use sellion_tests::{database::TestDatabase, program::program};

#[derive(QueryableByName)]
struct Line {
    #[diesel(sql_type = Text)]
    line: String,
}

/// Everything in the schema as lines of text: columns, constraints, indexes, triggers, functions.
fn picture(database: &TestDatabase) -> Vec<String> {
    let sql = "
        select format('column %s.%s %s %s %s', table_name, column_name, data_type, is_nullable, column_default) as line
          from information_schema.columns where table_schema = 'public'
        union all select format('constraint %s %s %s', conrelid::regclass, conname, pg_get_constraintdef(oid))
          from pg_constraint where connamespace = 'public'::regnamespace
        union all select format('index %s', indexdef) from pg_indexes where schemaname = 'public'
        union all select format('trigger %s', pg_get_triggerdef(oid)) from pg_trigger where not tgisinternal
        union all select format('function %s', pg_get_functiondef(oid)) from pg_proc
          where pronamespace = 'public'::regnamespace
        order by 1";
    lines(database, sql)
}

fn lines(database: &TestDatabase, sql: &str) -> Vec<String> {
    let rows: Vec<Line> = sql_query(sql).load(&mut database.connect()).unwrap();
    rows.into_iter().map(|row| row.line).collect()
}

/// A database in which the program has played a small invented day, so that every table holds rows.
fn played() -> TestDatabase {
    let database = TestDatabase::fresh();
    let out = tempfile::tempdir().unwrap();
    let done = Command::new(program())
        .args(["demo", "--once", "--people", "12", "--listen", "127.0.0.1:0", "--out"])
        .arg(out.path())
        .env("DATABASE_URL", database.url())
        .output()
        .unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    database.execute(DESK_WITH_BATCHES);
    prune_half(&database);
    database
}

/// The demonstration makes its badges one by one: what a desk leaves behind that makes them in batches, hands them over,
/// and prints one again that was spoiled.
const DESK_WITH_BATCHES: &str = "
    create temp table two as select id, site_id, person_id, row_number() over (order by id)::integer as seq
        from badges order by id limit 2;
    create temp table batch as select gen_random_uuid() as id, gen_random_uuid() as desk;
    insert into badge_batches (id, site_id, day_id, happened_at, recorded_at, recorded_by, ended_at)
        select batch.id, site_id, days.id, now(), now(), desk, now() from batch, days limit 1;
    insert into badge_batch_people (badge_batch_id, seq, person_id, recorded_at)
        select batch.id, seq, person_id, now() from batch, two;
    insert into badge_batch_outcomes (badge_batch_id, seq, badge_id, recorded_at)
        select batch.id, seq, two.id, now() from batch, two;
    insert into badge_hand_overs (id, site_id, badge_id, happened_at, recorded_at, recorded_by)
        select gen_random_uuid(), site_id, two.id, now(), now(), desk from batch, two;
    insert into badge_finds (id, site_id, badge_id, place, happened_at, recorded_at, recorded_by)
        select gen_random_uuid(), site_id, two.id, 'cloakroom', now(), now(), desk from batch, two;
    insert into badge_reprints (badge_id, site_id, replaces_id, reason, happened_at, recorded_at, recorded_by)
        select later.id, later.site_id, earlier.id, 'damaged', now(), now(), desk
        from batch, two later, two earlier where later.seq = 2 and earlier.seq = 1;
    drop table two, batch;
";

/// Deletes the earlier half of the scans, as if it were a day later and scans were kept for a day.
fn prune_half(database: &TestDatabase) {
    database.execute("update sites set scans_kept_days = 1");
    let middle = "select (percentile_disc(0.5) within group (order by recorded_at) + interval '1 day')::text as line \
                  from scans";
    let text = lines(database, middle).pop().unwrap();
    let later = chrono::DateTime::parse_from_str(&text, "%Y-%m-%d %H:%M:%S%.f%#z").unwrap().to_utc();
    let mut conn = database.connect();
    for site in sellion_store::site::all(&mut conn).unwrap() {
        let pruned = sellion_store::retention::prune(&mut conn, site.id, later).unwrap();
        assert!(pruned.scans > 0, "{pruned:?}");
    }
}

const TABLES: &str = "select table_name::text as line from information_schema.tables
    where table_schema = 'public' and table_name <> '__diesel_schema_migrations' order by 1";

#[test]
fn the_migrations_go_up_down_and_up_again() {
    let database = TestDatabase::empty();
    let ran = sellion_store::migrate(database.url()).unwrap();
    assert!(!ran.is_empty());
    assert!(
        sellion_store::migrate(database.url()).unwrap().is_empty(),
        "a second time there is nothing to do"
    );
    let first = picture(&database);
    sellion_store::revert_all(database.url()).unwrap();
    assert_eq!(lines(&database, TABLES), Vec::<String>::new(), "nothing is left behind");
    assert_eq!(sellion_store::migrate(database.url()).unwrap(), ran);
    assert_eq!(picture(&database), first);
}

#[test]
fn the_migrations_go_down_and_up_over_stored_rows() {
    let database = &played();
    let empty: Vec<String> = lines(database, TABLES)
        .into_iter()
        .filter(|table| lines(database, &format!("select 'x' as line from {table} limit 1")).is_empty())
        .collect();
    assert_eq!(empty, Vec::<String>::new(), "a table without rows proves nothing");
    let first = picture(database);
    sellion_store::revert_all(database.url()).unwrap();
    assert_eq!(lines(database, TABLES), Vec::<String>::new());
    sellion_store::migrate(database.url()).unwrap();
    assert_eq!(picture(database), first);
}

#[test]
fn servers_that_start_at_once_migrate_once() {
    let database = TestDatabase::empty();
    let ran: usize = std::thread::scope(|scope| {
        let servers: Vec<_> =
            (0..4).map(|_| scope.spawn(|| sellion_store::migrate(database.url()).unwrap().len())).collect();
        servers.into_iter().map(|server| server.join().unwrap()).sum()
    });
    assert_eq!(ran, fs::read_dir(root().join("migrations")).unwrap().count());
}

#[test]
fn the_picture_that_the_code_has_of_the_schema_is_current() {
    let diesel = std::env::var("SELLION_DIESEL").unwrap_or_else(|_| "diesel".to_owned());
    let database = TestDatabase::fresh();
    let printed = Command::new(&diesel)
        .args(["print-schema", "--config-file", ".diesel.toml", "--database-url", database.url()])
        .current_dir(root())
        .output()
        .unwrap_or_else(|error| {
            panic!("{diesel}: {error}. tests/run.sh builds diesel_cli and names it in SELLION_DIESEL")
        });
    assert!(printed.status.success(), "{}", String::from_utf8_lossy(&printed.stderr));
    let kept = fs::read_to_string(root().join("server/store/src/schema.rs")).unwrap();
    assert!(
        kept == String::from_utf8_lossy(&printed.stdout),
        "schema.rs differs from what `diesel print-schema --config-file .diesel.toml` prints"
    );
}

#[test]
fn rules_that_every_table_keeps() {
    let database = TestDatabase::fresh();
    let breaches = lines(
        &database,
        "
        select format('%s.%s is a time without a zone', table_name, column_name) as line
          from information_schema.columns
          where table_schema = 'public' and data_type = 'timestamp without time zone'
            and table_name <> '__diesel_schema_migrations'
        union all select format('%s.%s is a boolean that may be null', table_name, column_name)
          from information_schema.columns
          where table_schema = 'public' and data_type = 'boolean' and is_nullable = 'YES'
        union all select format('%s does not say when it was written', table_name)
          from information_schema.tables t
          where table_schema = 'public' and table_name <> '__diesel_schema_migrations' and not exists (
            select from information_schema.columns c where c.table_schema = 'public' and c.table_name = t.table_name
              and c.column_name in ('created_at', 'recorded_at', 'computed_at'))
        union all select format('%s.%s refers to nothing', c.table_name, c.column_name)
          from information_schema.columns c
          where c.table_schema = 'public' and c.column_name like '%\\_id' and c.data_type = 'uuid'
            and c.table_name not in (select viewname from pg_views where schemaname = 'public')
            -- Who acted and what about may be a user, a device, the program, or a row of any table; a batch of
            -- scans is nothing but its scans.
            and (c.table_name, c.column_name) not in (
              ('audit_rows', 'actor_id'), ('audit_rows', 'subject_id'), ('scans', 'batch_id'),
              ('given_answers', 'batch_id'), ('look_back_readings', 'asked_id'))
            and not exists (
              select from pg_constraint k join pg_attribute a on a.attrelid = k.conrelid and a.attnum = any (k.conkey)
              where k.contype = 'f' and k.conrelid = c.table_name::regclass and a.attname = c.column_name)
        order by 1",
    );
    assert_eq!(breaches, Vec::<String>::new());
}

#[test]
fn facts_can_be_neither_changed_nor_removed() {
    let database = played();
    let guarded = lines(
        &database,
        "select distinct tgrelid::regclass::text as line from pg_trigger where tgname = 'facts_are_append_only' order by 1",
    );
    assert!(guarded.len() > 20, "{guarded:?}");
    for table in guarded {
        for statement in [
            format!("update {table} set recorded_at = now()"),
            format!("delete from {table}"),
            format!("truncate {table} cascade"),
        ] {
            let refused = sql_query(&statement).execute(&mut database.connect());
            let words = refused.map(|rows| format!("{rows} rows")).unwrap_or_else(|error| error.to_string());
            assert!(words.contains("append a correction instead"), "{statement}: {words}");
        }
    }
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap()
}
