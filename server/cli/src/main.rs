//! The program `sellion`: reads its arguments, opens the database, and calls the crate that does the work.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a command line speaks through these")]

mod audit;
mod database;
mod demo;
mod key;
mod logs;
mod migrate;
mod openapi;
mod progress;
mod replay;
mod rules;
mod serve;
mod user;

use std::process::ExitCode;

use clap::{Parser, Subcommand};
use sellion_rules::refusal::Refusal;
use sellion_store::StoreError;

/// Runs a hospital's respirator fit-testing day: check-in, taste screening, attempts, supplies, badges and gates.
///
/// This program keeps records and gives reminders. It does not decide whether a respirator protects a person:
/// local rules and the judgement of competent and licensed people come first.
#[derive(Debug, Parser)]
#[command(name = "sellion", version, after_help = EXAMPLES)]
struct Arguments {
    #[command(flatten)]
    logs: logs::LogArguments,
    #[command(subcommand)]
    command: Command,
}

const EXAMPLES: &str = "\
Examples:
  sellion demo --people 60 --out out
  sellion user add ada --role admin --site Marrowfield --new-site --time-zone Europe/Lisbon
  sellion serve
  sellion audit verify
  sellion rules show us-29cfr1910-134

Without --database-url these keep a PostgreSQL of their own in the data folder, reached by a Unix socket only.

Exit status: 0 done; 1 not done, or differences found; 2 the arguments make no sense.";

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve the API and its documentation until told to stop (SIGTERM lets running requests end).
    Serve(serve::Arguments),
    /// Play a whole invented fit-testing day through the API, then go on serving it.
    Demo(demo::Arguments),
    /// Bring the database to the schema of this program, and say which steps that took.
    Migrate(migrate::Arguments),
    /// Add and list the people who sign in.
    #[command(subcommand)]
    User(user::Command),
    /// Make, list, change, retire and withdraw the keys that sign badges.
    #[command(subcommand)]
    Key(key::Command),
    /// Write the OpenAPI document of this program, or compare it with a file.
    Openapi(openapi::Arguments),
    /// Work out every stored verdict and clearance again from its events, and report any difference.
    Replay(replay::Arguments),
    /// Read rule sets: what is in force, and where each value comes from.
    #[command(subcommand)]
    Rules(rules::Command),
    /// Check the chain of audit rows.
    #[command(subcommand)]
    Audit(audit::Command),
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    logs::start(&arguments.logs);
    let done = match arguments.command {
        Command::Serve(arguments) => serve::run(&arguments),
        Command::Demo(arguments) => demo::run(&arguments),
        Command::Migrate(arguments) => migrate::run(&arguments),
        Command::User(command) => user::run(&command),
        Command::Key(command) => key::run(&command),
        Command::Openapi(arguments) => openapi::run(&arguments),
        Command::Replay(arguments) => replay::run(&arguments),
        Command::Rules(command) => rules::run(&command),
        Command::Audit(command) => audit::run(&command),
    };
    match done {
        Ok(code) => code,
        Err(error) => {
            // One sentence; the debug form would print a backtrace when RUST_BACKTRACE is set.
            eprintln!("sellion: {}", sentence(&error));
            ExitCode::FAILURE
        }
    }
}

/// What a person reads of an error: of a refusal its sentence, for the code before it is for programs.
fn sentence(error: &anyhow::Error) -> String {
    let refused = |cause: &(dyn std::error::Error + 'static)| match cause.downcast_ref::<StoreError>() {
        Some(StoreError::Refused(refusal)) => Some(refusal.clone()),
        _ => cause.downcast_ref::<Refusal>().cloned(),
    };
    error.chain().find_map(refused).map_or_else(|| format!("{error:#}"), |refusal| told(&refusal))
}

/// A refusal's sentence, with the member that is meant in front where there is one.
fn told(refusal: &Refusal) -> String {
    match &refusal.field {
        Some(field) => format!("{}: {}", field.replace('_', " "), refusal.detail),
        None => refusal.detail.clone(),
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_arguments_are_consistent() {
        super::Arguments::command().debug_assert();
    }
}
