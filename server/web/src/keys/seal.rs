//! Sealing of private keys: AES-256-GCM under a key that the database never sees.
//!
//! The sealed form is `version (1 byte) | nonce (12 bytes) | ciphertext and tag`. The key's id is the
//! associated data, so that a sealed key put into another key's row does not open.

use aws_lc_rs::aead::{AES_256_GCM, Aad, NONCE_LEN, Nonce, RandomizedNonceKey};

/// Marks the sealed form, so that a later form can tell.
const FORM: u8 = 1;

/// Seals and opens.
pub(super) struct Seal(RandomizedNonceKey);

/// Why something could not be sealed or opened. Says nothing of what was inside.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct SealError;

impl Seal {
    pub(super) fn new(key: &[u8; 32]) -> Result<Self, SealError> {
        RandomizedNonceKey::new(&AES_256_GCM, key).map(Self).map_err(|_| SealError)
    }

    pub(super) fn seal(&self, kid: &str, plain: &[u8]) -> Result<Vec<u8>, SealError> {
        let mut sealed = plain.to_vec();
        let nonce = self.0.seal_in_place_append_tag(Aad::from(kid), &mut sealed).map_err(|_| SealError)?;
        let mut whole = vec![FORM];
        whole.extend_from_slice(nonce.as_ref());
        whole.append(&mut sealed);
        Ok(whole)
    }

    pub(super) fn open(&self, kid: &str, whole: &[u8]) -> Result<Vec<u8>, SealError> {
        let (form, rest) = whole.split_first().ok_or(SealError)?;
        let (nonce, sealed) = rest.split_first_chunk::<NONCE_LEN>().ok_or(SealError)?;
        if *form != FORM {
            return Err(SealError);
        }
        let mut opened = sealed.to_vec();
        let plain = self
            .0
            .open_in_place(Nonce::assume_unique_for_key(*nonce), Aad::from(kid), &mut opened)
            .map_err(|_| SealError)?;
        Ok(plain.to_vec())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_sealed_opens_under_the_same_key_and_name_only() {
        let seal = Seal::new(&[7; 32]).unwrap();
        let sealed = seal.seal("kid-a", b"a private key").unwrap();
        assert_eq!(seal.open("kid-a", &sealed).unwrap(), b"a private key");
        assert_eq!(seal.open("kid-b", &sealed), Err(SealError), "moved to another row");
        assert_eq!(Seal::new(&[8; 32]).unwrap().open("kid-a", &sealed), Err(SealError), "another secret");
        for place in 0..sealed.len() {
            let mut altered = sealed.clone();
            altered[place] ^= 1;
            assert_eq!(seal.open("kid-a", &altered), Err(SealError), "byte {place} altered");
            assert_eq!(seal.open("kid-a", &sealed[..place]), Err(SealError), "cut at {place}");
        }
    }

    #[test]
    fn nothing_of_the_key_shows_and_no_nonce_comes_twice() {
        let seal = Seal::new(&[7; 32]).unwrap();
        let (one, two) =
            (seal.seal("k", b"a private key").unwrap(), seal.seal("k", b"a private key").unwrap());
        assert_ne!(one, two);
        assert!(!one.windows(7).any(|part| part == b"private"));
    }
}
