//! The one place that decides which kind of server the tests run on.

use std::env;

use anyhow::{Context, bail};

use super::container::{ContainerServer, Engine, engine};
use super::private::PrivateServer;

/// What `SELLION_TEST_DATABASE` asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Choice {
    /// A container where that is possible, else a private cluster.
    Auto,
    /// A container or nothing.
    Container,
    /// A private cluster, whether or not an engine answers.
    Private,
}

/// A running server; dropping it stops it and removes all it kept.
pub enum RunningServer {
    /// Started through testcontainers.
    Container(Box<ContainerServer>),
    /// Started from the installed programs.
    Private(Box<PrivateServer>),
}

impl Choice {
    /// Reads the setting. `SELLION_REQUIRE_CONTAINER=1` turns `auto` into `container`.
    ///
    /// # Errors
    /// A value that is none of the three.
    pub fn from_environment() -> anyhow::Result<Self> {
        let required = env::var("SELLION_REQUIRE_CONTAINER").is_ok_and(|value| value == "1");
        match env::var("SELLION_TEST_DATABASE").as_deref() {
            Ok("private") => Ok(Self::Private),
            Ok("container") => Ok(Self::Container),
            Ok("auto" | "") | Err(env::VarError::NotPresent) if required => Ok(Self::Container),
            Ok("auto" | "") | Err(env::VarError::NotPresent) => Ok(Self::Auto),
            Ok(other) => bail!("SELLION_TEST_DATABASE is \"{other}\"; it may be auto, container or private"),
            Err(error) => bail!("SELLION_TEST_DATABASE cannot be read: {error}"),
        }
    }

    /// Starts the server that was chosen. Every line for the person watching goes to `say`.
    ///
    /// # Errors
    /// No server of the chosen kind could be started.
    pub fn start(self, say: &mut dyn FnMut(&str)) -> anyhow::Result<RunningServer> {
        match self {
            Self::Private => start_private(say),
            Self::Container => match engine() {
                Engine::Answers => start_container(say),
                Engine::Silent(reason) => bail!("a container was demanded, and {reason}"),
            },
            Self::Auto => match engine() {
                Engine::Silent(_) => start_private(say),
                Engine::Answers => start_container(say).or_else(|error| {
                    say("*** A CONTAINER ENGINE ANSWERS, BUT NO DATABASE STARTS IN IT; the reason:");
                    say(&format!("{error:#}"));
                    start_private(say)
                }),
            },
        }
    }
}

impl RunningServer {
    /// The address of the server's maintenance database.
    #[must_use]
    pub fn url(&self) -> String {
        match self {
            Self::Container(server) => server.url().to_owned(),
            Self::Private(server) => server.url(),
        }
    }
}

fn start_container(say: &mut dyn FnMut(&str)) -> anyhow::Result<RunningServer> {
    let server = ContainerServer::start().context("no Postgres in a container")?;
    say(&format!("databases in tests: testcontainers, image {}", server.image()));
    Ok(RunningServer::Container(Box::new(server)))
}

fn start_private(say: &mut dyn FnMut(&str)) -> anyhow::Result<RunningServer> {
    let server = PrivateServer::start().context("no private Postgres cluster")?;
    say(&format!("databases in tests: private cluster, fsync off, {}", server.description()));
    Ok(RunningServer::Private(Box::new(server)))
}
