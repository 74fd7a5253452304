//! The first argument of every handler: who is calling, and that their role allows this operation.

use std::{
    future::{Ready, ready},
    marker::PhantomData,
};

use actix_web::{FromRequest, HttpRequest, dev::Payload, http::header, web::Data};
use chrono::{DateTime, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::{self, Op},
};
use sellion_store::{Actor, ActorKind, PgConnection, StoreError, Tx};
use uuid::Uuid;

use super::token::SignIn;
use crate::{parameters, problem::Problem, state::State};

/// The cookie that holds a person's sign-in token.
pub(crate) const COOKIE: &str = "sellion_session";

/// A signed-in caller whose role allows the operation `O`. No handler reaches the store without one.
///
/// Extraction is synchronous and comes first: actix answers with the first error that is ready, and
/// nobody who is not signed in should learn what is wrong with their body (401 before 400).
pub(crate) struct Caller<O> {
    sign_in: SignIn,
    state: Data<State>,
    /// When the request arrived.
    pub(crate) now: DateTime<Utc>,
    operation: PhantomData<O>,
}

impl<O: Op> FromRequest for Caller<O> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(Self::read(request))
    }
}

impl<O: Op> Caller<O> {
    fn read(request: &HttpRequest) -> Result<Self, Problem> {
        let Some(state) = request.app_data::<Data<State>>() else {
            return Err(StoreError::internal("the server was set up without its state").into());
        };
        let now = state.clock.now();
        let Some(token) = token_of(request) else {
            let sentence = "Sign in first: this needs a session or a device token.";
            return Err(Refusal::new(Code::NotSignedIn, sentence).into());
        };
        let Some(sign_in) = state.tokens.read(&token, now) else {
            return Err(Refusal::new(Code::SessionEnded, "This sign-in has ended: sign in again.").into());
        };
        if !roles::allowed(O::OPERATION, &sign_in.roles) {
            let sentence = "Your role does not include this. Ask whoever manages the users here.";
            return Err(Refusal::new(Code::WrongRole, sentence).into());
        }
        parameters::refuse_unknown(O::OPERATION, request.query_string())?;
        Ok(Self { sign_in, state: state.clone(), now, operation: PhantomData })
    }

    /// What the token said.
    pub(crate) fn sign_in(&self) -> &SignIn {
        &self.sign_in
    }

    /// The caller's site.
    pub(crate) fn site_id(&self) -> Uuid {
        self.sign_in.site
    }

    /// The shared parts of the server.
    pub(crate) fn state(&self) -> &State {
        &self.state
    }

    /// The caller as the store knows actors.
    pub(crate) fn actor(&self) -> Actor {
        let device = self.sign_in.device;
        Actor {
            site_id: self.sign_in.site,
            kind: if device { ActorKind::Device } else { ActorKind::User },
            id: self.sign_in.sub,
            session_id: (!device).then_some(self.sign_in.sid),
        }
    }

    /// One unit of work that writes, audited as this operation.
    pub(crate) async fn write<T, F>(&self, work: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: Fn(&mut Tx<'_>) -> Result<T, StoreError> + Send + 'static,
    {
        Ok(self.state.store.write(&self.actor(), O::OPERATION, self.now, work).await?)
    }

    /// One unit of work that only reads.
    pub(crate) async fn read_store<T, F>(&self, work: F) -> Result<T, Problem>
    where
        T: Send + 'static,
        F: Fn(&mut PgConnection) -> Result<T, StoreError> + Send + 'static,
    {
        Ok(self.state.store.read(&self.actor(), self.now, work).await?)
    }
}

/// Devices send a bearer token; browsers send the cookie. The header wins where both are there.
fn token_of(request: &HttpRequest) -> Option<String> {
    if let Some(value) = request.headers().get(header::AUTHORIZATION) {
        return value.to_str().ok()?.strip_prefix("Bearer ").map(str::to_owned);
    }
    request.cookie(COOKIE).map(|cookie| cookie.value().to_owned())
}
