//! `sellion replay`.

use std::process::ExitCode;

pub(crate) fn run(_: &Arguments) -> anyhow::Result<ExitCode> {
    Ok(ExitCode::SUCCESS)
}
#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {}
