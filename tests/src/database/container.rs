//! Postgres in a container, through testcontainers.

use std::env;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, bail};
use diesel::{Connection, PgConnection};
use testcontainers::core::IntoContainerPort;
use testcontainers::runners::SyncRunner;
use testcontainers::{Container, ContainerRequest, GenericImage, ImageExt};
use uuid::Uuid;

/// The tag of the image that is built from `docker/` when no other image is named.
pub const OWN_IMAGE: &str = "sellion-postgres:tests";

const PORT: u16 = 5432;
const READY_WITHIN: Duration = Duration::from_secs(60);

/// Whether a container engine can be used from here.
#[derive(Debug)]
pub enum Engine {
    /// It answers.
    Answers,
    /// It does not; the reason, as the end of a sentence.
    Silent(String),
}

/// Asks the container engine for a sign of life.
#[must_use]
pub fn engine() -> Engine {
    let asked = Command::new("docker").args(["version", "--format", "{{.Server.Version}}"]).output();
    match asked {
        Ok(output) if output.status.success() => Engine::Answers,
        Ok(output) => Engine::Silent(format!("the container engine does not answer: {}", last_line(&output))),
        Err(error) => Engine::Silent(format!("there is no docker command ({error})")),
    }
}

/// The image the tests use: `SELLION_TEST_POSTGRES_IMAGE`, or our own. The official image works too.
#[must_use]
pub fn image_setting() -> String {
    env::var("SELLION_TEST_POSTGRES_IMAGE")
        .ok()
        .filter(|name| !name.is_empty())
        .unwrap_or_else(|| OWN_IMAGE.to_owned())
}

/// A Postgres in a container of its own, removed when dropped.
pub struct ContainerServer {
    container: Container<GenericImage>,
    image: String,
    password: String,
    url: String,
}

impl ContainerServer {
    /// Builds our own image if that is the one to use, starts a container and waits until it takes connections.
    ///
    /// # Errors
    /// The image cannot be built or pulled, or the server does not come up in a minute.
    pub fn start() -> anyhow::Result<Self> {
        let image = image_setting();
        if image == OWN_IMAGE {
            build_own_image()?;
        }
        let password = Uuid::now_v7().simple().to_string();
        let container = request(&image, &password).start().context("the container does not start")?;
        let mut server = Self { container, image, password, url: String::new() };
        server.await_connections()?;
        Ok(server)
    }

    /// The name of the image it runs.
    #[must_use]
    pub fn image(&self) -> &str {
        &self.image
    }

    /// The address of the maintenance database.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.url
    }

    /// The addresses of this machine on which the engine passes connections on to the server.
    ///
    /// # Errors
    /// The engine does not tell.
    pub fn published_on(&self) -> anyhow::Result<Vec<String>> {
        let shown = Command::new("docker").args(["port", self.container.id()]).output()?;
        let lines = String::from_utf8(shown.stdout)?;
        let hosts = lines.lines().filter_map(|line| line.rsplit_once("-> ")?.1.rsplit_once(':'));
        Ok(hosts.map(|(host, _)| host.to_owned()).collect())
    }

    /// Stops the server the way an operator does, and starts it again. The address may change.
    ///
    /// # Errors
    /// The engine refuses, or the server does not come up in a minute.
    pub fn restart(&mut self) -> anyhow::Result<()> {
        self.container.stop().context("the container does not stop")?;
        self.container.start().context("the container does not start again")?;
        self.await_connections()
    }

    /// Connecting is the only sign that holds for every image: the official one says "ready to accept
    /// connections" once too early, for the temporary server that its first start uses over a local socket.
    fn await_connections(&mut self) -> anyhow::Result<()> {
        let deadline = Instant::now() + READY_WITHIN;
        loop {
            match self.address().and_then(|url| Ok((PgConnection::establish(&url)?, url))) {
                Ok((_, url)) => {
                    self.url = url;
                    return Ok(());
                }
                Err(error) if Instant::now() > deadline => {
                    let log = self.container.stderr_to_vec().unwrap_or_default();
                    bail!("no connection after a minute: {error:#}\n{}", String::from_utf8_lossy(&log));
                }
                Err(_) => std::thread::sleep(Duration::from_millis(25)),
            }
        }
    }

    fn address(&self) -> anyhow::Result<String> {
        let port = self.container.get_host_port_ipv4(PORT)?;
        // The port is published on the loopback address alone, whatever the library makes of this machine.
        let host =
            if engine_is_remote() { self.container.get_host()?.to_string() } else { "127.0.0.1".to_owned() };
        Ok(format!("postgres://sellion:{}@{host}:{port}/postgres", self.password))
    }
}

fn engine_is_remote() -> bool {
    env::var("DOCKER_HOST").is_ok_and(|host| host.starts_with("tcp:"))
}

fn request(image: &str, password: &str) -> ContainerRequest<GenericImage> {
    let (name, tag) = split_tag(image);
    let request = GenericImage::new(name, tag)
        .with_exposed_port(PORT.tcp())
        .with_env_var("POSTGRES_USER", "sellion")
        .with_env_var("POSTGRES_DB", "postgres")
        .with_env_var("POSTGRES_PASSWORD", password)
        .with_env_var("POSTGRES_INITDB_ARGS", "--no-sync")
        .with_mapped_port(0, PORT.tcp())
        .with_cmd([
            "postgres",
            "-c",
            "fsync=off",
            "-c",
            "synchronous_commit=off",
            "-c",
            "full_page_writes=off",
            "-c",
            "max_connections=300",
        ]);
    if engine_is_remote() {
        return request;
    }
    // The engine would publish the port to every network this machine is in.
    request.with_host_config_modifier(|host| {
        for binding in host.port_bindings.iter_mut().flat_map(|ports| ports.values_mut()).flatten().flatten()
        {
            binding.host_ip = Some("127.0.0.1".to_owned());
        }
    })
}

/// Splits `host:5000/name:tag`; a name without a tag means the newest, as everywhere.
fn split_tag(image: &str) -> (&str, &str) {
    match image.rsplit_once(':') {
        Some((name, tag)) if !tag.contains('/') => (name, tag),
        _ => (image, "latest"),
    }
}

/// Costs a tenth of a second when nothing changed, because the engine keeps the layers.
fn build_own_image() -> anyhow::Result<()> {
    // An engine without the newer builder's plug-in still has the older one.
    let first = docker_build(None)?;
    if first.status.success() {
        return Ok(());
    }
    let second = docker_build(Some("0"))?;
    if second.status.success() {
        return Ok(());
    }
    bail!("the image {OWN_IMAGE} cannot be built: {}; {}", last_line(&first), last_line(&second))
}

fn docker_build(buildkit: Option<&str>) -> anyhow::Result<Output> {
    let folder = docker_folder();
    let mut command = Command::new("docker");
    command.args(["build", "--quiet", "--tag", OWN_IMAGE, "--file"]).arg(folder.join("postgres.Dockerfile"));
    if let Ok(base) = env::var("SELLION_DEBIAN_IMAGE") {
        command.arg("--build-arg").arg(format!("DEBIAN_IMAGE={base}"));
    }
    if let Some(value) = buildkit {
        command.env("DOCKER_BUILDKIT", value);
    }
    command.arg(&folder).stdin(Stdio::null()).output().context("docker build cannot be run")
}

fn docker_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).with_file_name("docker")
}

fn last_line(output: &Output) -> String {
    let text = String::from_utf8_lossy(&output.stderr);
    text.lines().rev().find(|line| !line.trim().is_empty()).unwrap_or("it said nothing").trim().to_owned()
}

#[cfg(test)]
mod tests {
    use super::split_tag;

    #[test]
    fn a_tag_is_told_from_a_port() {
        assert_eq!(split_tag("postgres:15"), ("postgres", "15"));
        assert_eq!(split_tag("postgres"), ("postgres", "latest"));
        assert_eq!(split_tag("example.org:5000/postgres"), ("example.org:5000/postgres", "latest"));
        assert_eq!(split_tag("example.org:5000/postgres:15"), ("example.org:5000/postgres", "15"));
    }
}
