//! One gate: what it holds and knows, and its answer to one reading.

use std::sync::{Arc, Mutex, PoisonError, RwLock};

use chrono::{DateTime, Utc};
use sellion_badge::Read;
use sellion_badge::pack::Moment;
use sellion_rules::gate::{Answer, ScanReason};
use uuid::Uuid;

use crate::clock::{Clock, Reading};
use crate::doubt::{Doubt, Mark};
use crate::held::Held;
use crate::home::Home;
use crate::queue::{Line, Queue, Scan, What};

const MARK: &str = "clock";
/// How far the steady counter may run before the clock's mark is written again.
const MARK_EVERY_MS: i64 = 30_000;

/// What a gate says that was never told anything.
const NOTHING_KNOWN: &str =
    "Cannot confirm: this gate knows nothing yet. Connect it to the server; until then call the lead.";
/// What it says when the pack it holds cannot be read.
const UNREADABLE: &str = "Cannot confirm: what this gate knows cannot be read. Connect it to the server; until then call the lead.";

/// An answer, as it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// The scan.
    pub id: Uuid,
    /// The word.
    pub answer: Answer,
    /// What to do.
    pub instruction: String,
    /// The respirator the person may go in with, in words.
    pub respirator: Option<String>,
    /// The serial, when a badge was recognised.
    pub serial: Option<String>,
    /// Whether a serial was typed: then nothing but the name on the badge speaks for the person.
    pub typed: bool,
    /// When.
    pub at: DateTime<Utc>,
    /// When the knowledge was last known to be current.
    pub known_at: Option<DateTime<Utc>>,
    /// Why the clock cannot be relied on, where it cannot.
    pub doubt: Option<Doubt>,
    /// Why the scan could not be kept for delivery, where it could not.
    pub not_kept: Option<String>,
}

/// The gate. Its copies are one gate.
#[derive(Clone)]
pub struct Gate {
    /// Its folder.
    pub home: Home,
    /// Its clocks.
    pub clock: Clock,
    /// Its scans that wait.
    pub queue: Queue,
    held: Arc<RwLock<Option<Held>>>,
    marked: Arc<Mutex<Option<Reading>>>,
}

impl Gate {
    /// Opens a gate's folder and the pack in it.
    ///
    /// # Errors
    /// The folder cannot be used, or the pack in it is not what was written: that one is refused.
    pub fn open(home: Home, clock: Clock) -> anyhow::Result<Self> {
        let gate = Self::empty(home, clock);
        gate.load()?;
        Ok(gate)
    }

    /// A gate that has not looked at its pack.
    pub fn empty(home: Home, clock: Clock) -> Self {
        let queue = Queue::of(&home);
        Self { home, clock, queue, held: Arc::default(), marked: Arc::default() }
    }

    /// Reads the pack that is on the disk.
    ///
    /// # Errors
    /// It is not what was written.
    pub fn load(&self) -> anyhow::Result<()> {
        let held = Held::load(&self.home)?;
        self.hold(held);
        Ok(())
    }

    /// Holds another pack from here on.
    pub fn hold(&self, held: Option<Held>) {
        *self.held.write().unwrap_or_else(PoisonError::into_inner) = held;
    }

    /// The pack held.
    pub fn held(&self) -> Option<Held> {
        self.held.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Looks at the clock. What is remembered is written when it tells something new, or after a while.
    pub fn look_at_clock(&self) -> Mark {
        let reading = self.clock.read();
        let before: Option<Mark> = self.home.remembered(MARK);
        let doubted = before.as_ref().and_then(|before| before.doubt(None));
        let mark = Mark::look(before, reading.clone());
        let mut marked = self.marked.lock().unwrap_or_else(PoisonError::into_inner);
        let recent = marked.as_ref().and_then(|last| reading.since(last));
        let recent = recent.is_some_and(|passed| passed.num_milliseconds() < MARK_EVERY_MS);
        if !recent || mark.doubt(None) != doubted {
            *marked = Some(reading);
            self.remember(&mark);
        }
        mark
    }

    /// Remembers what became of the clock. A full disk costs the memory, not the answer.
    pub fn remember(&self, mark: &Mark) {
        self.home.remember(MARK, mark).ok();
    }

    /// The answer to a reading, kept for delivery before it is returned.
    pub fn scan(&self, read: &Read) -> Shown {
        let mark = self.look_at_clock();
        let mut shown = self.answer(read, &mark);
        let what = match read {
            Read::Code(text) => What::Code(text.clone()),
            Read::Typed(text) => What::Serial(text.clone()),
        };
        let scan = Scan {
            id: shown.id,
            what,
            read_at: mark.reading().clone(),
            answer: shown.answer,
            known_at: shown.known_at,
        };
        shown.not_kept = self.queue.append(&Line::Scan(scan)).err().map(|error| error.to_string());
        shown
    }

    /// What the answer would be at a moment, if the clock showed it and were right. Nothing is kept.
    pub fn answer_at(&self, read: &Read, at: DateTime<Utc>) -> Shown {
        self.answer_with(read, at, None)
    }

    fn answer(&self, read: &Read, mark: &Mark) -> Shown {
        let known_at = self.held().map(|held| held.known_at);
        self.answer_with(read, mark.reading().wall, mark.doubt(known_at))
    }

    fn answer_with(&self, read: &Read, at: DateTime<Utc>, doubt: Option<Doubt>) -> Shown {
        let held = self.held();
        let known_at = held.as_ref().map(|held| held.known_at);
        let mut shown = Shown {
            id: Uuid::now_v7(),
            answer: Answer::CannotConfirm,
            instruction: NOTHING_KNOWN.to_owned(),
            respirator: None,
            serial: None,
            typed: read.is_typed(),
            at,
            known_at,
            doubt,
            not_kept: None,
        };
        let Some(held) = held else { return shown };
        let moment = Moment { at, known_at: held.known_at, clock_trusted: doubt.is_none() };
        match held.pack.answer(read, moment) {
            Ok(told) => {
                shown.answer = told.decision.answer;
                shown.instruction = told.decision.instruction;
                shown.respirator = told.respirator;
                shown.serial = told.serial.map(|serial| serial.to_string());
                // A doubt matters only to an answer that hangs on the time.
                shown.doubt = doubt.filter(|_| told.decision.reason == ScanReason::ClockInDoubt);
            }
            Err(_) => shown.instruction = UNREADABLE.to_owned(),
        }
        shown
    }
}
