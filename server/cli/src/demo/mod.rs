//! `sellion demo`: a whole invented fit-testing day, played against a real server by separate signed-in actors.
//!
//! The demonstration only acts: what a screening, an attempt or a scan leads to is decided by the server's own rules.

mod api;
mod checkin;
mod desk;
mod drill;
mod gate;
mod invent;
mod measuring;
mod names;
mod once;
mod runs;
mod stage;
mod station;
mod stores;
mod summary;

use std::{
    collections::HashMap,
    fs,
    net::SocketAddr,
    path::PathBuf,
    process::ExitCode,
    sync::{Mutex, atomic::AtomicBool, mpsc},
    thread,
    time::Instant,
};

use anyhow::Context;
use chrono::{DateTime, TimeDelta, Timelike, Utc};
use chrono_tz::Tz;
use sellion_rules::roles::Role;
use sellion_store::{Actor, Store, TextList, site, user, write_on};
use sellion_web::{Clock, Config, Secret, ServerHandle};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::{database::open_passing, progress};
use api::Api;
use invent::Person;
use stage::{Staff, Stage};
use station::{Day, Station, Told};

/// What everybody of the demonstration signs in with. The data are invented and the address is this machine's own.
const PASSWORD: &str = "invented-hospital";
/// How long before now the day began: long enough for everything to have happened by now.
const DAY_HOURS: i64 = 12;
/// Minutes one person keeps a station busy, retests included; computed from the trade's usual times.
const STATION_MINUTES: f64 = 21.0;
/// Minutes after the opening within which everybody has arrived.
const ARRIVAL_MINUTES: i64 = 400;
/// Where it may be early evening now, so that "earlier today" is a whole working day wherever the sun stands.
const ZONES: &[Tz] = &[
    Tz::Pacific__Auckland,
    Tz::Australia__Sydney,
    Tz::Asia__Tokyo,
    Tz::Asia__Ho_Chi_Minh,
    Tz::Asia__Kolkata,
    Tz::Asia__Dubai,
    Tz::Africa__Nairobi,
    Tz::Europe__Athens,
    Tz::Europe__Lisbon,
    Tz::Atlantic__Cape_Verde,
    Tz::America__Sao_Paulo,
    Tz::America__New_York,
    Tz::America__Denver,
    Tz::America__Anchorage,
    Tz::Pacific__Honolulu,
];

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    /// How many people the invented hospital tests.
    #[arg(long, default_value_t = 120, value_parser = clap::value_parser!(u32).range(1..=5000))]
    people: u32,
    /// Where roster.csv, badges.pdf and summary.json are written.
    #[arg(long, default_value = "out")]
    out: PathBuf,
    /// Invents another hospital; the same number invents the same one.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// End when the day is over instead of serving on.
    #[arg(long)]
    once: bool,
    /// Where to listen; port 0 takes a free one.
    #[arg(long, default_value = "127.0.0.1:8711")]
    listen: SocketAddr,
    /// Play in this PostgreSQL database instead of a private one that is removed afterwards.
    #[arg(long, env = "DATABASE_URL", hide_env_values = true)]
    database_url: Option<String>,
}

pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    fs::create_dir_all(&arguments.out)
        .with_context(|| format!("the folder {} cannot be made", arguments.out.display()))?;
    let database = open_passing(arguments.database_url.as_deref())?;
    let accounts = accounts(&database.store)?;
    let (address, handle, server) = serve(database.store.clone(), arguments.listen)?;
    let played = play(arguments, &Api::new(format!("http://{address}")), &accounts);
    if played.is_ok() && !arguments.once {
        invite(address, &accounts);
    } else {
        drop(handle.stop(true));
    }
    server.join().map_err(|_| anyhow::anyhow!("the server's thread ended badly"))??;
    database.close()?;
    played?;
    Ok(ExitCode::SUCCESS)
}

/// The usernames, by role; testers are as many as there may be stations.
struct Accounts {
    zone: Tz,
    site_name: String,
    suffix: String,
}

impl Accounts {
    fn username(&self, role: Role) -> String {
        format!("{role}{}", self.suffix)
    }
}

/// Sets up the site and one user per role, as `sellion user add` would.
fn accounts(store: &Store) -> anyhow::Result<Accounts> {
    let now = Clock::default().now();
    let zone = evening_zone(now);
    let mut conn = store.connection()?;
    // A database may have been played in before: every play gets a site of its own.
    let number = site::all(&mut conn)?.len() + 1;
    let (site_name, suffix) = match number {
        1 => ("Marrowfield".to_owned(), String::new()),
        _ => (format!("Marrowfield {number}"), format!(".{number}")),
    };
    let site_id = crate::user::create_site(&mut conn, &site_name, zone)?;
    let hash = sellion_web::hash_password(PASSWORD)?;
    let accounts = Accounts { zone, site_name, suffix };
    for role in Role::ALL.iter().filter(|role| **role != Role::Gate) {
        let new = user::NewUser {
            id: Uuid::now_v7(),
            site_id,
            username: accounts.username(*role),
            display_name: format!("Invented {}", role.as_str().replace('_', " ")),
            roles: TextList::of([role.as_str()]),
        };
        write_on(&mut conn, &Actor::program(site_id), "create_user", now, |tx| {
            user::create(tx, &new, &hash)
        })?;
    }
    Ok(accounts)
}

/// The zone in which it is closest to eight in the evening.
fn evening_zone(now: DateTime<Utc>) -> Tz {
    let away = |zone: &&Tz| {
        (i64::from(now.with_timezone(*zone).hour()) - 20)
            .rem_euclid(24)
            .min((20 - i64::from(now.with_timezone(*zone).hour())).rem_euclid(24))
    };
    ZONES.iter().min_by_key(away).copied().unwrap_or(Tz::UTC)
}

type Serving = (SocketAddr, ServerHandle, thread::JoinHandle<anyhow::Result<()>>);

/// Starts the real server in a thread of its own.
fn serve(store: Store, listen: SocketAddr) -> anyhow::Result<Serving> {
    let config = Config {
        listen,
        address: None,
        secret: Secret::generate()?,
        clock: Clock::default(),
        workers: thread::available_parallelism().map_or(2, std::num::NonZero::get),
        secure_cookie: false,
        fonts: sellion_web::usual_fonts(),
        tls: None,
        redirect_from: None,
        streams: sellion_web::StreamLimits::default(),
    };
    let (sender, receiver) = mpsc::channel();
    let thread = thread::spawn(move || {
        sellion_web::run(store, &config, |running| {
            sender.send((running.address, running.handle.clone())).ok();
        })
    });
    match receiver.recv() {
        Ok((address, handle)) => Ok((address, handle, thread)),
        Err(_) => match thread.join() {
            Ok(Err(error)) => Err(error),
            _ => anyhow::bail!("the server did not start"),
        },
    }
}

/// Plays the day and writes what came of it.
fn play(arguments: &Arguments, visitor: &Api, accounts: &Accounts) -> anyhow::Result<()> {
    let started = Instant::now();
    let count = arguments.people as usize;
    let people = invent::people(arguments.seed, count);
    fs::write(arguments.out.join("roster.csv"), invent::roster(&people))
        .context("roster.csv cannot be written")?;
    let now = Clock::default().now();
    let opens_at = now - TimeDelta::hours(DAY_HOURS);
    let staff = staff(visitor, accounts, stations_for(count))?;

    let bar = progress::bar("setting up");
    let mut stage = stage::set(&staff, &people, opens_at, now + TimeDelta::hours(1))?;
    refused_bottle(&staff, &stage, opens_at)?;
    stage.facepiece_lots = stores::morning(&staff, &stage, opens_at)?;
    bar.finish_and_clear();
    let told = day(&staff, &stage, &people, opens_at, now)?;

    let at = Clock::default().now();
    stores::evening(&staff, &stage, at)?;
    let bar = progress::bar("badges");
    bar.set_length(count as u64);
    let badges = desk::badges(&staff.badge_desk, &stage.person_ids, at, || bar.inc(1))?;
    desk::print(&staff.badge_desk, &badges, &arguments.out)?;
    bar.finish_and_clear();
    let bar = progress::bar("gates");
    bar.set_length(badges.len() as u64);
    gate::morning(&staff, &stage, &badges, Clock::default().now(), || bar.inc(1))?;
    let drilled = drill::play(&staff, &stage, &people, &badges, Clock::default().now())?;
    bar.finish_and_clear();

    let mut summary = summary::summary(&staff, &stage, &told, badges.len())?;
    summary["drill"] = drilled.told();
    summary["requests"] = json!(visitor.requests());
    summary["seconds"] = json!((started.elapsed().as_secs_f64() * 10.0).round() / 10.0);
    write_summary(arguments, accounts, &summary)
}

/// Check-in, then all stations at once until nobody is left.
fn day(
    staff: &Staff,
    stage: &Stage,
    people: &[Person],
    opens_at: DateTime<Utc>,
    now: DateTime<Utc>,
) -> anyhow::Result<Told> {
    let bar = progress::bar("check-in");
    bar.set_length(people.len() as u64);
    let interval = TimeDelta::minutes(ARRIVAL_MINUTES) / i32::try_from(people.len().max(1))?;
    checkin::everybody(&staff.check_in, stage, people, opens_at, interval, || bar.inc(1))?;
    bar.finish_and_clear();
    let by_id: HashMap<String, &Person> = stage.person_ids.iter().cloned().zip(people).collect();
    let last_start = now - TimeDelta::minutes(45);
    let day =
        Day { stage, people: by_id, told: Mutex::default(), last_start, broken_off: AtomicBool::new(false) };
    let bar = progress::bar("stations");
    bar.set_length(people.len() as u64);
    thread::scope(|scope| {
        let stations: Vec<_> = staff
            .testers
            .iter()
            .enumerate()
            .map(|(number, tester)| {
                let station = Station::new(&day, tester.clone(), number, opens_at);
                let bar = &bar;
                scope.spawn(move || station.work(|| bar.inc(1)))
            })
            .collect();
        stations.into_iter().try_for_each(|station| {
            station.join().map_err(|_| anyhow::anyhow!("a station's thread ended badly"))?
        })
    })?;
    bar.finish_and_clear();
    Ok(day.told.into_inner().unwrap_or_default())
}

/// The storekeeper hands out a bottle that expired last month; the station finds out when filling.
fn refused_bottle(staff: &Staff, stage: &Stage, opens_at: DateTime<Utc>) -> anyhow::Result<()> {
    let fill = json!({
        "id": stage::new_id(), "station_id": stage.stations[0], "bottle_id": stage.expired_bottle,
        "nebulizer": "1-sac-test", "volume_ul": stage::FILL_UL, "rinsed": true, "happened_at": opens_at,
    });
    let answer = staff.testers[0].try_post("/api/v1/fills", &fill)?;
    match answer.refusal().as_deref() {
        Some("bottle_expired") => Ok(()),
        other => anyhow::bail!("an expired bottle was not refused as one, but: {other:?}"),
    }
}

fn stations_for(people: usize) -> usize {
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a handful"
    )]
    let stations = (people as f64 * STATION_MINUTES / ARRIVAL_MINUTES as f64).ceil() as usize;
    stations.max(2)
}

fn staff(visitor: &Api, accounts: &Accounts, stations: usize) -> anyhow::Result<Staff> {
    // Somebody's first try of the morning, under a name that nobody has; it has to be refused.
    if visitor.sign_in("yesterdays.temp", PASSWORD).is_ok() {
        anyhow::bail!("somebody unknown was let in");
    }
    let sign_in = |role| visitor.sign_in(&accounts.username(role), PASSWORD);
    Ok(Staff {
        coordinator: sign_in(Role::Coordinator)?,
        check_in: sign_in(Role::CheckIn)?,
        storekeeper: sign_in(Role::Storekeeper)?,
        badge_desk: sign_in(Role::BadgeDesk)?,
        clinician: sign_in(Role::Clinician)?,
        admin: sign_in(Role::Admin)?,
        // One more than there are stations for tastes: the last one measures.
        testers: (0..=stations).map(|_| sign_in(Role::Tester)).collect::<anyhow::Result<_>>()?,
    })
}

fn write_summary(arguments: &Arguments, accounts: &Accounts, summary: &Value) -> anyhow::Result<()> {
    let text = serde_json::to_string_pretty(summary)?;
    fs::write(arguments.out.join("summary.json"), format!("{text}\n"))
        .context("summary.json cannot be written")?;
    println!("{text}");
    println!(
        "{} in {}: roster.csv, badges.pdf and summary.json are in {}",
        accounts.site_name,
        accounts.zone,
        arguments.out.display()
    );
    Ok(())
}

/// Says how to go on from here.
fn invite(address: SocketAddr, accounts: &Accounts) {
    println!();
    println!("Serving on http://{address} (documentation at /docs/) until Ctrl-C. Sign in as");
    for role in Role::ALL.iter().filter(|role| **role != Role::Gate) {
        println!("  {:<16} {PASSWORD}", accounts.username(*role));
    }
    println!("Gates have devices with tokens of their own: the admin makes them under Set-up, Devices.");
}
