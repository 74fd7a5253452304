//! Holds a database server for tests until standard input closes.
//!
//! Prints the address of its maintenance database as the only line on standard output. The kernel closes the
//! input when the owner ends, however it ends, so no server outlives its tests.

use std::io::{Write, copy, sink, stderr, stdin, stdout};
use std::process::ExitCode;

use sellion_tests::database::Choice;

fn main() -> ExitCode {
    match keep() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            say(&format!("{error:#}"));
            ExitCode::FAILURE
        }
    }
}

fn keep() -> anyhow::Result<()> {
    let server = Choice::from_environment()?.start(&mut say)?;
    let mut out = stdout().lock();
    writeln!(out, "{}", server.url())?;
    out.flush()?;
    copy(&mut stdin().lock(), &mut sink())?;
    drop(server);
    Ok(())
}

/// Straight to the terminal: a test harness must not swallow the choice. Nobody reading is no reason to stop.
fn say(line: &str) {
    let _ = writeln!(stderr(), "{line}");
}
