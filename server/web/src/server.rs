//! Starting and stopping the HTTP server.

use std::{net::SocketAddr, path::PathBuf, time::Duration};

use actix_web::{App, HttpServer, dev::ServerHandle, middleware::from_fn, web::Data};
use anyhow::Context;
use sellion_store::Store;

use crate::{clock::Clock, envelope, extract, routes, secret::Secret, state::State};

/// How long requests that are being served may go on after the server was told to stop.
const SHUTDOWN_SECONDS: u64 = 20;
/// How long a client may take to send the head of a request.
const CLIENT_TIMEOUT: Duration = Duration::from_secs(10);

/// What a server needs.
#[derive(Debug, Clone)]
pub struct Config {
    /// Where to listen; port 0 takes a free one.
    pub listen: SocketAddr,
    /// The installation's secret.
    pub secret: Secret,
    /// What tells the time.
    pub clock: Clock,
    /// Threads that serve requests.
    pub workers: usize,
    /// Whether browsers reach the server by TLS only.
    pub secure_cookie: bool,
    /// Font files for names that the fonts in the program do not cover; [`usual_fonts`] where nobody chose.
    pub fonts: Vec<PathBuf>,
}

/// Where Debian keeps a font for Chinese, Japanese and Korean.
const CJK_FONT: &str = "/usr/share/fonts/opentype/noto/NotoSansCJK-Regular.ttc";

/// The fonts for further scripts that this machine has where they usually are.
#[must_use]
pub fn usual_fonts() -> Vec<PathBuf> {
    [CJK_FONT].map(PathBuf::from).into_iter().filter(|path| path.is_file()).collect()
}

/// A server that is listening.
pub struct Running {
    /// Where it listens.
    pub address: SocketAddr,
    /// Stops it.
    pub handle: ServerHandle,
    /// Ends when the server has stopped.
    pub server: actix_web::dev::Server,
}

/// Starts to listen. Must be called inside an actix system; `running.server` must be awaited.
fn start(store: Store, config: &Config) -> anyhow::Result<Running> {
    let state = Data::new(State::new(store, config)?);
    let server = HttpServer::new(move || {
        App::new()
            .app_data(state.clone())
            .configure(extract::configure)
            .configure(routes::configure)
            .wrap(from_fn(envelope::around))
    })
    .workers(config.workers)
    .client_request_timeout(CLIENT_TIMEOUT)
    .shutdown_timeout(SHUTDOWN_SECONDS)
    .bind(config.listen)
    .with_context(|| format!("cannot listen on {}: is another server running there?", config.listen))?;
    let address = *server.addrs().first().context("the server listens nowhere")?;
    let server = server.run();
    Ok(Running { address, handle: server.handle(), server })
}

/// Runs a server on this thread until it is told to stop, by a signal or through its handle.
///
/// SIGTERM lets requests that are being served end; `listening` is called once the address is open.
pub fn run(store: Store, config: &Config, listening: impl FnOnce(&Running)) -> anyhow::Result<()> {
    actix_web::rt::System::new().block_on(async move {
        let running = start(store, config)?;
        listening(&running);
        running.server.await.context("the server ended badly")
    })
}
