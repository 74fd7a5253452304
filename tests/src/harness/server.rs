//! The server under test, in a thread of the test process but reached over a socket like any other.

use std::{net::SocketAddr, sync::mpsc, thread::JoinHandle};

use sellion_store::Store;
use sellion_web::{Clock, Config, Secret, ServerHandle, StreamLimits, Tls};

/// A running server. It stops when dropped.
pub struct TestServer {
    address: SocketAddr,
    redirect_address: Option<SocketAddr>,
    handle: ServerHandle,
    thread: Option<JoinHandle<()>>,
}

impl TestServer {
    /// Starts a server on a free port of the loopback address.
    #[must_use]
    pub fn start(store: Store, clock: &Clock, secret: &Secret) -> Self {
        Self::start_with(store, clock, secret, StreamLimits::default())
    }

    /// As [`TestServer::start`], with other limits on its live streams.
    #[must_use]
    pub fn start_with(store: Store, clock: &Clock, secret: &Secret, streams: StreamLimits) -> Self {
        Self::run(store, Config { streams, ..config(clock, secret) })
    }

    /// As [`TestServer::start`], speaking TLS, and sending on whoever asks without.
    #[must_use]
    pub fn start_tls(store: Store, clock: &Clock, secret: &Secret, tls: Tls) -> Self {
        let redirect_from = Some(SocketAddr::from(([127, 0, 0, 1], 0)));
        Self::run(store, Config { tls: Some(tls), redirect_from, ..config(clock, secret) })
    }

    /// What a server says that cannot start with these files.
    #[must_use]
    pub fn refused_tls(store: Store, clock: &Clock, secret: &Secret, tls: Tls) -> String {
        let config = Config { tls: Some(tls), ..config(clock, secret) };
        let started = sellion_web::run(store, &config, |running| drop(running.handle.stop(false)));
        format!("{:#}", started.expect_err("files that cannot serve"))
    }

    fn run(store: Store, config: Config) -> Self {
        let (sender, receiver) = mpsc::channel();
        let thread = std::thread::spawn(move || {
            sellion_web::run(store, &config, |running| {
                let addresses = (running.address, running.redirect_address, running.handle.clone());
                sender.send(addresses).expect("a test that waits");
            })
            .expect("a server that stops in order");
        });
        let (address, redirect_address, handle) = receiver.recv().expect("a server that starts");
        Self { address, redirect_address, handle, thread: Some(thread) }
    }

    /// Where connections go to.
    #[must_use]
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// Where those are sent on who ask without TLS.
    #[must_use]
    pub fn redirect_base(&self) -> String {
        format!("http://{}", self.redirect_address.expect("a server with TLS"))
    }

    /// The address requests go to.
    #[must_use]
    pub fn base(&self) -> String {
        format!("http://{}", self.address)
    }

    /// Stops the server as SIGTERM does: requests that are being served may end. Returns when it has stopped.
    pub fn stop_gracefully(mut self) {
        drop(self.handle.stop(true));
        if let Some(thread) = self.thread.take() {
            thread.join().expect("a server that stops in order");
        }
    }
}

impl Drop for TestServer {
    fn drop(&mut self) {
        drop(self.handle.stop(false));
        if let Some(thread) = self.thread.take() {
            thread.join().ok();
        }
    }
}

/// A server on a free port of the loopback address.
fn config(clock: &Clock, secret: &Secret) -> Config {
    Config {
        listen: SocketAddr::from(([127, 0, 0, 1], 0)),
        address: None,
        secret: secret.clone(),
        clock: clock.clone(),
        workers: 2,
        secure_cookie: false,
        fonts: sellion_web::usual_fonts(),
        streams: StreamLimits::default(),
        tls: None,
        redirect_from: None,
    }
}
