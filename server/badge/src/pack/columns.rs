//! The columns of a pack: values by the index of a badge, as bytes in base64url.

use std::io::{Read as _, Write as _};
use std::sync::OnceLock;

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::{DateTime, Utc};
use flate2::{Compression, read::ZlibDecoder, write::ZlibEncoder};
use sellion_rules::gate::BadgeStatus;
use serde::{Deserialize, Serialize};

use super::PackError;
use crate::serial::Serial;

/// Bytes of one serial's number: 29^9 lies below 2^48.
const SERIAL: usize = 6;
/// Bytes of one last moment, in seconds since 1970.
const END: usize = 4;
/// Badges in one pack at most; more is a mistake or an attack.
pub(super) const BADGES_MAX: usize = 4_000_000;

/// A column of bytes in base64url, deflated or not, undone when first asked for.
#[derive(Debug, Default)]
pub(super) struct Column {
    bytes: OnceLock<Vec<u8>>,
}

impl Column {
    /// The bytes of a column, when there are exactly as many as expected.
    pub(super) fn deflated(&self, text: &str, length: usize) -> Result<&[u8], PackError> {
        self.undone(|| inflate(text, length))
    }

    fn plain(&self, text: &str, length: usize) -> Result<&[u8], PackError> {
        self.undone(|| URL_SAFE_NO_PAD.decode(text).ok().filter(|bytes| bytes.len() == length))
    }

    fn undone(&self, undo: impl FnOnce() -> Option<Vec<u8>>) -> Result<&[u8], PackError> {
        if let Some(bytes) = self.bytes.get() {
            return Ok(bytes);
        }
        let bytes = undo().ok_or(PackError::Content("a column"))?;
        Ok(self.bytes.get_or_init(|| bytes))
    }
}

/// Deflates bytes (RFC 1950) into base64url.
pub(super) fn deflate(bytes: &[u8]) -> String {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    // Writing to memory does not fail.
    let packed = encoder.write_all(bytes).and_then(|()| encoder.finish()).unwrap_or_default();
    URL_SAFE_NO_PAD.encode(packed)
}

/// Never more than one byte over what is expected, however much a false column would inflate to.
fn inflate(text: &str, length: usize) -> Option<Vec<u8>> {
    let packed = URL_SAFE_NO_PAD.decode(text).ok()?;
    let mut bytes = Vec::with_capacity(length);
    let most = u64::try_from(length).ok()?.checked_add(1)?;
    ZlibDecoder::new(&packed[..]).take(most).read_to_end(&mut bytes).ok()?;
    (bytes.len() == length).then_some(bytes)
}

/// What is known of every badge of the site, by its index in the status list. The same in the packs of all gates.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BadgeColumns {
    pub(super) count: usize,
    serials: String,
    ends: String,
    /// Two bits each, laid out as in a status list: 0 counts, 1 ended, 2 held.
    standings: String,
    /// From when on a badge opens no gate because nobody handed it over, as `ends`; 0 for never. Left out where the site
    /// lets such badges in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    unclaimed: Option<String>,
}

impl BadgeColumns {
    /// The columns of badges given by index: serial, last moment, and what its stored status is. An index may be
    /// missing.
    pub fn of(badges: impl IntoIterator<Item = (usize, Serial, DateTime<Utc>, BadgeStatus)>) -> Self {
        let (mut serials, mut ends, mut standings) = (Vec::new(), Vec::new(), Vec::new());
        let mut count = 0;
        for (index, serial, expires_at, status) in badges.into_iter().filter(|badge| badge.0 < BADGES_MAX) {
            if index >= count {
                count = index + 1;
                // No serial has this number, so an index that is missing is no badge.
                serials.resize(count * SERIAL, 0xff);
                ends.resize(count * END, 0);
                standings.resize(count.div_ceil(4), 0);
            }
            serials[index * SERIAL..][..SERIAL].copy_from_slice(&number(serial));
            // Every badge ends before 2106, when these four bytes are full.
            let end = u32::try_from(expires_at.timestamp()).unwrap_or(u32::MAX);
            ends[index * END..][..END].copy_from_slice(&end.to_be_bytes());
            let standing = match status {
                // That nobody handed it over has a moment of its own: see `with_unclaimed`.
                BadgeStatus::Valid | BadgeStatus::Unclaimed => 0,
                BadgeStatus::Ended | BadgeStatus::Replaced => 1,
                BadgeStatus::Held => 2,
            };
            standings[index / 4] |= standing << (index % 4 * 2);
        }
        Self {
            count,
            serials: URL_SAFE_NO_PAD.encode(serials),
            ends: deflate(&ends),
            standings: deflate(&standings),
            unclaimed: None,
        }
    }

    /// The same with the moments from which on badges open no gate, by index.
    #[must_use]
    pub fn with_unclaimed(self, from: impl IntoIterator<Item = (usize, DateTime<Utc>)>) -> Self {
        let mut moments = vec![0; self.count * END];
        for (index, from) in from.into_iter().filter(|(index, _)| *index < self.count) {
            // Never 0, which is for never.
            let from = u32::try_from(from.timestamp()).unwrap_or(u32::MAX).max(1);
            moments[index * END..][..END].copy_from_slice(&from.to_be_bytes());
        }
        Self { unclaimed: Some(deflate(&moments)), ..self }
    }

    /// How many indexes there are.
    pub fn count(&self) -> usize {
        self.count
    }
}

fn number(serial: Serial) -> [u8; SERIAL] {
    let [_, _, number @ ..] = serial.number().to_be_bytes();
    number
}

/// The columns of an opened pack.
#[derive(Debug, Default)]
pub(super) struct Opened {
    serials: Column,
    ends: Column,
    standings: Column,
    unclaimed: Column,
}

impl Opened {
    /// The index of a serial. The column is read from end to end: it is asked for serials that are typed by hand.
    pub(super) fn index_of(&self, of: &BadgeColumns, serial: Serial) -> Result<Option<usize>, PackError> {
        let wanted = number(serial);
        Ok(self.serials(of)?.chunks_exact(SERIAL).position(|number| number == wanted))
    }

    /// Whether the badge with this index has this serial.
    pub(super) fn is(&self, of: &BadgeColumns, index: usize, serial: Serial) -> Result<bool, PackError> {
        let wanted = number(serial);
        Ok(self.serials(of)?.chunks_exact(SERIAL).nth(index).is_some_and(|number| number == wanted))
    }

    fn serials(&self, of: &BadgeColumns) -> Result<&[u8], PackError> {
        self.serials.plain(&of.serials, of.count * SERIAL)
    }

    /// The first moment at which the badge no longer holds.
    pub(super) fn end(&self, of: &BadgeColumns, index: usize) -> Result<DateTime<Utc>, PackError> {
        let ends = self.ends.deflated(&of.ends, of.count * END)?;
        Ok(moment_at(ends, index).unwrap_or_default())
    }

    /// From when on the badge opens no gate because nobody handed it over.
    pub(super) fn unclaimed_from(
        &self,
        of: &BadgeColumns,
        index: usize,
    ) -> Result<Option<DateTime<Utc>>, PackError> {
        let Some(text) = &of.unclaimed else { return Ok(None) };
        let moments = self.unclaimed.deflated(text, of.count * END)?;
        Ok(moment_at(moments, index))
    }

    /// What the stored status of the badge is; a replaced badge is an ended one here.
    pub(super) fn status(&self, of: &BadgeColumns, index: usize) -> Result<BadgeStatus, PackError> {
        let standings = self.standings.deflated(&of.standings, of.count.div_ceil(4))?;
        let four = standings.get(index / 4).copied().unwrap_or(0x55);
        match four >> (index % 4 * 2) & 3 {
            0 => Ok(BadgeStatus::Valid),
            1 => Ok(BadgeStatus::Ended),
            2 => Ok(BadgeStatus::Held),
            _ => Err(PackError::Content("the standing of a badge")),
        }
    }
}

/// The moment of a badge in a column of them; none where it is 0.
fn moment_at(column: &[u8], index: usize) -> Option<DateTime<Utc>> {
    let bytes = column.get(index * END..)?.first_chunk::<END>()?;
    let seconds = u32::from_be_bytes(*bytes);
    DateTime::from_timestamp(seconds.into(), 0).filter(|_| seconds > 0)
}
