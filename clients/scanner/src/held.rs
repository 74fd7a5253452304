//! The pack that a gate holds: kept signed, believed only with a signature that is right, and never replaced by an
//! older one.

use std::sync::Arc;

use anyhow::Context as _;
use chrono::{DateTime, Utc};
use sellion_badge::pack::{Current, PackError};
use sellion_badge::{KeyRing, Pack};

use crate::home::Home;

/// The keys under which the pack was accepted, the pack, and the server's word that it is current: a line each. In one
/// file, so that no crash leaves two that do not fit.
const FILE: &str = "pack";
/// A newer word that the pack is current: far smaller than the pack, and written often.
const CURRENT: &str = "current";

/// Why a pack was not taken.
#[derive(Debug, thiserror::Error)]
pub enum NotTaken {
    /// Altered, cut short, signed with a key that is not known.
    #[error(transparent)]
    Pack(#[from] PackError),
    /// The file on the disk does not hold what it held.
    #[error("the file does not hold what was written to it")]
    Damaged,
    /// For another gate.
    #[error("it is for another gate ({0}), and this one is {1}: was the token exchanged?")]
    OtherGate(String, String),
    /// Older than the one held.
    #[error("it is older ({0}) than the one held ({1})")]
    Older(DateTime<Utc>, DateTime<Utc>),
}

/// A genuine pack and when it was last known to be current.
#[derive(Debug, Clone)]
pub struct Held {
    /// The pack.
    pub pack: Arc<Pack>,
    /// The last moment at which the server said that it is current, by the server's clock.
    pub known_at: DateTime<Utc>,
}

impl Held {
    /// The pack on the disk; none before the first.
    ///
    /// # Errors
    /// It is there, and is not what was written.
    pub fn load(home: &Home) -> anyhow::Result<Option<Self>> {
        let Some(text) = home.read(FILE)? else { return Ok(None) };
        let mut held = Self::read(&text).with_context(|| {
            format!(
                "the pack in {} was refused: run \"sellion-gate fetch\" where the server can be reached",
                home.path(FILE).display()
            )
        })?;
        // Of another pack, or torn: then the word that came with the pack is the newest there is.
        if let Some(current) = home.read(CURRENT)?
            && let Ok(at) = current_at(held.pack.keys(), &held.pack, current.trim())
        {
            held.known_at = held.known_at.max(at);
        }
        Ok(Some(held))
    }

    fn read(text: &str) -> Result<Self, NotTaken> {
        let mut lines = text.lines();
        let (Some(trusted), Some(pack), Some(current), None) =
            (lines.next(), lines.next(), lines.next(), lines.next())
        else {
            return Err(NotTaken::Damaged);
        };
        let ring = KeyRing::from_jwks(trusted).map_err(|_| NotTaken::Damaged)?;
        let (pack, known_at) = opened(&ring, pack, current)?;
        Ok(Self { pack, known_at })
    }

    /// Takes a pack that the server sent with its word that it is current, in the place of the one held.
    ///
    /// `keys` are those that the server publishes; without them, those of the pack held.
    ///
    /// # Errors
    /// [`NotTaken`], with nothing changed; or the disk is full.
    pub fn take(
        home: &Home,
        before: Option<&Self>,
        keys: Option<&KeyRing>,
        (text, current): (&str, &str),
    ) -> anyhow::Result<Self> {
        let none = KeyRing::new();
        let ring = keys.or(before.map(|before| before.pack.keys())).unwrap_or(&none);
        let (pack, known_at) = opened(ring, text, current).map_err(NotTaken::from)?;
        if let Some(before) = before {
            if pack.gate() != before.pack.gate() {
                let (new, held) = (pack.gate_name().to_owned(), before.pack.gate_name().to_owned());
                return Err(NotTaken::OtherGate(new, held).into());
            }
            if known_at < before.known_at {
                return Err(NotTaken::Older(known_at, before.known_at).into());
            }
        }
        let trusted = ring.to_jwks().to_string();
        home.replace(FILE, &format!("{trusted}\n{text}\n{current}\n"))?;
        Ok(Self { pack, known_at })
    }

    /// Takes the server's word that the pack held is still current.
    ///
    /// # Errors
    /// [`NotTaken`], with nothing changed; or the disk is full.
    pub fn still(&self, home: &Home, current: &str) -> anyhow::Result<Self> {
        let at = current_at(self.pack.keys(), &self.pack, current).map_err(NotTaken::from)?;
        if at < self.known_at {
            return Err(NotTaken::Older(at, self.known_at).into());
        }
        home.replace(CURRENT, current)?;
        Ok(Self { pack: Arc::clone(&self.pack), known_at: at })
    }
}

/// The pack, and since when it is known. The word that it is current may be signed by a key that only the pack names.
fn opened(ring: &KeyRing, text: &str, current: &str) -> Result<(Arc<Pack>, DateTime<Utc>), PackError> {
    let pack = Pack::open(ring, text)?;
    let at = current_at(pack.keys(), &pack, current)?;
    Ok((Arc::new(pack), at))
}

fn current_at(ring: &KeyRing, pack: &Pack, current: &str) -> Result<DateTime<Utc>, PackError> {
    let current = Current::open(ring, current)?;
    if current.gate != pack.gate() || current.content != pack.content() {
        return Err(PackError::Content("the server's word for another pack, which"));
    }
    Ok(current.at)
}
