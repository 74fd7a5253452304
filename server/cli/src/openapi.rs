//! `sellion openapi`.

use std::{fs, path::PathBuf, process::ExitCode};

use anyhow::Context;

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    /// Write to this file instead of standard output.
    #[arg(long, conflicts_with = "check")]
    out: Option<PathBuf>,
    /// Write nothing; exit with 1 unless this file holds the same document.
    #[arg(long)]
    check: Option<PathBuf>,
}

pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let document = sellion_web::openapi_json();
    if let Some(path) = &arguments.check {
        let stored =
            fs::read_to_string(path).with_context(|| format!("{} cannot be read", path.display()))?;
        if stored == document {
            return Ok(ExitCode::SUCCESS);
        }
        eprintln!("{} differs: write it again with `sellion openapi --out {0}`", path.display());
        return Ok(ExitCode::FAILURE);
    }
    match &arguments.out {
        Some(path) => {
            fs::write(path, document).with_context(|| format!("{} cannot be written", path.display()))?
        }
        None => print!("{document}"),
    }
    Ok(ExitCode::SUCCESS)
}
