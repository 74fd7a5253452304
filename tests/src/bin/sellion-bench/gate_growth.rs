//! Whether gates answer as quickly when there are many badges and many stored scans, beside pgbench on the same tables.

use anyhow::Context;
use diesel::{
    RunQueryDsl,
    connection::SimpleConnection,
    sql_types::{BigInt, Uuid as SqlUuid},
};
use sellion_rules::roles::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::{
    Options,
    gate::{Side, pgbench, scans},
    hospital::{Badges, Hospital},
};

/// Scans made in one statement.
const PORTION: u64 = 1_000_000;

/// Scans of the last ninety days, none of them just now, spread over the badges and two gates. Their ids follow the time,
/// as those of clients do (RFC 9562 s.5.7).
const FILL: &str = "\
insert into scans (id, batch_id, site_id, gate_id, badge_id, respirator_id, gate_policy_id, code_digest, typed, \
  answer, reason, happened_at, recorded_at, recorded_by) \
select (i.time || '-8000-' || i.number)::uuid, (i.time || '-9000-' || i.number)::uuid, b.site_id, case when n % 2 = 0 then $2 else $3 end, b.id, $4, $5, \
  sha256(b.id::text::bytea), false, 'enter', 'ok', t.at, t.at, $1 \
from generate_series($6, $7) n \
join badges b on b.site_id = $1 and b.status_index = n % $8 \
cross join lateral (select now() - interval '91 days' + (n * 7776000 / 10000000) * interval '1 second' as at) t \
cross join lateral (select lpad(to_hex((extract(epoch from t.at) * 1000)::bigint), 12, '0') as ms) m \
cross join lateral (select left(m.ms, 8) || '-' || right(m.ms, 4) || '-7000' as time, \
  lpad(to_hex(n), 12, '0') as number) i";

pub(crate) fn measure(hospital: &Hospital, options: &Options) -> anyhow::Result<Value> {
    let (_, cookie) = hospital.signed_in(Role::Gate)?;
    let connections = options.connections.first().copied().context("a number of connections")?;
    let other_gate = Uuid::now_v7();
    let first = options.badges.first().copied().context("a number of badges")?;
    let mut badges = hospital.fill(first)?;
    corridor(hospital, &badges, other_gate)?;
    let mut figures: Vec<Value> = Vec::new();
    let mut base: Option<(f64, f64)> = None;
    let mut stored = 0;
    let mut step = |badges: &Badges, stored: u64| -> anyhow::Result<Value> {
        let (mut ours, mut theirs) = (Side::default(), Side::default());
        for _ in 0..options.rounds {
            ours.join(scans(hospital, badges, &cookie, connections, options.seconds, None)?);
            theirs.join(pgbench(hospital, badges, connections, options.seconds)?);
        }
        let half = Some(ours.per_second() / 2.0);
        let mut calm = scans(hospital, badges, &cookie, connections, options.seconds, half)?;
        let now = (ours.per_second(), theirs.per_second());
        let (our_base, their_base) = *base.get_or_insert(now);
        Ok(json!({
            "badges": badges.codes.len(), "stored_scans": stored, "connections": connections,
            "server": ours.report(), "half_rate": calm.report(), "pgbench": theirs.report(),
            "ratio": now.0 / now.1, "against_first": now.0 / our_base,
            "pgbench_against_first": now.1 / their_base,
        }))
    };
    for size in &options.scans {
        fill(hospital, &badges, other_gate, stored, *size)?;
        stored = *size;
        figures.push(step(&badges, stored)?);
    }
    for size in options.badges.iter().skip(1) {
        hospital.grow(&mut badges, *size)?;
        figures.push(step(&badges, stored)?);
    }
    Ok(figures.into())
}

/// A second gate and the walk to it: the answer looks for the badge's other readings, as on a real site.
fn corridor(hospital: &Hospital, badges: &Badges, other_gate: Uuid) -> anyhow::Result<()> {
    let (low, high) =
        if badges.gate_id < other_gate { (badges.gate_id, other_gate) } else { (other_gate, badges.gate_id) };
    let site = hospital.site_id;
    hospital.db()?.batch_execute(&format!(
        "insert into gates (id, site_id, name) values ('{other_gate}', '{site}', 'South entrance'); \
         insert into walking_times (id, site_id, gate_id, other_gate_id, seconds, happened_at, recorded_at, recorded_by) \
         values (gen_random_uuid(), '{site}', '{low}', '{high}', 240, now(), now(), '{site}')"
    ))?;
    Ok(())
}

fn fill(hospital: &Hospital, badges: &Badges, other_gate: Uuid, from: u64, to: u64) -> anyhow::Result<()> {
    let mut conn = hospital.db()?;
    let mut first = from;
    while first < to {
        let last = to.min(first + PORTION);
        diesel::sql_query(FILL)
            .bind::<SqlUuid, _>(hospital.site_id)
            .bind::<SqlUuid, _>(badges.gate_id)
            .bind::<SqlUuid, _>(other_gate)
            .bind::<SqlUuid, _>(badges.respirator_id)
            .bind::<SqlUuid, _>(badges.policy_id)
            .bind::<BigInt, _>(i64::try_from(first)?)
            .bind::<BigInt, _>(i64::try_from(last)? - 1)
            .bind::<BigInt, _>(i64::try_from(badges.codes.len())?)
            .execute(&mut conn)?;
        first = last;
    }
    conn.batch_execute("analyze scans; checkpoint")?;
    Ok(())
}
