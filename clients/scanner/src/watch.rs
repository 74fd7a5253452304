//! Standing at the gate: every line that a scanner types is answered, while packs are fetched and scans delivered.

use std::io::{self, BufRead, Write};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread;
use std::time::Duration;

use sellion_badge::Read;

use crate::delivery::{deliver, fetch};
use crate::gate::{Gate, Shown};
use crate::server::Server;

/// The longest line that is looked at, far longer than any code. The rest of a longer one is passed over.
const LINE_MAX: u64 = 4096;
/// How long a server that does not answer is left alone at most.
const PAUSE_MAX: Duration = Duration::from_secs(60);
/// Scans are gathered for so long before they are delivered: a delivery after each would fetch nothing new.
const GATHER: Duration = Duration::from_millis(500);

/// Tells the thread that speaks with the server that a scan waits, or, when dropped, that no more will come.
pub struct Speaker {
    told: Sender<()>,
    thread: thread::JoinHandle<()>,
}

impl Speaker {
    /// Starts to fetch and deliver, every `refresh` and after scans. `say` hears what goes wrong, and when it is over.
    ///
    /// # Errors
    /// No thread can be started.
    pub fn start(
        gate: Gate,
        server: Server,
        refresh: Duration,
        say: impl FnMut(&str) + Send + 'static,
    ) -> io::Result<Self> {
        let (told, hears) = channel();
        let thread = thread::Builder::new()
            .name("server".to_owned())
            .spawn(move || speak(&gate, &server, refresh, &hears, say))?;
        Ok(Self { told, thread })
    }

    /// A scan waits.
    pub fn tell(&self) {
        self.told.send(()).ok();
    }

    /// Waits for a last delivery.
    pub fn finish(self) {
        drop(self.told);
        self.thread.join().ok();
    }
}

fn speak(gate: &Gate, server: &Server, refresh: Duration, hears: &Receiver<()>, mut say: impl FnMut(&str)) {
    let mut silent = Silence::default();
    loop {
        let done = fetch(gate, server).and_then(|()| deliver(gate, server));
        let pause = match &done {
            Ok(delivered) => {
                if delivered.refused > 0 {
                    say("The server refused scans for good: \"sellion-gate status\" lists them.");
                }
                if silent.ends() {
                    say("The server answers again.");
                }
                refresh
            }
            Err(error) => {
                if silent.goes_on() {
                    say(&format!("Answering alone: {error:#}."));
                }
                silent.pause(refresh)
            }
        };
        match hears.recv_timeout(pause) {
            Ok(()) if done.is_ok() => {
                thread::sleep(GATHER);
                while hears.try_recv().is_ok() {}
            }
            // A server that is gone is not asked for every scan.
            Ok(()) => {
                if matches!(hears.recv_timeout(pause), Err(RecvTimeoutError::Disconnected)) {
                    return;
                }
                while hears.try_recv().is_ok() {}
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => {
                if done.is_ok() {
                    deliver(gate, server).ok();
                }
                return;
            }
        }
    }
}

/// How long the server has not answered.
#[derive(Default)]
struct Silence(u32);

impl Silence {
    /// Whether this is news.
    fn goes_on(&mut self) -> bool {
        self.0 = self.0.saturating_add(1);
        self.0 == 1
    }

    fn ends(&mut self) -> bool {
        std::mem::take(&mut self.0) > 0
    }

    /// Doubled after each failure, from a second on.
    fn pause(&self, refresh: Duration) -> Duration {
        Duration::from_secs(1 << self.0.clamp(1, 7) >> 1)
            .min(PAUSE_MAX)
            .min(refresh.max(Duration::from_secs(1)))
    }
}

/// Answers every line of `input` until it ends; `show` shows an answer.
///
/// # Errors
/// The input cannot be read, or the answer not shown.
pub fn answer_lines(
    gate: &Gate,
    mut input: impl BufRead,
    speaker: Option<&Speaker>,
    mut show: impl FnMut(&Shown) -> io::Result<()>,
) -> io::Result<()> {
    let mut line = Vec::new();
    while next_line(&mut input, &mut line)? {
        let text = String::from_utf8_lossy(&line);
        // A scanner that sends a line end and a return makes an empty line of its own.
        if text.trim().is_empty() {
            continue;
        }
        show(&gate.scan(&Read::line(&text)))?;
        if let Some(speaker) = speaker {
            speaker.tell();
        }
    }
    Ok(())
}

/// Reads a line of a bounded length; says no at the end.
fn next_line(input: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<bool> {
    line.clear();
    if io::Read::take(&mut *input, LINE_MAX).read_until(b'\n', line)? == 0 {
        return Ok(false);
    }
    let whole = line.last() == Some(&b'\n');
    if !whole && line.len() as u64 == LINE_MAX {
        input.skip_until(b'\n')?;
    }
    Ok(true)
}

/// Writes a line and sees to it that it is seen.
///
/// # Errors
/// Nobody reads any more.
pub fn put(output: &mut impl Write, text: &str) -> io::Result<()> {
    writeln!(output, "{text}")?;
    output.flush()
}
