//! Starting and stopping the HTTP server.

use std::{any::Any, net::SocketAddr, path::PathBuf, time::Duration};

use actix_tls::accept::rustls_0_23::TlsStream;
use actix_web::{
    App, HttpServer,
    middleware::from_fn,
    rt::{
        net::TcpStream,
        signal::unix::{SignalKind, signal},
    },
    web::Data,
};
use anyhow::Context;
use rustix::net::sockopt::set_tcp_user_timeout;
use sellion_store::Store;

use crate::{
    badge_batch,
    clock::Clock,
    envelope, extract, routes,
    secret::Secret,
    state::State,
    stream::StreamLimits,
    tls::{self, Tls},
};

/// How long requests that are being served may go on after the server was told to stop.
const SHUTDOWN_SECONDS: u64 = 20;
/// How long a client may take to send the head of a request.
const CLIENT_TIMEOUT: Duration = Duration::from_secs(10);
/// How long a client may leave unacknowledged, or not take, what was sent to it (RFC 5482 describes the timeout).
const STALLED_MS: u32 = 30_000;

/// What a server needs.
#[derive(Debug, Clone)]
pub struct Config {
    /// Where to listen; port 0 takes a free one.
    pub listen: SocketAddr,
    /// Where others reach the installation, such as `https://fit.example`, when that is not where this server listens.
    pub address: Option<String>,
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
    /// How many live streams there may be, and how often each shows that it lives.
    pub streams: StreamLimits,
    /// The files for TLS; without them, the server speaks plain HTTP.
    pub tls: Option<Tls>,
    /// Where browsers that ask without TLS are sent on from.
    pub redirect_from: Option<SocketAddr>,
}

/// Where Debian keeps a font for Chinese, Japanese and Korean.
const CJK_FONT: &str = "/usr/share/fonts/opentype/noto/NotoSansCJK-Regular.ttc";
/// Where it keeps those of one script each, and the scripts that names of people are likely to be in.
const SCRIPT_FONTS: &str = "/usr/share/fonts/truetype/noto";
const SCRIPTS: [&str; 20] = [
    "Armenian",
    "Bengali",
    "Devanagari",
    "Ethiopic",
    "Georgian",
    "Gujarati",
    "Gurmukhi",
    "Hebrew",
    "Kannada",
    "Khmer",
    "Lao",
    "Malayalam",
    "Myanmar",
    "Oriya",
    "Sinhala",
    "Syriac",
    "Tamil",
    "Telugu",
    "Thaana",
    "Thai",
];

/// The fonts for further scripts that this machine has where they usually are.
#[must_use]
pub fn usual_fonts() -> Vec<PathBuf> {
    let of_scripts = SCRIPTS.iter().map(|script| format!("{SCRIPT_FONTS}/NotoSans{script}-Regular.ttf"));
    let files = std::iter::once(CJK_FONT.to_owned()).chain(of_scripts);
    files.map(PathBuf::from).filter(|path| path.is_file()).collect()
}

/// A server that is listening.
pub struct Running {
    /// Where it listens.
    pub address: SocketAddr,
    /// Where it sends those on who ask without TLS.
    pub redirect_address: Option<SocketAddr>,
    /// Stops it.
    pub handle: ServerHandle,
    /// Ends when the server has stopped.
    pub server: actix_web::dev::Server,
}

/// Stops a server, its live streams first: they would never end by themselves.
#[derive(Clone)]
pub struct ServerHandle {
    state: Data<State>,
    handle: actix_web::dev::ServerHandle,
    redirect: Option<actix_web::dev::ServerHandle>,
}

impl ServerHandle {
    /// Stops the server. A graceful stop lets requests that are being served end. The server is told at once; the
    /// future ends when it has stopped.
    pub fn stop(&self, graceful: bool) -> impl Future<Output = ()> + use<> {
        self.state.streams.close();
        let redirect = self.redirect.as_ref().map(|redirect| redirect.stop(graceful));
        let own = self.handle.stop(graceful);
        async move {
            if let Some(redirect) = redirect {
                redirect.await;
            }
            own.await;
        }
    }
}

/// Starts to listen. Must be called inside an actix system; `running.server` must be awaited.
fn start(store: Store, config: &Config) -> anyhow::Result<Running> {
    let state = Data::new(State::new(store, config)?);
    let shared = state.clone();
    let server = HttpServer::new(move || {
        App::new()
            .app_data(shared.clone())
            .configure(extract::configure)
            .configure(routes::configure)
            .wrap(from_fn(envelope::around))
    })
    .workers(config.workers)
    .client_request_timeout(CLIENT_TIMEOUT)
    .shutdown_timeout(SHUTDOWN_SECONDS)
    .disable_signals()
    .on_connect(|connection, _| give_up_on_stalled(connection));
    let server = match &config.tls {
        Some(tls) => server.bind_rustls_0_23(config.listen, tls.read()?),
        None => server.bind(config.listen),
    }
    .with_context(|| format!("cannot listen on {}: is another server running there?", config.listen))?;
    let address = *server.addrs().first().context("the server listens nowhere")?;
    state.listens_on(if config.tls.is_some() { "https" } else { "http" }, address);
    let server = server.run();
    let redirect = config.redirect_from.map(|from| tls::redirect(from, address.port())).transpose()?;
    let (redirect_address, redirect) = match redirect {
        Some((from, redirect)) => {
            let handle = redirect.handle();
            actix_web::rt::spawn(redirect);
            (Some(from), Some(handle))
        }
        None => (None, None),
    };
    actix_web::rt::spawn(badge_batch::run(state.clone()));
    let handle = ServerHandle { state, handle: server.handle(), redirect };
    stop_on_signals(&handle)?;
    Ok(Running { address, redirect_address, handle, server })
}

/// A client that takes nothing any more must not keep a connection, and a live stream with it, for ever.
fn give_up_on_stalled(connection: &dyn Any) {
    let encrypted = || connection.downcast_ref::<TlsStream<TcpStream>>().map(|stream| stream.get_ref().0);
    let Some(socket) = connection.downcast_ref::<TcpStream>().or_else(encrypted) else { return };
    if let Err(error) = set_tcp_user_timeout(socket, STALLED_MS) {
        tracing::debug!(%error, "a connection has no limit on how long it may stall");
    }
}

/// SIGTERM lets requests that are being served end; SIGINT and SIGQUIT do not wait.
fn stop_on_signals(handle: &ServerHandle) -> anyhow::Result<()> {
    let signals =
        [(SignalKind::terminate(), true), (SignalKind::interrupt(), false), (SignalKind::quit(), false)];
    for (kind, graceful) in signals {
        let mut signal = signal(kind).context("signals cannot be received")?;
        let handle = handle.clone();
        actix_web::rt::spawn(async move {
            while signal.recv().await.is_some() {
                handle.stop(graceful).await;
            }
        });
    }
    Ok(())
}

/// Runs a server on this thread until it is told to stop, by a signal or through its handle.
///
/// `listening` is called once the address is open.
pub fn run(store: Store, config: &Config, listening: impl FnOnce(&Running)) -> anyhow::Result<()> {
    actix_web::rt::System::new().block_on(async move {
        let running = start(store, config)?;
        listening(&running);
        running.server.await.context("the server ended badly")
    })
}
