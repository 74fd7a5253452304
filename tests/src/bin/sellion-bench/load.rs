//! A small HTTP/1.1 client that keeps its connection: light, because it shares the processors with the server.

use std::{
    io::{BufRead, BufReader, Read, Write},
    net::TcpStream,
    time::{Duration, Instant},
};

use anyhow::{Context, ensure};

/// One connection.
pub(crate) struct Connection {
    stream: BufReader<TcpStream>,
    head: String,
    line: String,
    body: Vec<u8>,
}

impl Connection {
    /// Connects to the server at `base` and will POST JSON to `path` with this cookie.
    pub(crate) fn open(base: &str, path: &str, cookie: &str) -> anyhow::Result<Self> {
        let address = base.strip_prefix("http://").context("an address of this machine")?;
        ensure!(address.starts_with("127.0.0.1:"), "load goes to this machine only");
        let stream = TcpStream::connect(address)?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(Duration::from_secs(30)))?;
        let head = format!(
            "POST {path} HTTP/1.1\r\nhost: {address}\r\ncookie: {cookie}\r\n\
             content-type: application/json\r\ncontent-length: "
        );
        Ok(Self { stream: BufReader::new(stream), head, line: String::new(), body: Vec::new() })
    }

    /// Sends one body and returns the status and the body that came back.
    pub(crate) fn post(&mut self, body: &str) -> anyhow::Result<(u16, &[u8])> {
        let request = format!("{}{}\r\n\r\n{body}", self.head, body.len());
        self.stream.get_mut().write_all(request.as_bytes())?;
        let status = self.next_line()?.split(' ').nth(1).context("a status")?.parse()?;
        let mut length = 0;
        loop {
            let line = self.next_line()?;
            if line.is_empty() {
                break;
            }
            if let Some((name, value)) = line.split_once(':')
                && name.eq_ignore_ascii_case("content-length")
            {
                length = value.trim().parse()?;
            }
        }
        self.body.resize(length, 0);
        self.stream.read_exact(&mut self.body)?;
        Ok((status, &self.body))
    }

    fn next_line(&mut self) -> anyhow::Result<&str> {
        self.line.clear();
        ensure!(self.stream.read_line(&mut self.line)? > 0, "the server closed the connection");
        Ok(self.line.trim_end())
    }
}

/// How long things took.
#[derive(Default)]
pub(crate) struct Times {
    micros: Vec<u64>,
}

impl Times {
    pub(crate) fn add(&mut self, since: Instant) {
        self.micros.push(u64::try_from(since.elapsed().as_micros()).unwrap_or(u64::MAX));
    }

    pub(crate) fn add_micros(&mut self, micros: u64) {
        self.micros.push(micros);
    }

    pub(crate) fn join(&mut self, other: Self) {
        self.micros.extend(other.micros);
    }

    pub(crate) fn count(&self) -> usize {
        self.micros.len()
    }

    /// The time within which this part of all were done, in milliseconds.
    pub(crate) fn percentile_ms(&mut self, part: f64) -> f64 {
        self.micros.sort_unstable();
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            clippy::cast_precision_loss,
            reason = "a place in a list"
        )]
        let place = (self.micros.len() as f64 * part) as usize;
        let micros = self.micros.get(place.min(self.micros.len().saturating_sub(1)));
        #[allow(clippy::cast_precision_loss, reason = "microseconds")]
        micros.map_or(0.0, |micros| *micros as f64 / 1000.0)
    }
}
