//! `sellion audit verify`.

use std::process::ExitCode;

use sellion_store::{audit, site};
use serde_json::json;

use crate::{
    database::{self, Purpose},
    progress,
};

#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// Walk every site's chain from its beginning; name the first row that does not hold, and exit with 1.
    Verify(Arguments),
}

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    database: database::DatabaseArguments,
    /// Print the report as JSON.
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(command: &Command) -> anyhow::Result<ExitCode> {
    let Command::Verify(arguments) = command;
    let database = arguments.database.open(Purpose::Look)?;
    let mut whole = true;
    let mut reports = Vec::new();
    {
        let mut conn = database.store.connection()?;
        for site in site::all(&mut conn)? {
            let bar = progress::bar("audit rows");
            let report =
                audit::verify(&mut conn, site.id, |done, total| progress::report(&bar, done, total))?;
            bar.finish_and_clear();
            whole &= report.broken.is_none();
            if arguments.json {
                reports.push(as_json(&site.name, &report));
            } else {
                println!("{}", in_words(&site.name, &report));
            }
        }
    }
    if arguments.json {
        println!("{}", json!({ "holds": whole, "sites": reports }));
    }
    database.close()?;
    Ok(if whole { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

fn in_words(site: &str, report: &audit::Report) -> String {
    match &report.broken {
        None => {
            let pruned = match report.pruned {
                0 => String::new(),
                pruned => format!(", the scans of {pruned} are gone by the site's own rule"),
            };
            format!(
                "{site}: {} audit rows hold, {} stored rows are as written{pruned}",
                report.rows, report.subjects
            )
        }
        Some(broken) => format!(
            "{site}: broken at audit row {} ({}): {}. The {} rows before it hold.",
            broken.seq, broken.subject, broken.what, report.rows
        ),
    }
}

fn as_json(site: &str, report: &audit::Report) -> serde_json::Value {
    let broken = report
        .broken
        .as_ref()
        .map(|broken| json!({ "seq": broken.seq, "subject": broken.subject, "what": broken.what }));
    json!({ "site": site, "rows": report.rows, "subjects": report.subjects, "pruned": report.pruned, "broken": broken })
}
