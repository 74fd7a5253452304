//! Roster rows per second over HTTP, beside COPY of the same rows into a table of the same shape.

use std::{fs, process::Command, time::Instant};

use anyhow::{Context, ensure};
use diesel::connection::SimpleConnection;
use sellion_rules::roles::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::{Options, hospital::Hospital};

pub(crate) fn measure(hospital: &Hospital, options: &Options) -> anyhow::Result<Value> {
    let (coordinator, _) = hospital.signed_in(Role::Coordinator)?;
    let rows: String = (0..options.people)
        .map(|number| format!("R{number:07},Given {number},Family {number},1980-02-03,Heron ward\n"))
        .collect();
    let file = format!("staff_number,given_name,family_name,birth_date,unit\n{rows}");
    let started = Instant::now();
    let path = format!("/api/v1/roster_imports?id={}", Uuid::now_v7());
    let reply = coordinator.send("POST", &path, &[("content-type", "text/csv")], Some(file.as_bytes()));
    let import = started.elapsed().as_secs_f64();
    ensure!(reply.status == 201, "{}", reply.text());
    ensure!(reply.json()["added_count"] == options.people, "{}", reply.text());
    let copy = copy(hospital, &rows)?;
    let rate = |seconds: f64| (f64::from(options.people) / seconds).round();
    Ok(json!({
        "rows": options.people,
        "import": { "seconds": import, "per_second": rate(import) },
        "copy": { "seconds": copy, "per_second": rate(copy) },
        "ratio": copy / import,
    }))
}

/// COPY into a copy of the table with its indexes and checks, ids made beforehand.
fn copy(hospital: &Hospital, rows: &str) -> anyhow::Result<f64> {
    hospital.db()?.batch_execute(
        "create table copied_people (like people including all); \
         alter table copied_people alter column site_id drop not null",
    )?;
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("rows.csv");
    let rows: String = rows.lines().map(|row| format!("{},{row}\n", Uuid::now_v7())).collect();
    fs::write(&file, rows)?;
    let command = format!(
        "\\copy copied_people (id, staff_number, given_name, family_name, birth_date, unit) from '{}' csv",
        file.display()
    );
    let started = Instant::now();
    let done = Command::new("psql")
        .args(["-q", "-v", "ON_ERROR_STOP=1", "-c", &command, &hospital.database_url])
        .output()
        .context("psql does not run: install postgresql-client")?;
    let seconds = started.elapsed().as_secs_f64();
    ensure!(done.status.success(), "psql: {}", String::from_utf8_lossy(&done.stderr));
    Ok(seconds)
}
