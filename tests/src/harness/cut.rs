//! A network that comes and goes: a small proxy between a client and the server, cut and healed by a test.

use std::{
    io::{self, Read, Write},
    net::{Shutdown, SocketAddr, TcpListener, TcpStream},
    sync::{
        Arc,
        atomic::{AtomicU8, AtomicUsize, Ordering},
    },
    thread,
    time::Duration,
};

/// How the network is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Network {
    /// Everything passes.
    Whole,
    /// Nothing passes, and what was under way is gone.
    Cut,
    /// What is sent is stored, and the answer that says so is lost.
    StoredUnheard,
}

/// The proxy. It ends with the process.
pub struct Proxy {
    address: SocketAddr,
    network: Arc<State>,
}

struct State {
    now: AtomicU8,
    unheard: AtomicUsize,
}

impl State {
    fn is(&self, network: Network) -> bool {
        self.now.load(Ordering::SeqCst) == network as u8
    }
}

impl Proxy {
    /// A proxy in front of a server, by the server's base address.
    ///
    /// # Panics
    ///
    /// When no port is free.
    #[must_use]
    pub fn before(base: &str) -> Self {
        let server: SocketAddr = base.trim_start_matches("http://").parse().expect("an address");
        let listener = TcpListener::bind(("127.0.0.1", 0)).expect("a free port");
        let address = listener.local_addr().expect("an address");
        let network =
            Arc::new(State { now: AtomicU8::new(Network::Whole as u8), unheard: AtomicUsize::new(0) });
        let told = Arc::clone(&network);
        thread::spawn(move || {
            for client in listener.incoming().flatten() {
                let told = Arc::clone(&told);
                thread::spawn(move || pass(&client, server, &told));
            }
        });
        Self { address, network }
    }

    /// Where clients reach it.
    #[must_use]
    pub fn base(&self) -> String {
        format!("http://{}", self.address)
    }

    /// Changes the network.
    pub fn set(&self, network: Network) {
        self.network.now.store(network as u8, Ordering::SeqCst);
    }

    /// How many answers that something is stored were lost.
    #[must_use]
    pub fn unheard(&self) -> usize {
        self.network.unheard.load(Ordering::SeqCst)
    }
}

fn pass(client: &TcpStream, server: SocketAddr, network: &Arc<State>) {
    if network.is(Network::Cut) {
        client.shutdown(Shutdown::Both).ok();
        return;
    }
    let Ok(server) = TcpStream::connect(server) else { return };
    let (Ok(from), Ok(to)) = (client.try_clone(), server.try_clone()) else { return };
    let there = Arc::clone(network);
    let asks = thread::spawn(move || copy(from, to, &there, false));
    if let (Ok(from), Ok(to)) = (server.try_clone(), client.try_clone()) {
        copy(from, to, network, true).ok();
    }
    client.shutdown(Shutdown::Both).ok();
    server.shutdown(Shutdown::Both).ok();
    asks.join().ok();
}

/// Copies until either side ends or the network loses what was read.
fn copy(mut from: TcpStream, mut to: TcpStream, network: &State, answers: bool) -> io::Result<()> {
    from.set_read_timeout(Some(Duration::from_millis(20)))?;
    let mut buffer = vec![0; 64 * 1024];
    loop {
        let read = match from.read(&mut buffer) {
            Ok(0) => return Ok(()),
            Ok(read) => read,
            Err(error) if matches!(error.kind(), io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut) => 0,
            Err(error) => return Err(error),
        };
        if network.is(Network::Cut) {
            return Ok(());
        }
        if answers && network.is(Network::StoredUnheard) && buffer[..read].starts_with(b"HTTP/1.1 201") {
            network.unheard.fetch_add(1, Ordering::SeqCst);
            return Ok(());
        }
        to.write_all(&buffer[..read])?;
    }
}
