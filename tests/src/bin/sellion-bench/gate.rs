//! Gate answers per second through the HTTP API, beside pgbench with the same SQL.

use std::{
    fs,
    process::Command,
    sync::atomic::{AtomicU32, Ordering},
    time::{Duration, Instant},
};

use anyhow::{Context, ensure};
use sellion_rules::roles::Role;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::{
    Options,
    hospital::{Badges, Hospital},
    load::{Connection, Times},
};

/// Rounds alternate, so that whatever else the machine does meets both sides alike.
pub(crate) fn measure(hospital: &Hospital, badges: &Badges, options: &Options) -> anyhow::Result<Value> {
    let (_, cookie) = hospital.signed_in(Role::Gate)?;
    let (board, _) = hospital.signed_in(Role::Coordinator)?;
    let _streams: Vec<_> = (0..options.streams).map(|_| board.listen(None)).collect();
    let mut figures = Vec::new();
    for connections in &options.connections {
        let (mut ours, mut theirs) = (Side::default(), Side::default());
        for _ in 0..options.rounds {
            ours.join(scans(hospital, badges, &cookie, *connections, options.seconds, None)?);
            theirs.join(pgbench(hospital, badges, *connections, options.seconds)?);
        }
        let half = Some(ours.per_second() / 2.0);
        let mut calm = scans(hospital, badges, &cookie, *connections, options.seconds, half)?;
        figures.push(json!({
            "connections": connections, "streams": options.streams, "server": ours.report(), "pgbench": theirs.report(),
            "half_rate": calm.report(), "ratio": ours.per_second() / theirs.per_second(),
        }));
    }
    Ok(figures.into())
}

/// One side of a comparison.
#[derive(Default)]
pub(crate) struct Side {
    times: Times,
    seconds: f64,
}

impl Side {
    pub(crate) fn join(&mut self, other: Self) {
        self.times.join(other.times);
        self.seconds += other.seconds;
    }

    #[allow(clippy::cast_precision_loss, reason = "a rate")]
    pub(crate) fn per_second(&self) -> f64 {
        self.times.count() as f64 / self.seconds
    }

    pub(crate) fn report(&mut self) -> Value {
        json!({
            "per_second": self.per_second().round(), "scans": self.times.count(),
            "p50_ms": self.times.percentile_ms(0.5), "p99_ms": self.times.percentile_ms(0.99),
        })
    }
}

/// One round of scans over HTTP. Codes go round in an order that meets each once before any comes again.
///
/// At a given rate a scan's time runs from when it was due: one that had to wait for another counts with its wait.
pub(crate) fn scans(
    hospital: &Hospital,
    badges: &Badges,
    cookie: &str,
    connections: u32,
    seconds: u64,
    per_second: Option<f64>,
) -> anyhow::Result<Side> {
    static NEXT: AtomicU32 = AtomicU32::new(0);
    let path = format!("/api/v1/gates/{}/scans", badges.gate_id);
    let (started, length) = (Instant::now(), Duration::from_secs(seconds));
    let mut side = Side::default();
    std::thread::scope(|scope| {
        let scanners: Vec<_> = (0..connections)
            .map(|number| {
                let path = &path;
                scope.spawn(move || -> anyhow::Result<Times> {
                    let mut connection = Connection::open(&hospital.server.base(), path, cookie)?;
                    let pace = per_second.map(|rate| Duration::from_secs_f64(f64::from(connections) / rate));
                    let mut due = started + pace.unwrap_or_default() * number / connections;
                    let mut times = Times::default();
                    while started.elapsed() < length {
                        let place = NEXT.fetch_add(1, Ordering::Relaxed) as usize % badges.codes.len();
                        let body = json!({
                            "id": Uuid::now_v7(), "code": badges.codes[place],
                            "happened_at": hospital.clock.now(),
                        })
                        .to_string();
                        let asked = pace.map_or_else(Instant::now, |_| due);
                        if let Some(pace) = pace {
                            std::thread::sleep(due.saturating_duration_since(Instant::now()));
                            due += pace;
                        }
                        let (status, answer) = connection.post(&body)?;
                        let entered = status == 201 && answer.windows(7).any(|part| part == b"\"enter\"");
                        ensure!(entered, "{status}: {}", String::from_utf8_lossy(answer));
                        times.add(asked);
                    }
                    Ok(times)
                })
            })
            .collect();
        for scanner in scanners {
            side.times.join(scanner.join().map_err(|_| anyhow::anyhow!("a scanner ended badly"))??);
        }
        anyhow::Ok(())
    })?;
    side.seconds = started.elapsed().as_secs_f64();
    Ok(side)
}

/// The same facts and the same row, one transaction a scan, with prepared statements. The badge is found by its
/// place in the status list, because pgbench draws numbers and not serials: both are one unique index.
fn script(hospital: &Hospital, badges: &Badges) -> String {
    format!(
        "\\set n random(0, {last})
begin;
select b.id as badge_id, b.expires_at, g.id as gate_id, n.given_name, n.family_name, a.valid_until, \
p.id as policy_id, s.id as session_known, \
(lpad(to_hex((extract(epoch from clock_timestamp()) * 1000)::bigint), 12, '0') || '7000b' || \
substr(md5(random()::text), 1, 15))::uuid as scan_id \
from (select :n::bigint as n) q \
join badges b on b.site_id = '{site}' and b.status_index = q.n \
left join gates g on g.id = '{gate}' and g.site_id = '{site}' \
left join sessions s on s.site_id = '{site}' and s.ended_at is null \
left join users u on u.id = s.user_id and u.disabled_at is null \
left join badge_endings e on e.badge_id = b.id \
left join people n on n.id = b.person_id \
left join lateral (select p.id from gate_policies p where p.gate_id = g.id and p.effective_from <= now() \
order by p.effective_from desc, p.recorded_at desc, p.id desc limit 1) p on true \
left join lateral (select max(c.valid_until) as valid_until from gate_policy_respirators k \
join respirators r on r.id = k.respirator_id \
left join clearances c on c.person_id = b.person_id and c.respirator_id = k.respirator_id \
where k.gate_policy_id = p.id) a on true limit 1 \\gset
insert into scans (id, batch_id, site_id, gate_id, badge_id, respirator_id, gate_policy_id, code_digest, typed, \
answer, reason, happened_at, recorded_at, recorded_by) \
values (:scan_id::uuid, :scan_id::uuid, '{site}', '{gate}', :badge_id::uuid, '{respirator}', '{policy}', \
sha256(:badge_id::text::bytea), false, 'enter', 'ok', now(), now(), '{site}') \
on conflict (id) do nothing;
commit;
",
        last = badges.codes.len() - 1,
        site = hospital.site_id,
        gate = badges.gate_id,
        respirator = badges.respirator_id,
        policy = badges.policy_id,
    )
}

pub(crate) fn pgbench(
    hospital: &Hospital,
    badges: &Badges,
    connections: u32,
    seconds: u64,
) -> anyhow::Result<Side> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("scan.sql");
    fs::write(&file, script(hospital, badges))?;
    let done = Command::new("pgbench")
        .args(["-n", "-M", "prepared", "-j", "2", "-l", "-c", &connections.to_string()])
        .args(["-T", &seconds.to_string(), "-f"])
        .arg(&file)
        .arg("--log-prefix=times")
        .arg(&hospital.database_url)
        .current_dir(folder.path())
        .output()
        .context("pgbench does not run: install postgresql-client or postgresql-contrib")?;
    ensure!(done.status.success(), "pgbench: {}", String::from_utf8_lossy(&done.stderr));
    let mut side = Side { seconds: 0.0, ..Side::default() };
    for entry in fs::read_dir(folder.path())? {
        let entry = entry?;
        if entry.file_name().to_string_lossy().starts_with("times") {
            // client, transaction, microseconds, ...
            for line in fs::read_to_string(entry.path())?.lines() {
                let micros = line.split(' ').nth(2).context("a time in pgbench's log")?;
                side.times.add_micros(micros.parse()?);
            }
        }
    }
    // pgbench's own rate leaves out the time it took to connect, which is fair.
    let text = String::from_utf8_lossy(&done.stdout);
    let rate: f64 = text
        .lines()
        .find_map(|line| line.strip_prefix("tps = ")?.split(' ').next()?.parse().ok())
        .context("pgbench told no rate")?;
    #[allow(clippy::cast_precision_loss, reason = "a rate")]
    let count = side.times.count() as f64;
    side.seconds = count / rate;
    Ok(side)
}
