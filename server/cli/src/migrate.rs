//! `sellion migrate`.

use std::process::ExitCode;

use crate::database::{self, Purpose};

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    database: database::DatabaseArguments,
    /// Print the steps as JSON.
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let database = arguments.database.open(Purpose::Write)?;
    if arguments.json {
        println!("{}", serde_json::json!({ "migrations": database.migrations }));
    } else if database.migrations.is_empty() {
        println!("The database is up to date.");
    } else {
        for migration in &database.migrations {
            println!("{migration}");
        }
    }
    database.close()?;
    Ok(ExitCode::SUCCESS)
}
