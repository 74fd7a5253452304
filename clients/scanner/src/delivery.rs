//! Fetching the pack and delivering the scans: what a gate does whenever it reaches the server.

use std::io;

use anyhow::{Context as _, bail};
use chrono::{DateTime, Utc};
use sellion_badge::TokenError;
use sellion_badge::pack::PackError;

use crate::gate::Gate;
use crate::held::{Held, NotTaken};
use crate::queue::{Line, Scan};
use crate::server::{Fetched, Outcome, Server};

/// One delivery at a time, whatever runs at this gate.
const TURN: &str = "delivery.lock";

/// What became of a delivery.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub struct Delivered {
    /// Scans that the server has now.
    pub stored: usize,
    /// Scans that it will never take.
    pub refused: usize,
}

/// Fetches the pack, or the server's word that the one held is current, and compares the clocks.
///
/// # Errors
/// The server is not reached or refuses, or what it sent cannot be taken; the pack held stays.
pub fn fetch(gate: &Gate, server: &Server) -> anyhow::Result<()> {
    let held = gate.held();
    let fetched = server.fetch(held.as_ref().map(|held| held.pack.content()))?;
    let new = match (fetched, held) {
        (Fetched::Same { current }, Some(held)) => held
            .still(&gate.home, &current)
            .context("the server's word that the pack is current was refused")?,
        (Fetched::Same { .. }, None) => bail!("the server speaks of a pack that this gate does not hold"),
        (Fetched::New { text, current }, held) => {
            take(gate, server, held.as_ref(), (text.trim_end(), &current))?
        }
    };
    let known_at = new.known_at;
    gate.hold(Some(new));
    let mark = gate.look_at_clock().met_server(known_at);
    gate.remember(&mark);
    Ok(())
}

/// A key that is not known may be one that was made since: the server publishes them.
fn take(gate: &Gate, server: &Server, held: Option<&Held>, sent: (&str, &str)) -> anyhow::Result<Held> {
    let published = match held {
        None => Some(server.keys()?),
        Some(_) => None,
    };
    let refused = "the pack that the server sent was refused";
    match Held::take(&gate.home, held, published.as_ref(), sent) {
        Err(error) if published.is_none() && is_unknown_key(&error) => {
            Held::take(&gate.home, held, Some(&server.keys()?), sent).context(refused)
        }
        taken => taken.context(refused),
    }
}

fn is_unknown_key(error: &anyhow::Error) -> bool {
    matches!(
        error.downcast_ref::<NotTaken>(),
        Some(NotTaken::Pack(PackError::Signed(TokenError::UnknownKey)))
    )
}

/// Delivers what waits, the oldest first, until nothing waits or the server is gone.
///
/// # Errors
/// The server was not reached, or the file of scans cannot be used; what was delivered by then is settled.
pub fn deliver(gate: &Gate, server: &Server) -> anyhow::Result<Delivered> {
    let mut delivered = Delivered::default();
    let Some(held) = gate.held() else { return Ok(delivered) };
    let Some(_turn) = gate.home.turn_if_free(TURN)? else { return Ok(delivered) };
    for (scan, moment) in gate.queue.contents()?.waiting {
        let happened_at = match moment {
            Some(moment) => moment,
            None => moment_of(gate, &scan)?,
        };
        let id = scan.id;
        // A line that is lost here costs one more delivery, which the server recognises by its id.
        match server.deliver(held.pack.gate(), &scan, happened_at)? {
            Outcome::Stored => {
                gate.queue.note(&Line::Delivered { id })?;
                delivered.stored += 1;
            }
            Outcome::Refused(code) => {
                gate.queue.append(&Line::Refused { id, code })?;
                delivered.refused += 1;
            }
        }
    }
    gate.queue.tidy()?;
    Ok(delivered)
}

/// When the badge was read. A moment that was worked out is kept before it is sent, so that every try sends the same.
fn moment_of(gate: &Gate, scan: &Scan) -> io::Result<DateTime<Utc>> {
    let Some(happened_at) = gate.look_at_clock().worked_out(&scan.read_at) else {
        return Ok(scan.read_at.wall);
    };
    gate.queue.append(&Line::Moment { id: scan.id, happened_at })?;
    Ok(happened_at)
}
