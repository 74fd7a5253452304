//! `sellion replay`.

use std::process::ExitCode;

use sellion_store::{replay, site};
use serde_json::json;

use crate::{
    database::{DatabaseArguments, Purpose},
    progress,
};

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    database: DatabaseArguments,
    /// Print the report as JSON.
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let database = arguments.database.open(Purpose::Look)?;
    let mut same = true;
    let mut reports = Vec::new();
    {
        let mut conn = database.store.connection()?;
        for site in site::all(&mut conn)? {
            let bar = progress::bar("verdicts and clearances");
            let report =
                replay::replay(&mut conn, site.id, |done, total| progress::report(&bar, done, total))?;
            bar.finish_and_clear();
            same &= report.differences.is_empty();
            if arguments.json {
                reports.push(json!({ "site": site.name, "report": report }));
            } else {
                in_words(&site.name, &report);
            }
        }
    }
    if arguments.json {
        println!("{}", json!({ "same": same, "sites": reports }));
    }
    database.close()?;
    Ok(if same { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

fn in_words(site: &str, report: &replay::Report) {
    let replay::Report { attempts, screenings, clearances, differences } = report;
    println!(
        "{site}: {screenings} screenings, {attempts} attempts and {clearances} clearances worked out again, {} differ",
        differences.len()
    );
    for difference in differences {
        let replay::Difference { table, id, stored, computed, .. } = difference;
        println!("  {table} {id}: stored {stored}, the events say {computed}");
    }
}
