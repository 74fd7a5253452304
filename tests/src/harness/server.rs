//! The server under test, in a thread of the test process but reached over a socket like any other.

use std::{net::SocketAddr, sync::mpsc, thread::JoinHandle};

use sellion_store::Store;
use sellion_web::{Clock, Config, Secret, ServerHandle, StreamLimits};

/// A running server. It stops when dropped.
pub struct TestServer {
    address: SocketAddr,
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
        let config = Config {
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            address: None,
            secret: secret.clone(),
            clock: clock.clone(),
            workers: 2,
            secure_cookie: false,
            fonts: sellion_web::usual_fonts(),
            streams,
        };
        let (sender, receiver) = mpsc::channel();
        let thread = std::thread::spawn(move || {
            sellion_web::run(store, &config, |running| {
                sender.send((running.address, running.handle.clone())).expect("a test that waits");
            })
            .expect("a server that stops in order");
        });
        let (address, handle) = receiver.recv().expect("a server that starts");
        Self { address, handle, thread: Some(thread) }
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
