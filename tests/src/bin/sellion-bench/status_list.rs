//! The status list: over HTTP after a change, beside bare SQL in psql; and its packing, compressing and signing alone,
//! beside Python's zlib over the same bytes.

use std::{fs, process::Command, time::Instant};

use anyhow::{Context, ensure};
use chrono::TimeDelta;
use diesel::connection::SimpleConnection;
use sellion_badge::{
    SigningKey,
    status_list::{self, Status, Statuses, Terms},
};
use serde_json::{Value, json};

use crate::{Options, hospital::Hospital, median};

/// Badges of the list that is made without a database.
const BARE: u64 = 1_000_000;

pub(crate) fn measure(hospital: &Hospital, options: &Options) -> anyhow::Result<Value> {
    let mut conn = hospital.db()?;
    sellion_web::keys::create(&mut conn, hospital.site_id, &hospital.secret, hospital.clock.now())?;
    hospital.fill(options.people)?;
    // One in fifty has ended, one in a hundred is held, and as many people are not cleared any more.
    conn.batch_execute(&EVENTS.replace("SITE", &hospital.site_id.to_string()))?;
    let site = hospital.site_id.simple().to_string();
    let path = status_list::path(&site[20..]);
    let nobody = sellion_tests::harness::Client::new(hospital.server.base());
    let (mut ours, mut theirs, mut unchanged, mut bytes) = (Vec::new(), Vec::new(), Vec::new(), 0);
    for _ in 0..options.rounds {
        conn.batch_execute(&CHANGE.replace("SITE", &hospital.site_id.to_string()))?;
        // For a quarter of a second nobody asks whether anything has changed.
        std::thread::sleep(std::time::Duration::from_millis(300));
        let started = Instant::now();
        let reply = nobody.get(&path);
        ours.push(started.elapsed().as_secs_f64() * 1000.0);
        ensure!(reply.status == 200, "{}", reply.text());
        bytes = reply.body.len();
        let etag = reply.header("etag").context("a list has an ETag")?.to_owned();
        let started = Instant::now();
        let again = nobody.send("GET", &path, &[("if-none-match", &etag)], None);
        unchanged.push(started.elapsed().as_secs_f64() * 1000.0);
        ensure!(again.status == 304, "nothing has changed");
        theirs.push(psql(hospital)?);
    }
    let (ours, theirs) = (median(ours), median(theirs));
    Ok(json!({
        "badges": options.people, "list_bytes": bytes, "ours_ms": ours, "psql_ms": theirs, "ratio": ours / theirs,
        "unchanged_ms": median(unchanged), "bare": bare(hospital, options)?,
    }))
}

/// Packed, compressed and signed: three in ten ended and one in ten held, without any order in it.
fn bare(hospital: &Hospital, options: &Options) -> anyhow::Result<Value> {
    let key = SigningKey::generate()?;
    let now = hospital.clock.now();
    let terms = Terms {
        subject: status_list::path("0123456789ab"),
        issued_at: now,
        expires_at: Some(now + TimeDelta::days(7)),
        ttl_seconds: Some(300),
    };
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("statuses");
    let (mut ours, mut theirs, mut length) = (Vec::new(), Vec::new(), 0);
    for _ in 0..options.rounds {
        let started = Instant::now();
        let mut statuses = Statuses::valid(usize::try_from(BARE)?);
        let mut random = 88_172_645_463_325_252_u64;
        for index in 0..BARE {
            // Marsaglia's xorshift: quick, and nobody's secret.
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            match random % 10 {
                0..3 => statuses.set(index, Status::Ended),
                3 => statuses.set(index, Status::Held),
                _ => true,
            };
        }
        let token = status_list::sign(&terms, &statuses.compressed()?, &key)?;
        ours.push(started.elapsed().as_secs_f64() * 1000.0);
        length = token.len();
        fs::write(&file, statuses.bytes())?;
        let done = Command::new("python3").args(["-c", PYTHON]).arg(&file).output();
        let done = done.context("python3 does not run: install it")?;
        ensure!(done.status.success(), "python3: {}", String::from_utf8_lossy(&done.stderr));
        theirs.push(String::from_utf8(done.stdout)?.trim().parse()?);
    }
    let (ours, theirs) = (median(ours), median(theirs));
    Ok(json!({
        "badges": BARE, "token_bytes": length, "ours_ms": ours, "python_zlib_ms": theirs, "ratio": ours / theirs,
    }))
}

/// Milliseconds that Python's zlib takes at its highest level.
const PYTHON: &str = "\
import sys, time, zlib
data = open(sys.argv[1], 'rb').read()
started = time.perf_counter()
zlib.compress(data, 9)
print((time.perf_counter() - started) * 1000)";

/// Milliseconds of the bare statuses, as psql times them itself.
fn psql(hospital: &Hospital) -> anyhow::Result<f64> {
    let done = Command::new("psql")
        .args(["-q", "-o", "/dev/null", "-v", "ON_ERROR_STOP=1", "-c", "\\timing on", "-c"])
        .args([&LIST.replace("SITE", &hospital.site_id.to_string()), &hospital.database_url])
        .env("LC_ALL", "C")
        .output()
        .context("psql does not run: install postgresql-client")?;
    ensure!(done.status.success(), "psql: {}", String::from_utf8_lossy(&done.stderr));
    let text = String::from_utf8(done.stdout)?;
    let time = text.lines().find_map(|line| line.strip_prefix("Time: ")?.split(' ').next()?.parse().ok());
    time.with_context(|| format!("no time in {text:?}"))
}

const EVENTS: &str = "\
insert into badge_endings (id, site_id, badge_id, reason, happened_at, recorded_at, recorded_by) \
  select gen_random_uuid(), site_id, id, 'lost', now(), now(), id from badges where status_index % 50 = 7; \
insert into badge_holds (id, site_id, badge_id, reason, happened_at, recorded_at, recorded_by) \
  select gen_random_uuid(), site_id, id, 'other', now(), now(), id from badges where status_index % 100 = 3; \
update clearances c set state = 'not_cleared' from badges b \
  where b.person_id = c.person_id and b.status_index % 100 = 5; \
analyze";

/// One badge is held.
const CHANGE: &str = "\
insert into badge_holds (id, site_id, badge_id, reason, happened_at, recorded_at, recorded_by) \
  select gen_random_uuid(), site_id, id, 'other', now(), now(), id from badges where site_id = 'SITE' limit 1";

/// The statuses of all badges, as somebody would ask for them by hand.
const LIST: &str = "\
select b.status_index, \
  case when e.id is not null then 1 \
    when exists (select from badge_holds h where h.badge_id = b.id \
        and not exists (select from badge_hold_releases f where f.badge_hold_id = h.id)) \
      or exists (select from badge_respirators w \
        join clearances c on c.person_id = b.person_id and c.respirator_id = w.respirator_id \
        where w.badge_id = b.id and not (c.state = 'cleared' and c.valid_from <= now() and c.valid_until > now())) \
    then 2 else 0 end \
from badges b left join badge_endings e on e.badge_id = b.id where b.site_id = 'SITE' order by b.status_index";
