//! `sellion-bench`: how fast gates answer (with the server and alone), badges print, rosters come in, status lists are made
//! and look-backs are told, as JSON.
//!
//! Everything runs on this machine: a private PostgreSQL that syncs every commit, the real server behind a
//! loopback socket, and the load. Each figure stands beside what PostgreSQL alone does with the same rows, taken
//! in the same minutes.

mod gate;
mod hospital;
mod load;
mod look_back;
mod pack;
mod paper;
mod roster;
mod status_list;

use anyhow::bail;
use serde_json::json;

const HELP: &str = "\
sellion-bench: how fast gates answer, badges print and rosters come in. Prints JSON.

  --people N         people with badges, and rows of the roster (default 100000)
  --seconds N        length of one round of scans (default 10)
  --rounds N         rounds, each with the server first and pgbench after it (default 3)
  --connections LIST connections at once, separated by commas (default 16,64)
  --streams N        live streams that are open while gates answer (default 0)
  --attempts LIST    sizes of the table of attempts for the look-back, growing (default 100000,1000000,10000000)
  --only PART        gate, pack, badges, roster, status_list or look_back (default all but the last two)

Needs the programs psql and pgbench. Use a release build: cargo run --release -p sellion-tests --bin sellion-bench
";

/// What to measure.
pub(crate) struct Options {
    pub(crate) people: u32,
    pub(crate) seconds: u64,
    pub(crate) rounds: u32,
    pub(crate) connections: Vec<u32>,
    pub(crate) streams: u32,
    pub(crate) attempts: Vec<u64>,
    only: Option<String>,
}

impl Options {
    fn read(mut arguments: impl Iterator<Item = String>) -> anyhow::Result<Self> {
        let mut options = Self {
            people: 100_000,
            seconds: 10,
            rounds: 3,
            connections: vec![16, 64],
            streams: 0,
            attempts: vec![100_000, 1_000_000, 10_000_000],
            only: None,
        };
        while let Some(name) = arguments.next() {
            let Some(value) = arguments.next() else { bail!("{name} needs a value\n\n{HELP}") };
            match name.as_str() {
                "--people" => options.people = value.parse()?,
                "--seconds" => options.seconds = value.parse()?,
                "--rounds" => options.rounds = value.parse()?,
                "--connections" => {
                    options.connections = value.split(',').map(str::parse).collect::<Result<_, _>>()?;
                }
                "--streams" => options.streams = value.parse()?,
                "--attempts" => {
                    options.attempts = value.split(',').map(str::parse).collect::<Result<_, _>>()?;
                }
                "--only"
                    if ["gate", "pack", "badges", "roster", "status_list", "look_back"]
                        .contains(&value.as_str()) =>
                {
                    options.only = Some(value);
                }
                _ => bail!("{name} {value} is not understood\n\n{HELP}"),
            }
        }
        let bounded = (1..=1_000_000).contains(&options.people)
            && (1..=600).contains(&options.seconds)
            && (1..=20).contains(&options.rounds)
            && options.streams <= 400
            && options.connections.iter().all(|connections| (1..=200).contains(connections))
            && options.attempts.iter().all(|size| (1_000..=100_000_000).contains(size) && size % 1_000 == 0);
        if !bounded {
            bail!(
                "people 1 to 1000000, seconds 1 to 600, rounds 1 to 20, connections 1 to 200, streams 0 to 400, \
                 attempts in whole thousands up to 100000000"
            );
        }
        Ok(options)
    }

    fn wants(&self, part: &str) -> bool {
        self.only.as_deref().is_none_or(|only| only == part)
    }
}

/// The one in the middle.
pub(crate) fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times.get(times.len() / 2).copied().unwrap_or_default()
}

#[allow(clippy::print_stdout, reason = "the figures are what this program is for")]
fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if arguments.iter().any(|argument| argument == "--help") {
        println!("{HELP}");
        return Ok(());
    }
    let options = Options::read(arguments.into_iter())?;
    let hospital = hospital::Hospital::open()?;
    let mut report = json!({
        "machine": {
            "processors": std::thread::available_parallelism().map_or(0, usize::from),
            "optimised": !cfg!(debug_assertions),
        },
        "people": options.people,
    });
    if options.wants("roster") {
        report["roster"] = roster::measure(&hospital, &options)?;
    }
    if ["gate", "pack", "badges"].iter().any(|part| options.wants(part)) {
        let badges = hospital.fill(options.people)?;
        if options.wants("pack") {
            report["pack"] = pack::measure(&hospital, &badges, &options)?;
        }
        if options.wants("gate") {
            report["gate"] = gate::measure(&hospital, &badges, &options)?;
        }
        if options.wants("badges") {
            report["badges"] = paper::measure(&hospital)?;
        }
    }
    // It fills the hospital for itself, with a key that the server signs with.
    if options.only.as_deref() == Some("status_list") {
        report["status_list"] = status_list::measure(&hospital, &options)?;
    }
    if options.only.as_deref() == Some("look_back") {
        report["look_back"] = look_back::measure(&hospital, &options)?;
    }
    println!("{}", serde_json::to_string_pretty(&report)?);
    Ok(())
}
