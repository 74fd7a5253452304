//! What all handlers share.

use sellion_store::Store;

use crate::{auth::Tokens, clock::Clock, secret::Secret};

/// The shared parts of the server.
pub(crate) struct State {
    pub(crate) store: Store,
    pub(crate) clock: Clock,
    pub(crate) tokens: Tokens,
    pub(crate) secret: Secret,
    /// Whether browsers reach the server by TLS, so that the cookie may insist on it.
    pub(crate) secure_cookie: bool,
}

impl State {
    pub(crate) fn new(store: Store, clock: Clock, secret: Secret, secure_cookie: bool) -> Self {
        Self { tokens: Tokens::new(&secret), store, clock, secret, secure_cookie }
    }
}
