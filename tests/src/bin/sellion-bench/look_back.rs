//! Look-back of one lot over HTTP, beside the bare SQL of the same lists in psql, on tables of growing size.
//!
//! However large the table, a thousand people stand on the lot that is asked for: the cost has to go with them.

use std::{process::Command, time::Instant};

use anyhow::{Context, ensure};
use diesel::connection::SimpleConnection;
use sellion_rules::roles::Role;
use serde_json::{Value, json};

use crate::{Options, hospital::Hospital, median};

/// The lot that is asked for; the others have the numbers after it.
const LOT: &str = "a1000000-0000-7000-8000-000000000000";
/// People who stand on it, one attempt each.
const AFFECTED: u64 = 1_000;
/// Pages as large as they come.
const PAGE: usize = 500;

pub(crate) fn measure(hospital: &Hospital, options: &Options) -> anyhow::Result<Value> {
    let (coordinator, _) = hospital.signed_in(Role::Coordinator)?;
    let mut conn = hospital.db()?;
    conn.batch_execute(&SETTING.replace("SITE", &hospital.site_id.to_string()))?;
    let (mut figures, mut stored, mut medians) = (Vec::new(), 0, Vec::new());
    for attempts in &options.attempts {
        ensure!(*attempts > stored, "sizes have to grow");
        let started = Instant::now();
        // Indexes as in the schema, made after the rows: one by one they would take hours.
        conn.batch_execute(&format!("begin; {DROP_INDEXES}"))?;
        let rows = ROWS.replace("SITE", &hospital.site_id.to_string());
        conn.batch_execute(
            &rows.replace("FROM", &stored.to_string()).replace("UNTIL", &attempts.to_string()),
        )?;
        conn.batch_execute(&format!("{MAKE_INDEXES}; commit"))?;
        conn.batch_execute("analyze; checkpoint")?;
        let filled = started.elapsed().as_secs_f64();
        stored = *attempts;
        let (mut ours, mut theirs) = (Vec::new(), Vec::new());
        for _ in 0..options.rounds {
            let started = Instant::now();
            let read = read_all(&coordinator)?;
            ours.push(started.elapsed().as_secs_f64() * 1000.0);
            ensure!(read as u64 == AFFECTED, "{read} people stand on the lot");
            theirs.push(psql(hospital)?);
        }
        let (ours, theirs) = (median(ours), median(theirs));
        medians.push(ours);
        figures.push(json!({
            "attempts": attempts, "filled_in_seconds": filled.round(), "affected_people": AFFECTED,
            "ours_ms": ours, "psql_ms": theirs, "ratio": ours / theirs,
        }));
    }
    let growth = medians.last().zip(medians.first()).map(|(last, first)| last / first);
    Ok(json!({ "sizes": figures, "largest_over_smallest": growth }))
}

/// All pages of all lists; how many people stand surely on the lot.
fn read_all(coordinator: &sellion_tests::harness::Client) -> anyhow::Result<usize> {
    let path = format!("/api/v1/look_backs?lot_id={LOT}&limit={PAGE}");
    let (mut cursor, mut surely) = (String::new(), 0);
    loop {
        let reply = coordinator.get(&format!("{path}{cursor}"));
        ensure!(reply.status == 200, "{}", reply.text());
        let page = reply.json();
        let items = page["items"].as_array().context("a page of people")?;
        surely += items.iter().filter(|item| item["certainty"] == "surely").count();
        match page["next"].as_str() {
            Some(next) => cursor = format!("&cursor={next}"),
            None => return Ok(surely),
        }
    }
}

/// Milliseconds of the bare lists, as psql times them itself.
fn psql(hospital: &Hospital) -> anyhow::Result<f64> {
    let done = Command::new("psql")
        .args(["-q", "-o", "/dev/null", "-v", "ON_ERROR_STOP=1"])
        .args(["-c", "\\timing on", "-c", &LISTS.replace("LOT", LOT), &hospital.database_url])
        .env("LC_ALL", "C")
        .output()
        .context("psql does not run: install postgresql-client")?;
    ensure!(done.status.success(), "psql: {}", String::from_utf8_lossy(&done.stderr));
    let text = String::from_utf8(done.stdout)?;
    let time = text.lines().find_map(|line| line.strip_prefix("Time: ")?.split(' ').next()?.parse().ok());
    time.with_context(|| format!("no time in {text:?}"))
}

/// An id from a kind and a number.
const SETTING: &str = "\
set session_replication_role = replica; \
create function numbered(kind text, number bigint) returns uuid language sql immutable as $$ \
  select (kind || '000000-0000-7000-8000-' || lpad(to_hex(number), 12, '0'))::uuid $$; \
create table kept_indexes (name text, definition text); \
insert into respirators (id, site_id, number, make, model, style, size, facepiece, filter_class, protection_factor) \
  values (numbered('aa', 0), 'SITE', 77, 'Orlevane', '31', 'fold', 'medium', 'filtering_facepiece', 'N95', 10); \
insert into days (id, site_id, place, opens_at, closes_at, rule_set_name, rule_set_version) \
  values (numbered('ad', 0), 'SITE', 'Heron ward', now(), now() + interval '1 hour', '-', '-'); \
insert into people (id, site_id, staff_number, given_name, family_name) \
  select numbered('ae', n), 'SITE', 'L' || n, 'Given', 'Family ' || n from generate_series(0, 100999) n; \
insert into lots (id, site_id, agent, solution, lot_number, printed_expiry, expires_on, happened_at, recorded_at, \
    recorded_by) \
  select numbered('a1', n), 'SITE', 'saccharin', 'test', 'L' || n, '2099-12', '2099-12-31', now(), now(), 'SITE' \
  from generate_series(0, 999) n; \
insert into lots (id, site_id, agent, solution, lot_number, printed_expiry, expires_on, happened_at, recorded_at, \
    recorded_by) \
  values (numbered('a9', 0), 'SITE', 'saccharin', 'screening', 'S', '2099-12', '2099-12-31', now(), now(), 'SITE'); \
insert into bottles (id, site_id, lot_id, label, volume_ul, happened_at, recorded_at, recorded_by) \
  values (numbered('a8', 0), 'SITE', numbered('a9', 0), 'S', 1000000000, now(), now(), 'SITE')";

/// Attempts from one number up to another, with what they stand on: 20 to a filling, 200 to a bottle, 100 to a station,
/// 1,000 to a day, and one screening to ten. The first thousand stand on the lot that is asked for.
const ROWS: &str = "\
insert into stations (id, site_id, day_id, name, parts) \
  select numbered('a2', n), 'SITE', numbered('ac', n / 10), 'S' || n, array['testing'] \
  from generate_series(FROM / 100, UNTIL / 100 - 1) n; \
insert into bottles (id, site_id, lot_id, label, volume_ul, happened_at, recorded_at, recorded_by) \
  select numbered('a3', n), 'SITE', numbered('a1', case when n < 5 then 0 else 1 + n % 999 end), 'B' || n, 55000, \
    now(), now(), 'SITE' from generate_series(FROM / 200, UNTIL / 200 - 1) n; \
insert into fills (id, site_id, station_id, bottle_id, nebulizer, volume_ul, rinsed, happened_at, recorded_at, \
    recorded_by) \
  select numbered('a4', n), 'SITE', numbered('a2', n / 5), numbered('a3', n / 10), 'N' || n % 50, 1000, true, \
    timestamptz '2026-01-01' + n * interval '1 minute', now(), 'SITE' \
  from generate_series(FROM / 20, UNTIL / 20 - 1) n; \
insert into fills (id, site_id, station_id, bottle_id, nebulizer, volume_ul, rinsed, happened_at, recorded_at, \
    recorded_by) \
  select numbered('a5', n), 'SITE', numbered('a2', n), numbered('a8', 0), 'S' || n % 10, 1000, true, \
    timestamptz '2026-01-01' + n * interval '5 minute', now(), 'SITE' \
  from generate_series(FROM / 100, UNTIL / 100 - 1) n; \
insert into screenings (id, site_id, visit_id, person_id, station_id, agent, fill_id, rule_set_name, \
    rule_set_version, setup, happened_at, recorded_at, recorded_by) \
  select numbered('a6', n), 'SITE', numbered('af', n), numbered('ae', n % 101000), numbered('a2', n / 10), 'saccharin', \
    numbered('a5', n / 10), '-', '-', '{}', timestamptz '2026-01-01' + n * interval '30 seconds', now(), 'SITE' \
  from generate_series(FROM / 10, UNTIL / 10 - 1) n; \
insert into screening_verdicts (screening_id, outcome, reason, level, squeezes, ended_at, recorded_at) \
  select numbered('a6', n), 'level', 'tasted', 10, 7, timestamptz '2026-01-01' + n * interval '30 seconds', now() \
  from generate_series(FROM / 10, UNTIL / 10 - 1) n; \
insert into attempts (id, site_id, visit_id, person_id, station_id, respirator_id, screening_id, fill_id, method, \
    rule_set_name, rule_set_version, setup, happened_at, recorded_at, recorded_by) \
  select numbered('a7', n), 'SITE', numbered('af', n), \
    numbered('ae', case when n < 1000 then n else 1000 + n % 100000 end), numbered('a2', n / 100), \
    numbered('aa', 0), numbered('a6', n / 10), numbered('a4', n / 20), 'saccharin', '-', '-', '{}', \
    timestamptz '2026-01-01' + n * interval '3 seconds', now(), numbered('ab', n % 100) \
  from generate_series(FROM, UNTIL - 1) n; \
insert into attempt_verdicts (attempt_id, outcome, reason, tested_on, started_testing_at, decided_at, ended_at, \
    recorded_at) \
  select numbered('a7', n), 'pass', 'passed', '2026-01-01', at, at, at, at \
  from generate_series(FROM, UNTIL - 1) n, \
    lateral (select timestamptz '2026-01-01' + n * interval '3 seconds' as at) t";

const DROP_INDEXES: &str = "\
truncate kept_indexes; \
insert into kept_indexes select i.indexname, i.indexdef from pg_indexes i \
  where i.tablename in ('attempts', 'screenings', 'fills') and not exists \
    (select from pg_constraint c where c.conname = i.indexname); \
do $$ declare name text; begin for name in select k.name from kept_indexes k loop \
  execute 'drop index ' || name; end loop; end $$";

const MAKE_INDEXES: &str = "\
set local maintenance_work_mem = '1GB'; \
do $$ declare definition text; begin for definition in select k.definition from kept_indexes k loop \
  execute definition; end loop; end $$";

/// Who stands on the lot by their own filling or that of their screening, who may because of a gap or an unrinsed
/// nebulizer, and who else was tested at the same stations; with name, clearance, entries and badges.
const LISTS: &str = "\
with own as (select f.id, f.station_id, f.nebulizer, f.happened_at from bottles b join fills f on f.bottle_id = b.id \
    where b.lot_id = 'LOT'), \
rest as (select x.id from own o join lateral (select f.id, f.rinsed from fills f join stations t on t.id = f.station_id \
    where f.nebulizer = o.nebulizer and f.happened_at > o.happened_at \
      and t.day_id = (select day_id from stations where id = o.station_id) \
    order by f.happened_at limit 1) x on not x.rinsed), \
here as (select distinct station_id from own), \
runs as (select a.id, a.person_id, a.station_id, a.fill_id, a.happened_at, v.ended_at, v.outcome, s.fill_id as screened \
    from attempts a left join attempt_verdicts v on v.attempt_id = a.id left join screenings s on s.id = a.screening_id \
    where a.station_id in (select station_id from here) \
  union all \
    select s.id, s.person_id, s.station_id, s.fill_id, s.happened_at, v.ended_at, v.outcome, null \
    from screenings s left join screening_verdicts v on v.screening_id = s.id \
    where s.station_id in (select station_id from here)), \
judged as (select r.*, case \
    when r.fill_id in (select id from own) or r.screened in (select id from own) then 2 \
    when r.fill_id in (select id from rest) or r.screened in (select id from rest) or exists (select from fill_gaps g \
      where g.station_id = r.station_id and g.from_at <= r.ended_at and g.until_at > r.happened_at) then 1 \
    else 0 end as certainty from runs r) \
select max(j.certainty), p.id, p.staff_number, p.given_name, p.family_name, p.unit, \
  json_agg(json_build_object('id', j.id, 'at', j.happened_at, 'outcome', j.outcome, 'certainty', j.certainty)), \
  (select json_agg(json_build_object('state', c.state, 'reasons', c.reasons, 'due', c.due_on)) from clearances c \
    where c.person_id = p.id), \
  (select json_agg(b.serial) from badges b where b.person_id = p.id), \
  (select count(*) from badges b join scans s on s.badge_id = b.id where b.person_id = p.id and s.answer = 'enter') \
from judged j join people p on p.id = j.person_id group by p.id order by p.id";
