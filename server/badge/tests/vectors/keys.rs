//! Keys for test vectors, and signatures that stay as they were published.

use std::collections::BTreeMap;
use std::fs;
use std::sync::{Mutex, OnceLock};

use aws_lc_rs::digest::{SHA256, digest};
use aws_lc_rs::rand::SystemRandom;
use aws_lc_rs::signature::{ECDSA_P256_SHA256_FIXED_SIGNING, EcdsaKeyPair, KeyPair as _};
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use sellion_badge::VerifyingKey;
use serde_json::{Value, json};

/// A P-256 key in PKCS#8 (RFC 5958, RFC 5915) up to the 32 bytes of its private half.
const PKCS8_HEAD: &[u8] = &[
    0x30, 0x41, 0x02, 0x01, 0x00, 0x30, 0x13, 0x06, 0x07, 0x2a, 0x86, 0x48, 0xce, 0x3d, 0x02, 0x01, 0x06,
    0x08, 0x2a, 0x86, 0x48, 0xce, 0x3d, 0x03, 0x01, 0x07, 0x04, 0x27, 0x30, 0x25, 0x02, 0x01, 0x01, 0x04,
    0x20,
];

/// A key whose private half anybody can work out from its name.
pub(crate) struct TestKey {
    secret: [u8; 32],
    pair: EcdsaKeyPair,
    public: VerifyingKey,
}

impl TestKey {
    /// The private half is the SHA-256 of the name.
    pub(crate) fn named(name: &str) -> Self {
        let secret: [u8; 32] = digest(&SHA256, name.as_bytes()).as_ref().try_into().unwrap();
        let der = [PKCS8_HEAD, &secret].concat();
        let pair = EcdsaKeyPair::from_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, &der).unwrap();
        let public = VerifyingKey::from_point(pair.public_key().as_ref()).unwrap();
        Self { secret, pair, public }
    }

    pub(crate) fn one() -> Self {
        Self::named("Sellion test vectors, key one: not a secret")
    }

    pub(crate) fn two() -> Self {
        Self::named("Sellion test vectors, key two: not a secret")
    }

    pub(crate) fn kid(&self) -> &str {
        self.public.kid()
    }

    /// The uncompressed point: `04 | x | y`.
    pub(crate) fn point(&self) -> &[u8] {
        self.pair.public_key().as_ref()
    }

    fn jwk(&self) -> Value {
        let coordinate = |bytes: &[u8]| URL_SAFE_NO_PAD.encode(bytes);
        json!({
            "kty": "EC", "crv": "P-256", "use": "sig", "alg": "ES256", "kid": self.kid(),
            "x": coordinate(&self.point()[1..33]), "y": coordinate(&self.point()[33..]),
        })
    }

    /// A JWT of any header and payload; `KID` in the header stands for this key's id.
    ///
    /// Every signature of ES256 is another one, so the published one is taken again where it is this key's over the
    /// very same text, and one made now is used wherever that text stands.
    pub(crate) fn jwt(&self, header: &str, payload: &str) -> String {
        static MADE: Mutex<BTreeMap<String, String>> = Mutex::new(BTreeMap::new());
        let header = URL_SAFE_NO_PAD.encode(header.replace("KID", self.kid()));
        let message = format!("{header}.{}", URL_SAFE_NO_PAD.encode(payload));
        let mut made = MADE.lock().unwrap();
        let signature = made
            .entry(format!("{} {message}", self.kid()))
            .or_insert_with(|| self.published(&message).unwrap_or_else(|| self.sign(&message)));
        format!("{message}.{signature}")
    }

    fn published(&self, message: &str) -> Option<String> {
        let begins = format!("\"{message}.");
        let mut signatures = published().match_indices(&begins).map(|(place, _)| {
            let rest = &published()[place + begins.len()..];
            &rest[..rest.find('"').unwrap_or(0)]
        });
        signatures.find(|signature| self.public.accepts(message, signature)).map(str::to_owned)
    }

    fn sign(&self, message: &str) -> String {
        let signature = self.pair.sign(&SystemRandom::new(), message.as_bytes()).unwrap();
        URL_SAFE_NO_PAD.encode(signature)
    }
}

/// The text of the published files that hold tokens.
fn published() -> &'static str {
    static TEXT: OnceLock<String> = OnceLock::new();
    TEXT.get_or_init(|| {
        let read = |name: &str| fs::read_to_string(crate::path(name)).unwrap_or_default();
        read("badges.json") + &read("status-lists.json")
    })
}

/// Both keys as a JWK Set (RFC 7517 section 5), in the order of their ids.
pub(crate) fn jwks() -> Value {
    let mut keys = [TestKey::one().jwk(), TestKey::two().jwk()];
    keys.sort_by_key(|key| key["kid"].to_string());
    json!({ "keys": keys })
}

/// The private halves, for whoever wants to make vectors of their own.
pub(crate) fn private() -> Value {
    let of = |key: TestKey| json!({ "kid": key.kid(), "d": URL_SAFE_NO_PAD.encode(key.secret) });
    json!([of(TestKey::one()), of(TestKey::two())])
}
