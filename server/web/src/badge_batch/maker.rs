//! Goes on with open batches, on every server: whichever is there makes the next badge, so a batch outlives any of them.

use std::{collections::HashMap, sync::Arc, time::Duration};

use actix_web::web::Data;
use sellion_rules::{badge::LeftOut, roles::Operation};
use sellion_store::{
    Actor, StoreError, Tx,
    badge::{self, NewBadge},
    badge_batch::{self, Made, Next},
};
use tokio::sync::Notify;
use uuid::Uuid;

use crate::{badge::issue, state::State};

/// How often a server looks for batches that another one began and did not end.
const LOOK_EVERY: Duration = Duration::from_secs(2);
/// How soon it looks again for what another server is at.
const TAKEN: Duration = Duration::from_millis(50);
/// How often one badge is tried before its person is left out.
const TRIES_MAX: u32 = 3;

/// Wakes the maker of this server when a batch is asked for here.
#[derive(Default)]
pub(crate) struct Wake(Arc<Notify>);

impl Wake {
    pub(crate) fn now(&self) {
        self.0.notify_one();
    }
}

/// Makes badges of open batches one after another, for as long as the server runs. What fails is tried again later.
pub(crate) async fn run(state: Data<State>) {
    let mut tries: HashMap<(Uuid, i32), u32> = HashMap::new();
    loop {
        let wait = match one(&state, &mut tries).await {
            Ok(Some(Made::Decided)) => continue,
            Ok(Some(Made::Taken)) => TAKEN,
            Ok(None) => LOOK_EVERY,
            Err(error) => {
                tracing::warn!(%error, "a badge of a batch could not be made: tried again");
                LOOK_EVERY
            }
        };
        // Whichever comes first.
        let _ = tokio::time::timeout(wait, state.batches.0.notified()).await;
    }
}

/// Makes the next badge; nothing where no batch is open.
async fn one(state: &Data<State>, tries: &mut HashMap<(Uuid, i32), u32>) -> Result<Option<Made>, StoreError> {
    let Some(next) = state.store.run(badge_batch::next).await? else {
        tries.clear();
        return Ok(None);
    };
    let made = make(state, next).await;
    if let Err(StoreError::Internal(_) | StoreError::Refused(_)) = made {
        let tried = tries.entry((next.batch_id, next.seq)).or_default();
        *tried += 1;
        if *tried >= TRIES_MAX {
            tracing::error!(batch = %next.batch_id, number = next.seq, "a badge of a batch is left out");
            return write(state, next, move |tx| badge_batch::give_up(tx, next)).await.map(Some);
        }
    }
    made.map(Some)
}

async fn make(state: &Data<State>, next: Next) -> Result<Made, StoreError> {
    let shared = state.clone();
    write(state, next, move |tx| badge_batch::make(tx, next, &|tx, new| issue_printable(&shared, tx, new)))
        .await
}

/// One write in the name of whoever asked for the batch.
async fn write<F>(state: &Data<State>, next: Next, work: F) -> Result<Made, StoreError>
where
    F: Fn(&mut Tx<'_>) -> Result<Made, StoreError> + Send + 'static,
{
    let actor = Actor::program_for(next.site_id, next.asked_by);
    state.store.write(&actor, Operation::CreateBadgeBatch, state.clock.now(), work).await
}

/// Makes a badge, and sees whether there are letters for its name before anybody believes that it can be printed.
fn issue_printable(
    state: &State,
    tx: &mut Tx<'_>,
    new: &NewBadge,
) -> Result<Result<(), LeftOut>, StoreError> {
    issue(state, tx, new)?;
    let site_id = tx.site_id();
    let made = badge::find(tx.conn, site_id, new.id)?;
    let lacks = state.fonts.get()?.lack(made.name());
    Ok(lacks.map_or(Ok(()), |_| Err(LeftOut::NoGlyph)))
}
