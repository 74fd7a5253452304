//! The one server of a test process, and the process that keeps it.

use std::env;
use std::io::{BufRead, BufReader};
use std::os::unix::process::CommandExt;
use std::path::PathBuf;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::OnceLock;

use anyhow::{Context, bail};

/// The address of the maintenance database of the server that this process's tests share.
///
/// # Panics
/// When no server can be had; a test without its database has nothing to say.
pub fn server_url() -> &'static str {
    static SERVER: OnceLock<(String, Option<Keeper>)> = OnceLock::new();
    let (url, _) = SERVER.get_or_init(|| match env::var("SELLION_TEST_DATABASE_URL") {
        Ok(url) if !url.is_empty() => (url, None),
        _ => {
            let keeper =
                Keeper::start(|_| {}).unwrap_or_else(|error| panic!("no database server: {error:#}"));
            (keeper.url().to_owned(), Some(keeper))
        }
    });
    url
}

/// A `test-postgres` process: it holds a server for as long as its standard input stays open.
pub struct Keeper {
    child: Child,
    input: Option<ChildStdin>,
    url: String,
}

impl Keeper {
    /// Starts the process and waits until its server takes connections. `adjust` may change the environment.
    ///
    /// # Errors
    /// The program is not built, or it could not start a server and has said why on standard error.
    pub fn start(adjust: impl FnOnce(&mut Command)) -> anyhow::Result<Self> {
        let program = keeper_program()?;
        let mut command = Command::new(&program);
        // A group of its own: an interrupt at the terminal ends the tests, and their end ends the server.
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).process_group(0);
        adjust(&mut command);
        let mut child = command.spawn().with_context(|| format!("{} does not run", program.display()))?;
        let input = child.stdin.take();
        let mut url = String::new();
        if let Some(output) = child.stdout.take() {
            BufReader::new(output).read_line(&mut url)?;
        }
        if url.trim().is_empty() {
            let status = child.wait()?;
            bail!("test-postgres ended with {status} before its server was up");
        }
        Ok(Self { child, input, url: url.trim().to_owned() })
    }

    /// The address of the server's maintenance database.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.url
    }

    /// Lets go of the server and waits until it is gone.
    ///
    /// # Errors
    /// The process could not stop its server.
    pub fn finish(mut self) -> anyhow::Result<()> {
        drop(self.input.take());
        let status = self.child.wait()?;
        if !status.success() {
            bail!("test-postgres ended with {status}");
        }
        Ok(())
    }
}

/// Where cargo has put `test-postgres`: beside the folder of the test binaries.
///
/// # Errors
/// It is not there, as after `cargo test --lib`.
pub fn keeper_program() -> anyhow::Result<PathBuf> {
    let own = env::current_exe().context("the path of this test is not known")?;
    let beside = own
        .ancestors()
        .skip(1)
        .take(2)
        .map(|folder| folder.join("test-postgres"))
        .find(|program| program.is_file());
    beside.context("test-postgres is not built: run `cargo build -p sellion-tests --bins`")
}
