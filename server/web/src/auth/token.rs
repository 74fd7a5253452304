//! Sign-in tokens: JWTs by which the processor alone, without the database, knows who is calling.
//!
//! Each stands for a row (a session or a device) that can be ended at any time; the unit of work
//! looks at that row again.

use chrono::{DateTime, Utc};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use sellion_rules::roles::Role;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::secret::Secret;

/// Keeps sign-in tokens apart from every other use of JWTs here.
const AUDIENCE: &str = "sellion-sign-in";

/// What a sign-in token says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct SignIn {
    aud: String,
    /// The session of a user, or the device.
    pub(crate) sid: Uuid,
    /// The user, or the device.
    pub(crate) sub: Uuid,
    /// The site.
    pub(crate) site: Uuid,
    /// What they may do.
    pub(crate) roles: Vec<Role>,
    /// A device, not a person.
    pub(crate) device: bool,
    /// The one gate that a gate's device may speak for.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(crate) gate: Option<Uuid>,
    exp: i64,
}

impl SignIn {
    /// A person's session.
    pub(crate) fn user(
        user: Uuid,
        session: Uuid,
        site: Uuid,
        roles: Vec<Role>,
        until: DateTime<Utc>,
    ) -> Self {
        let aud = AUDIENCE.to_owned();
        Self { aud, sid: session, sub: user, site, roles, device: false, gate: None, exp: until.timestamp() }
    }

    /// A device's token.
    pub(crate) fn device(
        device: Uuid,
        site: Uuid,
        role: Role,
        gate: Option<Uuid>,
        until: DateTime<Utc>,
    ) -> Self {
        let aud = AUDIENCE.to_owned();
        let roles = vec![role];
        Self { aud, sid: device, sub: device, site, roles, device: true, gate, exp: until.timestamp() }
    }
}

/// Signs and reads sign-in tokens.
#[derive(Clone)]
pub(crate) struct Tokens {
    encoding: EncodingKey,
    decoding: DecodingKey,
    validation: Validation,
}

impl Tokens {
    pub(crate) fn new(secret: &Secret) -> Self {
        let key = secret.key_for("sign-in tokens");
        let mut validation = Validation::new(Algorithm::HS256);
        validation.set_audience(&[AUDIENCE]);
        // The library would ask the machine's clock; `read` asks ours.
        validation.validate_exp = false;
        validation.required_spec_claims = ["exp", "aud", "sub"].map(str::to_owned).into();
        Self {
            encoding: EncodingKey::from_secret(&key),
            decoding: DecodingKey::from_secret(&key),
            validation,
        }
    }

    pub(crate) fn sign(&self, sign_in: &SignIn) -> anyhow::Result<String> {
        Ok(jsonwebtoken::encode(&Header::new(Algorithm::HS256), sign_in, &self.encoding)?)
    }

    /// The content of a token that is ours and not over.
    pub(crate) fn read(&self, token: &str, now: DateTime<Utc>) -> Option<SignIn> {
        let data = jsonwebtoken::decode::<SignIn>(token, &self.decoding, &self.validation).ok()?;
        (data.claims.exp > now.timestamp()).then_some(data.claims)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::TimeDelta;

    fn at(seconds: i64) -> DateTime<Utc> {
        DateTime::UNIX_EPOCH + TimeDelta::seconds(1_800_000_000 + seconds)
    }

    fn somebody() -> SignIn {
        SignIn::user(Uuid::now_v7(), Uuid::now_v7(), Uuid::now_v7(), vec![Role::Tester], at(60))
    }

    #[test]
    fn a_token_is_read_back_until_its_last_second() {
        let tokens = Tokens::new(&Secret::generate().unwrap());
        let sign_in = somebody();
        let token = tokens.sign(&sign_in).unwrap();
        assert_eq!(tokens.read(&token, at(59)), Some(sign_in));
        assert_eq!(tokens.read(&token, at(60)), None, "RFC 7519 s.4.1.4: not on or after exp");
    }

    #[test]
    fn tokens_of_another_secret_purpose_or_algorithm_are_not_ours() {
        let secret = Secret::generate().unwrap();
        let tokens = Tokens::new(&secret);
        let other = Tokens::new(&Secret::generate().unwrap());
        assert_eq!(tokens.read(&other.sign(&somebody()).unwrap(), at(0)), None);

        let mut elsewhere = somebody();
        elsewhere.aud = "another-purpose".to_owned();
        assert_eq!(tokens.read(&tokens.sign(&elsewhere).unwrap(), at(0)), None);

        let key = EncodingKey::from_secret(&secret.key_for("sign-in tokens"));
        let hs512 = jsonwebtoken::encode(&Header::new(Algorithm::HS512), &somebody(), &key).unwrap();
        assert_eq!(tokens.read(&hs512, at(0)), None);
    }
}
