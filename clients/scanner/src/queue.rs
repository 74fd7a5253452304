//! The scans that wait to be delivered: a file that is only ever appended to, each line with its own checksum.
//!
//! A line is on the disk before the answer is shown. What a crash tore off is told by its checksum, put aside and never
//! delivered: its answer was never shown. Scans that are settled leave the file when nothing waits any more.

use std::collections::HashSet;
use std::fs::{self, File};
use std::io::{self, Read as _, Seek as _, SeekFrom, Write as _};

use chrono::{DateTime, Utc};
use sellion_rules::gate::Answer;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::clock::Reading;
use crate::home::Home;

const FILE: &str = "scans";
/// Who appends or tidies up waits for the other.
const LOCK: &str = "scans.lock";
/// Lines that cannot be read any more, kept for whoever wants to look.
const DAMAGED: &str = "scans.damaged";
/// From this size on a file of which nothing waits is begun anew.
const TIDY_FROM: u64 = 64 * 1024;

/// What was read, as it is delivered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// The text of a code.
    Code(String),
    /// A serial that was typed.
    Serial(String),
}

/// One scan, answered by this gate alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Scan {
    /// Made here, so that the server stores it once however often it is delivered.
    pub id: Uuid,
    /// What was read.
    pub what: What,
    /// The clocks then.
    pub read_at: Reading,
    /// The word that was shown.
    pub answer: Answer,
    /// When the knowledge was last known to be current; none where there was none.
    pub known_at: Option<DateTime<Utc>>,
}

/// One line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// A scan was answered.
    Scan(Scan),
    /// For this delivery the moment was worked out anew; every later try sends the same.
    Moment {
        /// The scan.
        id: Uuid,
        /// When it was read, by a clock that is right.
        happened_at: DateTime<Utc>,
    },
    /// The server has it.
    Delivered {
        /// The scan.
        id: Uuid,
    },
    /// The server will not take it, now or later.
    Refused {
        /// The scan.
        id: Uuid,
        /// The code of the refusal.
        code: String,
    },
}

/// What is in the file.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Contents {
    /// Scans that wait, the oldest first, with the moment that was worked out for them.
    pub waiting: Vec<(Scan, Option<DateTime<Utc>>)>,
    /// Scans that the server refused, with the code of the refusal.
    pub refused: Vec<(Uuid, String)>,
    /// Lines that cannot be read.
    pub damaged: usize,
}

/// The file.
#[derive(Debug, Clone)]
pub struct Queue {
    home: Home,
}

impl Queue {
    /// The queue in a gate's folder.
    pub fn of(home: &Home) -> Self {
        Self { home: home.clone() }
    }

    /// Appends a line; it is on the disk when this returns.
    ///
    /// # Errors
    /// The disk is full, or not ours. What was written of the line by then is damaged, and no other line is.
    pub fn append(&self, line: &Line) -> io::Result<()> {
        self.note(line)?.sync_data()
    }

    /// As [`Queue::append`], without waiting for the disk: for what costs only another try when it is lost.
    ///
    /// # Errors
    /// As [`Queue::append`].
    pub fn note(&self, line: &Line) -> io::Result<File> {
        let _turn = self.home.turn(LOCK)?;
        let mut file = File::options().create(true).append(true).read(true).open(self.home.path(FILE))?;
        let torn = !ends_with_line(&mut file)?;
        let text = written(line)?;
        let text = if torn { format!("\n{text}") } else { text };
        file.write_all(text.as_bytes())?;
        Ok(file)
    }

    /// Reads the file.
    ///
    /// # Errors
    /// It is there and cannot be read.
    pub fn contents(&self) -> io::Result<Contents> {
        let (lines, damaged) = self.lines()?;
        Ok(contents(lines, damaged.len()))
    }

    fn lines(&self) -> io::Result<(Vec<Line>, Vec<Vec<u8>>)> {
        let bytes = match fs::read(self.home.path(FILE)) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
            Err(error) => return Err(error),
        };
        let (mut lines, mut damaged) = (Vec::new(), Vec::new());
        for raw in bytes.split(|byte| *byte == b'\n').filter(|raw| !raw.is_empty()) {
            match read(raw) {
                Some(line) => lines.push(line),
                None => damaged.push(raw.to_vec()),
            }
        }
        Ok((lines, damaged))
    }

    /// Begins a long file anew when nothing in it waits. Refused scans and damaged lines are put aside, never dropped.
    ///
    /// # Errors
    /// The disk is full, or not ours; the file is as it was.
    pub fn tidy(&self) -> io::Result<()> {
        let long = fs::metadata(self.home.path(FILE)).is_ok_and(|file| file.len() >= TIDY_FROM);
        if !long {
            return Ok(());
        }
        let _turn = self.home.turn(LOCK)?;
        let (lines, damaged) = self.lines()?;
        let found = contents(lines.clone(), 0);
        if !found.waiting.is_empty() {
            return Ok(());
        }
        if !damaged.is_empty() {
            let mut aside = File::options().create(true).append(true).open(self.home.path(DAMAGED))?;
            for raw in damaged {
                aside.write_all(&raw)?;
                aside.write_all(b"\n")?;
            }
            aside.sync_data()?;
        }
        let refused: HashSet<Uuid> = found.refused.into_iter().map(|(id, _)| id).collect();
        let mut text = String::new();
        for line in lines.iter().filter(|line| refused.contains(&line.id())) {
            text.push_str(&written(line)?);
        }
        self.home.replace(FILE, &text).map_err(io::Error::other)
    }
}

impl Line {
    fn id(&self) -> Uuid {
        match self {
            Self::Scan(scan) => scan.id,
            Self::Moment { id, .. } | Self::Delivered { id } | Self::Refused { id, .. } => *id,
        }
    }
}

fn written(line: &Line) -> io::Result<String> {
    let json = serde_json::to_string(line)?;
    Ok(format!("{:08x} {json}\n", crc32fast::hash(json.as_bytes())))
}

fn ends_with_line(file: &mut File) -> io::Result<bool> {
    if file.metadata()?.len() == 0 {
        return Ok(true);
    }
    let mut last = [0];
    file.seek(SeekFrom::End(-1))?;
    file.read_exact(&mut last)?;
    Ok(last == *b"\n")
}

fn read(raw: &[u8]) -> Option<Line> {
    let (sum, json) = raw.split_at_checked(9)?;
    let sum = u32::from_str_radix(std::str::from_utf8(sum).ok()?.strip_suffix(' ')?, 16).ok()?;
    if crc32fast::hash(json) != sum {
        return None;
    }
    serde_json::from_slice(json).ok()
}

fn contents(lines: Vec<Line>, damaged: usize) -> Contents {
    let mut found = Contents { damaged, ..Contents::default() };
    let mut settled = HashSet::new();
    for line in lines {
        match line {
            Line::Scan(scan) => found.waiting.push((scan, None)),
            Line::Moment { id, happened_at } => {
                let scan = found.waiting.iter_mut().find(|(scan, _)| scan.id == id);
                if let Some((_, moment)) = scan {
                    *moment = Some(happened_at);
                }
            }
            Line::Delivered { id } => {
                settled.insert(id);
            }
            Line::Refused { id, code } => {
                settled.insert(id);
                found.refused.push((id, code));
            }
        }
    }
    found.waiting.retain(|(scan, _)| !settled.contains(&scan.id));
    found
}
