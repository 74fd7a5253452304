//! The migrated template that every test's database is copied from.

use std::path::Path;
use std::sync::OnceLock;

use diesel::connection::SimpleConnection;
use diesel::sql_types::{BigInt, Text};
use diesel::{Connection, PgConnection, QueryableByName, RunQueryDsl, sql_query};
use sha2::{Digest, Sha256};

use super::{server_url, with_database};

/// Held while a template is made: several test binaries may share one server.
const LOCK: i64 = 0x5E11_7E57;

/// Connects to the server's maintenance database.
pub(crate) fn maintenance() -> PgConnection {
    PgConnection::establish(server_url())
        .unwrap_or_else(|error| panic!("the tests' database server does not answer: {error}"))
}

/// The name of the template; made by the first caller.
pub(crate) fn template_name() -> &'static str {
    static NAME: OnceLock<String> = OnceLock::new();
    NAME.get_or_init(|| {
        let name = format!("sellion_template_{}", migrations_fingerprint());
        let mut server = maintenance();
        sql_query("select pg_advisory_lock($1)")
            .bind::<BigInt, _>(LOCK)
            .execute(&mut server)
            .expect("the lock of the template");
        if !exists(&mut server, &name) {
            make(&mut server, &name);
        }
        name
    })
}

/// It gets its name last, so that a template that exists is a whole one.
fn make(server: &mut PgConnection, name: &str) {
    let unfinished = format!("{name}_unfinished");
    let statements = [
        format!("drop database if exists {unfinished} with (force)"),
        format!("create database {unfinished} template template0 encoding 'UTF8'"),
    ];
    for statement in statements {
        server.batch_execute(&statement).unwrap_or_else(|error| panic!("{statement}: {error}"));
    }
    sellion_store::migrate(&with_database(server_url(), &unfinished))
        .unwrap_or_else(|error| panic!("the migrations do not run: {error}"));
    let rename = format!("alter database {unfinished} rename to {name}");
    server.batch_execute(&rename).unwrap_or_else(|error| panic!("{rename}: {error}"));
}

fn exists(server: &mut PgConnection, name: &str) -> bool {
    #[derive(QueryableByName)]
    struct Count {
        #[diesel(sql_type = BigInt)]
        n: i64,
    }
    let count: Count = sql_query("select count(*) as n from pg_database where datname = $1")
        .bind::<Text, _>(name)
        .get_result(server)
        .expect("the list of databases");
    count.n > 0
}

/// A server that outlives a run keeps its templates: other migrations need another one.
fn migrations_fingerprint() -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).with_file_name("migrations");
    let mut files: Vec<_> = std::fs::read_dir(&folder)
        .expect("the folder migrations")
        .filter_map(Result::ok)
        .filter_map(|entry| {
            std::fs::read(entry.path().join("up.sql")).ok().map(|sql| (entry.file_name(), sql))
        })
        .collect();
    files.sort();
    let mut digest = Sha256::new();
    for (name, sql) in &files {
        digest.update(name.as_encoded_bytes());
        digest.update(sql);
    }
    digest.finalize().iter().take(6).map(|byte| format!("{byte:02x}")).collect()
}
