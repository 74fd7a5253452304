//! A client of the live stream, which reads it as it comes.

use std::{
    io::{self, BufRead, BufReader, Read, Write},
    net::{Shutdown, TcpStream},
    sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel},
    time::Duration,
};

use serde_json::Value;

use super::Client;

/// Longer than any event takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(30);

/// One block of a stream.
#[derive(Debug, Clone, Default)]
pub struct Event {
    /// The id it moved the client's last one to.
    pub id: i64,
    /// Its name; empty for a block that is no event.
    pub event: String,
    /// Its data; null where there is none.
    pub data: Value,
}

impl Event {
    /// The noun and the operation of a change.
    #[must_use]
    pub fn told(&self) -> (&str, &str) {
        (self.data["noun"].as_str().unwrap_or_default(), self.data["operation"].as_str().unwrap_or_default())
    }
}

/// An open stream. It is closed when dropped.
pub struct Listening {
    socket: TcpStream,
    blocks: Receiver<Event>,
    /// The status and the headers of the answer, as they came.
    pub head: String,
    /// The id that a client would send when it connects again.
    pub last_id: i64,
}

impl Client {
    /// Opens the live stream, after the event with this id where one is given. Returns once the first block is there.
    ///
    /// # Panics
    /// When the server refuses.
    #[must_use]
    pub fn listen(&self, last: Option<i64>) -> Listening {
        let mut listening = self.listen_unread(last);
        let first = listening.block(PATIENCE).expect("a first block");
        if !first.event.is_empty() {
            // What was missed comes with the first block: it is to be read like any other.
            let (sender, blocks) = channel();
            let rest = std::mem::replace(&mut listening.blocks, blocks);
            std::thread::spawn(move || {
                std::iter::once(first).chain(rest).try_for_each(|block| sender.send(block)).ok();
            });
        }
        listening
    }

    /// As [`Client::listen`], without waiting for the first block.
    ///
    /// # Panics
    /// When the server cannot be reached or refuses.
    #[must_use]
    pub fn listen_unread(&self, last: Option<i64>) -> Listening {
        let host = self.base.trim_start_matches("http://");
        let mut socket = TcpStream::connect(host).expect("a connection");
        let mut request = format!("GET /api/v1/stream HTTP/1.1\r\nhost: {host}\r\n");
        let last = last.map(|id| ("last-event-id".to_owned(), id.to_string()));
        for (name, value) in self.headers.iter().chain(&last) {
            request += &format!("{name}: {value}\r\n");
        }
        socket.write_all(format!("{request}\r\n").as_bytes()).expect("a request");
        let mut reader = BufReader::new(socket.try_clone().expect("a socket"));
        let mut head = String::new();
        while !head.ends_with("\r\n\r\n") {
            assert!(reader.read_line(&mut head).expect("a head") > 0, "no whole head: {head}");
        }
        assert!(head.starts_with("HTTP/1.1 200"), "{head}");
        let (sender, blocks) = channel();
        std::thread::spawn(move || pass_on(reader, &sender));
        Listening { socket, blocks, head, last_id: 0 }
    }
}

impl Listening {
    /// The next event, whose id becomes the last one.
    pub fn event(&mut self) -> Event {
        loop {
            let block = self.block(PATIENCE).expect("an event");
            if !block.event.is_empty() {
                return block;
            }
        }
    }

    /// The next block of any kind within this time; none when the time is over.
    ///
    /// # Panics
    /// When the stream has ended.
    pub fn block(&mut self, within: Duration) -> Option<Event> {
        match self.blocks.recv_timeout(within) {
            Ok(block) => {
                self.last_id = block.id;
                Some(block)
            }
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => panic!("the stream has ended"),
        }
    }

    /// Every event up to the one that says this of itself.
    pub fn until(&mut self, noun: &str, operation: &str) -> Vec<Event> {
        let mut events = vec![self.event()];
        while events.last().is_some_and(|event| event.told() != (noun, operation)) {
            events.push(self.event());
        }
        events
    }

    /// Waits until the server ends the stream; whether it did within this time.
    pub fn ends(&mut self, within: Duration) -> bool {
        let until = std::time::Instant::now() + within;
        loop {
            let left = until.saturating_duration_since(std::time::Instant::now());
            match self.blocks.recv_timeout(left) {
                Ok(_) => {}
                Err(error) => return error == RecvTimeoutError::Disconnected,
            }
        }
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        self.socket.shutdown(Shutdown::Both).ok();
    }
}

/// The first block of a stream's body, as far as a client reads that wants no more.
pub(super) fn first_block(mut body: impl Read) -> io::Result<Vec<u8>> {
    let (mut text, mut byte) = (Vec::new(), [0]);
    while !text.ends_with(b"\n\n") && body.read(&mut byte)? > 0 {
        text.extend(byte);
    }
    Ok(text)
}

/// Reads a chunked body and sends on each block that is whole, until either side ends.
fn pass_on(mut reader: impl BufRead, blocks: &Sender<Event>) {
    let mut text = String::new();
    while let Some(chunk) = chunk(&mut reader) {
        text.push_str(&String::from_utf8(chunk).expect("UTF-8"));
        while let Some((block, rest)) = text.split_once("\n\n") {
            let event = parsed(block);
            text = rest.to_owned();
            if blocks.send(event).is_err() {
                return;
            }
        }
    }
}

/// The next chunk (RFC 9112 s.7.1); none at the end.
fn chunk(reader: &mut impl BufRead) -> Option<Vec<u8>> {
    let mut size = String::new();
    reader.read_line(&mut size).ok()?;
    let size = usize::from_str_radix(size.trim(), 16).ok().filter(|size| *size > 0)?;
    let mut chunk = vec![0; size + 2];
    reader.read_exact(&mut chunk).ok()?;
    chunk.truncate(size);
    Some(chunk)
}

/// The fields of a block, as the HTML standard (9.2.6) reads them.
fn parsed(block: &str) -> Event {
    let mut event = Event::default();
    for line in block.lines() {
        match line.split_once(": ").unwrap_or((line, "")) {
            ("id", id) => event.id = id.parse().expect("a number"),
            ("event", name) => name.clone_into(&mut event.event),
            ("data", data) => event.data = serde_json::from_str(data).expect("JSON"),
            _ => {}
        }
    }
    event
}
