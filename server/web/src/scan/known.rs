//! Codes whose signature was verified before, so that a badge seen again costs no signature check.
//!
//! Only that a code is genuine is remembered, together with the keys it was verified under. Whether the badge
//! ended, expired or is cleared is asked at every scan.

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError},
};

use sellion_badge::Serial;
use uuid::Uuid;

/// Codes in one generation; two are held. A hundred thousand badges fit, in about twenty megabytes.
const GENERATION_MAX: usize = 65_536;

type Key = (Uuid, [u8; 32]);

#[derive(Clone)]
struct Verified {
    serial: Serial,
    keys: Arc<str>,
}

/// Verified codes: the newer generation, and the older one, which goes when the newer is full.
#[derive(Default)]
pub(crate) struct KnownCodes {
    generations: Mutex<(HashMap<Key, Verified>, HashMap<Key, Verified>)>,
}

impl KnownCodes {
    /// The serial of a code that was verified at this site under these very keys.
    pub(crate) fn serial(&self, site_id: Uuid, digest: &[u8; 32], keys: &str) -> Option<Serial> {
        let mut generations = self.generations.lock().unwrap_or_else(PoisonError::into_inner);
        let key = (site_id, *digest);
        if let Some(found) = generations.0.get(&key) {
            return (*found.keys == *keys).then_some(found.serial);
        }
        let found = generations.1.remove(&key).filter(|found| *found.keys == *keys)?;
        let serial = found.serial;
        add(&mut generations, key, found);
        Some(serial)
    }

    pub(crate) fn remember(&self, site_id: Uuid, digest: [u8; 32], serial: Serial, keys: Arc<str>) {
        let mut generations = self.generations.lock().unwrap_or_else(PoisonError::into_inner);
        add(&mut generations, (site_id, digest), Verified { serial, keys });
    }
}

fn add(generations: &mut (HashMap<Key, Verified>, HashMap<Key, Verified>), key: Key, verified: Verified) {
    if generations.0.len() >= GENERATION_MAX {
        generations.1 = std::mem::take(&mut generations.0);
    }
    generations.0.insert(key, verified);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn digest(number: usize) -> [u8; 32] {
        let mut digest = [0; 32];
        digest[..8].copy_from_slice(&number.to_be_bytes());
        digest
    }

    #[test]
    fn a_code_is_known_at_its_site_and_under_its_keys_only() {
        let known = KnownCodes::default();
        let (site, elsewhere) = (Uuid::now_v7(), Uuid::now_v7());
        let serial = Serial::from_number(7).unwrap();
        known.remember(site, digest(1), serial, "a b".into());
        assert_eq!(known.serial(site, &digest(1), "a b"), Some(serial));
        assert_eq!(known.serial(site, &digest(1), "b"), None, "a key was retired");
        assert_eq!(known.serial(elsewhere, &digest(1), "a b"), None);
        assert_eq!(known.serial(site, &digest(2), "a b"), None);
    }

    #[test]
    fn what_is_used_stays_and_memory_is_bounded() {
        let known = KnownCodes::default();
        let site = Uuid::now_v7();
        let serial = Serial::from_number(7).unwrap();
        for number in 0..3 * GENERATION_MAX {
            known.remember(site, digest(number), serial, "a".into());
            if number % 1000 == 0 {
                assert!(known.serial(site, &digest(0), "a").is_some(), "in use, after {number}");
            }
        }
        assert_eq!(known.serial(site, &digest(1), "a"), None);
        let generations = known.generations.lock().unwrap();
        assert!(generations.0.len() + generations.1.len() <= 2 * GENERATION_MAX);
    }
}
