//! P-256 keys of the badge issuer: one to sign with, a ring to verify with, and the ring as a JWK Set.
//!
//! A key's id is the first eight characters of its RFC 7638 thumbprint: short enough for a printed code, and
//! never typed or chosen by anybody. A ring refuses a second key with the same id.

use std::collections::BTreeMap;
use std::fmt;

use aws_lc_rs::rand::SystemRandom;
use aws_lc_rs::signature::{
    ECDSA_P256_SHA256_FIXED, ECDSA_P256_SHA256_FIXED_SIGNING, EcdsaKeyPair, KeyPair as _, ParsedPublicKey,
};
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use jsonwebtoken::jwk::{Jwk, ThumbprintHash};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, crypto};
use serde::{Deserialize, Serialize};

/// Characters of the thumbprint that make a key id: 48 bits, plenty to tell an issuer's few keys apart.
const KID_LENGTH: usize = 8;
/// Bytes of one coordinate of a P-256 point (RFC 7518 section 6.2.1.2).
const COORDINATE: usize = 32;
/// What an uncompressed point starts with (SEC 1 section 2.3.3).
const UNCOMPRESSED: u8 = 4;

/// Why key material was refused. Never holds any of it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KeyError {
    /// The system gave no random numbers.
    #[error("no key could be generated")]
    Generate,
    /// Not a P-256 private key in PKCS#8.
    #[error("not a P-256 private key in PKCS#8 form")]
    Private,
    /// Not a point of P-256.
    #[error("not a P-256 public key")]
    Public,
    /// Not a JWK Set (RFC 7517 section 5).
    #[error("not a JWK Set")]
    Set,
    /// A key of a set does not have the id that follows from it.
    #[error("the key called {0:?} has another thumbprint")]
    Kid(String),
    /// Two different keys with the same id.
    #[error("the ring already holds another key called {0:?}")]
    KidTaken(String),
}

/// A private P-256 key. `Debug` shows its id and nothing else.
#[derive(Clone)]
pub struct SigningKey {
    pkcs8: Vec<u8>,
    encoding: EncodingKey,
    public: VerifyingKey,
}

impl SigningKey {
    /// A new key from the system's random numbers.
    ///
    /// # Errors
    /// [`KeyError::Generate`] if the system has none to give.
    pub fn generate() -> Result<Self, KeyError> {
        let document = EcdsaKeyPair::generate_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, &SystemRandom::new())
            .map_err(|_| KeyError::Generate)?;
        Self::from_pkcs8_der(document.as_ref())
    }

    /// Reads a key stored by [`Self::to_pkcs8_der`] or made by another program.
    ///
    /// # Errors
    /// [`KeyError::Private`] for anything but a P-256 key in PKCS#8 DER.
    pub fn from_pkcs8_der(der: &[u8]) -> Result<Self, KeyError> {
        let pair =
            EcdsaKeyPair::from_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, der).map_err(|_| KeyError::Private)?;
        let public = VerifyingKey::from_point(pair.public_key().as_ref())?;
        Ok(Self { pkcs8: der.to_vec(), encoding: EncodingKey::from_ec_der(der), public })
    }

    /// The secret key as PKCS#8 DER. Encrypt it before it is stored anywhere.
    pub fn to_pkcs8_der(&self) -> &[u8] {
        &self.pkcs8
    }

    /// The id that tokens signed with this key name.
    pub fn kid(&self) -> &str {
        self.public.kid()
    }

    /// The public half.
    pub fn verifying_key(&self) -> &VerifyingKey {
        &self.public
    }

    /// The signature over a signing input, in base64url; `None` if the crypto library cannot make one.
    pub(crate) fn sign(&self, signing_input: &str) -> Option<String> {
        crypto::sign(signing_input.as_bytes(), &self.encoding, Algorithm::ES256).ok()
    }
}

impl fmt::Debug for SigningKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("SigningKey").field("kid", &self.kid()).finish_non_exhaustive()
    }
}

/// A public P-256 key.
#[derive(Clone)]
pub struct VerifyingKey {
    kid: String,
    x: String,
    y: String,
    decoding: DecodingKey,
}

impl VerifyingKey {
    /// A key from its coordinates in base64url, as a JWK carries them (RFC 7518 section 6.2.1).
    ///
    /// # Errors
    /// [`KeyError::Public`] unless they are 32 bytes each and a point of the curve.
    pub fn from_coordinates(x: &str, y: &str) -> Result<Self, KeyError> {
        let mut point = vec![UNCOMPRESSED];
        for coordinate in [x, y] {
            let bytes = URL_SAFE_NO_PAD.decode(coordinate).map_err(|_| KeyError::Public)?;
            if bytes.len() != COORDINATE {
                return Err(KeyError::Public);
            }
            point.extend(bytes);
        }
        Self::from_point(&point)
    }

    /// A key from an uncompressed point: `04 | x | y`, 65 bytes.
    ///
    /// # Errors
    /// [`KeyError::Public`] unless the bytes are a point of the curve in that form.
    pub fn from_point(point: &[u8]) -> Result<Self, KeyError> {
        if point.len() != 1 + 2 * COORDINATE || point.first() != Some(&UNCOMPRESSED) {
            return Err(KeyError::Public);
        }
        ParsedPublicKey::new(&ECDSA_P256_SHA256_FIXED, point).map_err(|_| KeyError::Public)?;
        let (x, y) = point[1..].split_at(COORDINATE);
        let decoding = DecodingKey::from_ec_der(point);
        let thumbprint = Jwk::from_decoding_key(&decoding, Some(Algorithm::ES256))
            .and_then(|jwk| jwk.thumbprint(ThumbprintHash::SHA256))
            .map_err(|_| KeyError::Public)?;
        let kid = thumbprint.chars().take(KID_LENGTH).collect();
        Ok(Self { kid, x: URL_SAFE_NO_PAD.encode(x), y: URL_SAFE_NO_PAD.encode(y), decoding })
    }

    /// The id that follows from the key.
    pub fn kid(&self) -> &str {
        &self.kid
    }

    /// True if `signature` (base64url of R and S, RFC 7518 section 3.4) is this key's over the signing input.
    pub fn accepts(&self, signing_input: &str, signature: &str) -> bool {
        crypto::verify(signature, signing_input.as_bytes(), &self.decoding, Algorithm::ES256).unwrap_or(false)
    }

    fn same_point(&self, other: &Self) -> bool {
        self.x == other.x && self.y == other.y
    }
}

impl fmt::Debug for VerifyingKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("VerifyingKey").field("kid", &self.kid).finish_non_exhaustive()
    }
}

/// The keys a verifier accepts, by id.
#[derive(Debug, Clone, Default)]
pub struct KeyRing {
    keys: BTreeMap<String, VerifyingKey>,
}

/// One key of a JWK Set (RFC 7517 section 4). Members of other kinds of key are absent.
#[derive(Serialize, Deserialize)]
struct WireKey {
    kty: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    crv: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    x: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    y: Option<String>,
    #[serde(default, rename = "use", skip_serializing_if = "Option::is_none")]
    purpose: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    alg: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    kid: Option<String>,
}

#[derive(Serialize, Deserialize)]
struct WireSet<T> {
    keys: Vec<T>,
}

impl KeyRing {
    /// A ring without keys: it refuses every token.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a key; adding the same key again changes nothing.
    ///
    /// # Errors
    /// [`KeyError::KidTaken`] if another key has its id.
    pub fn insert(&mut self, key: VerifyingKey) -> Result<(), KeyError> {
        match self.keys.get(key.kid()) {
            Some(held) if !held.same_point(&key) => Err(KeyError::KidTaken(key.kid)),
            _ => {
                self.keys.insert(key.kid.clone(), key);
                Ok(())
            }
        }
    }

    /// The key with that id.
    pub fn get(&self, kid: &str) -> Option<&VerifyingKey> {
        self.keys.get(kid)
    }

    /// How many keys the ring holds.
    pub fn len(&self) -> usize {
        self.keys.len()
    }

    /// True without any key.
    pub fn is_empty(&self) -> bool {
        self.keys.is_empty()
    }

    /// The ring as a JWK Set (RFC 7517 section 5), in the order of the key ids.
    pub fn to_jwks(&self) -> serde_json::Value {
        let keys: Vec<_> = self.keys.values().map(public_jwk).collect();
        serde_json::json!({ "keys": keys })
    }

    /// Reads a JWK Set. Keys of another kind, curve, use or algorithm are passed over, as RFC 7517 section 5
    /// asks; a P-256 key that is wrong is an error.
    ///
    /// # Errors
    /// [`KeyError`] if it is no set, or one of its P-256 keys is no key, misnamed, or clashes with another.
    pub fn from_jwks(json: &str) -> Result<Self, KeyError> {
        let set: WireSet<serde_json::Value> = serde_json::from_str(json).map_err(|_| KeyError::Set)?;
        let mut ring = Self::new();
        for value in set.keys {
            let Ok(wire) = serde_json::from_value::<WireKey>(value) else { continue };
            if !is_es256(&wire) {
                continue;
            }
            let (Some(x), Some(y)) = (wire.x, wire.y) else { return Err(KeyError::Public) };
            let key = VerifyingKey::from_coordinates(&x, &y)?;
            match wire.kid {
                Some(kid) if kid != key.kid => return Err(KeyError::Kid(kid)),
                _ => ring.insert(key)?,
            }
        }
        Ok(ring)
    }
}

fn is_es256(wire: &WireKey) -> bool {
    wire.kty == "EC"
        && wire.crv.as_deref() == Some("P-256")
        && wire.purpose.as_deref().is_none_or(|purpose| purpose == "sig")
        && wire.alg.as_deref().is_none_or(|alg| alg == "ES256")
}

fn public_jwk(key: &VerifyingKey) -> WireKey {
    WireKey {
        kty: "EC".to_owned(),
        crv: Some("P-256".to_owned()),
        x: Some(key.x.clone()),
        y: Some(key.y.clone()),
        purpose: Some("sig".to_owned()),
        alg: Some("ES256".to_owned()),
        kid: Some(key.kid.clone()),
    }
}
