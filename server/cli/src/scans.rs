//! `sellion scans prune`.

use std::process::ExitCode;

use chrono::Utc;
use sellion_store::{
    retention::{self, Kept, Pruned},
    site,
};
use serde_json::json;

use crate::database::{self, Purpose};

#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// Delete scans, and entries under a lead's name that somebody has looked at, once they are older than the site
    /// keeps them. `sellion serve` does the same once a day.
    Prune(Arguments),
}

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    database: database::DatabaseArguments,
    /// Print what went as JSON.
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(command: &Command) -> anyhow::Result<ExitCode> {
    let Command::Prune(arguments) = command;
    let database = arguments.database.open(Purpose::Keep)?;
    let mut reports = Vec::new();
    {
        let mut conn = database.store.connection()?;
        for site in site::all(&mut conn)? {
            let kept = retention::kept(&mut conn, site.id)?;
            let pruned = retention::prune(&mut conn, site.id, Utc::now())?;
            if arguments.json {
                reports.push(as_json(&site.name, kept, pruned));
            } else {
                println!("{}", in_words(&site.name, kept, pruned));
            }
        }
    }
    if arguments.json {
        println!("{}", json!({ "sites": reports }));
    }
    database.close()?;
    Ok(ExitCode::SUCCESS)
}

fn in_words(site: &str, kept: Kept, pruned: Pruned) -> String {
    let of = |what: &str, days: Option<i32>, gone: String| match days {
        Some(days) => format!("{what} are kept for {days} days: {gone} went"),
        None => format!("nobody has decided how long {what} are kept: nothing went"),
    };
    let scans = of("scans", kept.scans_days, format!("{} in {} batches", pruned.scans, pruned.batches));
    let entries = of(
        "entries under a lead's name",
        kept.lead_entries_days,
        format!("{} and {} pairs of readings", pruned.lead_entries, pruned.twin_notices),
    );
    format!("{site}: {scans}; {entries}")
}

fn as_json(site: &str, kept: Kept, pruned: Pruned) -> serde_json::Value {
    json!({
        "site": site, "scans_kept_days": kept.scans_days, "lead_entries_kept_days": kept.lead_entries_days,
        "scans": pruned.scans, "batches": pruned.batches, "lead_entries": pruned.lead_entries,
        "twin_notices": pruned.twin_notices,
    })
}
