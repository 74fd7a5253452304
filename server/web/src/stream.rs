//! The live stream: server-sent events that say what was written, so that boards and stations know when to read again.
//!
//! An event names a row and says nothing of its content. Its id is the row's number in the site's audit chain, so a
//! client that lost its connection hears what it missed from whichever server it reaches next.

use std::{collections::VecDeque, convert::Infallible, fmt::Write, sync::Arc, time::Duration};

use actix_web::{
    HttpRequest, HttpResponse, get,
    http::header,
    web::{Bytes, Data},
};
use chrono::{DateTime, Utc};
use futures_util::{Stream, stream::unfold};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::{Role, op},
    stream::noun,
};
use sellion_store::{
    Actor, Store, StoreError,
    stream::{self, Change, Hub, Missed, News},
};
use serde::Serialize;
use tokio::{
    sync::{OwnedSemaphorePermit, Semaphore, broadcast},
    time::Instant,
};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{auth::Caller, problem::Problem, state::State};

/// How long a client should wait before it connects again.
const RETRY_MS: u32 = 2000;
/// How soon a stream that could not ask the database asks again.
const AGAIN: Duration = Duration::from_secs(1);
/// What a client is told that found no room: streams end with shifts, not within a second.
const FULL_SECONDS: i64 = 15;

/// How many live streams there may be, and how often each shows that it lives.
#[derive(Debug, Clone, Copy)]
pub struct StreamLimits {
    /// Streams at most.
    pub most: usize,
    /// The time between two signs of life, at each of which the sign-in is looked at again.
    pub heartbeat: Duration,
}

impl Default for StreamLimits {
    fn default() -> Self {
        Self { most: 500, heartbeat: Duration::from_secs(15) }
    }
}

/// The live streams of this server.
pub(crate) struct Streams {
    hub: Hub,
    room: Arc<Semaphore>,
    limits: StreamLimits,
}

impl Streams {
    pub(crate) fn open(store: &Store, limits: StreamLimits) -> anyhow::Result<Self> {
        Ok(Self { hub: Hub::open(store)?, room: Arc::new(Semaphore::new(limits.most)), limits })
    }

    /// Ends every stream, and refuses new ones.
    pub(crate) fn close(&self) {
        self.hub.close();
    }

    fn enter(&self) -> Result<OwnedSemaphorePermit, Refusal> {
        Arc::clone(&self.room).try_acquire_owned().map_err(|_| {
            let sentence = "This server holds as many live streams as it may: wait, or read without one.";
            Refusal::new(Code::StreamsFull, sentence).fact("retry_after_seconds", FULL_SECONDS)
        })
    }
}

/// The data of an event `changed`: which row was appended or changed.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ChangeView {
    /// The row's number in the audit chain of the site; also the id of the event.
    #[schema(example = 4711)]
    seq: i64,
    /// The operation that wrote.
    #[schema(example = "create_fill")]
    operation: String,
    /// What kind of row it is.
    #[schema(example = "fills")]
    noun: &'static str,
    /// The row.
    id: Uuid,
    recorded_at: DateTime<Utc>,
}

/// News of what was written at the site, as it happens, until the client leaves or its sign-in ends.
///
/// Server-sent events. `changed` names a row that was appended or changed, one event for each row of the audit chain
/// that the caller may read, in the chain's order; the data is a `ChangeView` and holds nothing of the row's content.
/// `reset` says that too much was missed, or that the id sent is not of this site's chain: read everything again. Blocks
/// without an event only move the last id on. Connect first, then read the present state: what is written after the
/// stream's first byte is told on the stream. Send the last id as `Last-Event-ID` to hear what was missed, from any
/// server of the installation. Scans are not told, and neither is what follows by computing: clearances and the queue
/// change with the rows they are made from.
#[utoipa::path(
    tag = "stream",
    params(("Last-Event-ID" = Option<String>, Header, description = "The id of the last event that arrived.")),
    responses((status = 200, description = "Events, without an end.", content_type = "text/event-stream", body = String)),
)]
#[get("/api/v1/stream")]
pub(crate) async fn read_stream(
    caller: Caller<op::ReadStream>,
    request: HttpRequest,
    state: Data<State>,
) -> Result<HttpResponse, Problem> {
    let streams = &state.streams;
    let room = streams.enter()?;
    // Before the place in the chain is read, so that nothing falls between.
    let Some(news) = streams.hub.subscribe(caller.site_id()) else { return Err(StoreError::Busy.into()) };
    let (site_id, last) = (caller.site_id(), last_event_id(&request));
    let missed = caller
        .read_store(move |conn| match last {
            None => Ok((stream::head(conn, site_id)?, Missed::Rows(Vec::new()))),
            Some(seq) => Ok((seq, stream::missed(conn, site_id, seq)?)),
        })
        .await?;
    let (place, missed) = missed;
    let heartbeat = streams.limits.heartbeat;
    let mut feed = Feed {
        actor: caller.actor(),
        roles: caller.sign_in().roles.clone(),
        state: state.clone(),
        news,
        place,
        heartbeat,
        next_look: Instant::now() + heartbeat,
        texts: VecDeque::new(),
        _room: room,
    };
    feed.begin(missed);
    Ok(HttpResponse::Ok()
        .content_type("text/event-stream")
        .insert_header((header::CACHE_CONTROL, "no-store"))
        // Known to common proxies, which would gather events otherwise.
        .insert_header(("x-accel-buffering", "no"))
        .streaming(feed.into_stream()))
}

/// The id that the client heard last. One that is none of ours is a place that no chain has.
fn last_event_id(request: &HttpRequest) -> Option<i64> {
    let value = request.headers().get("last-event-id")?.as_bytes();
    let text = std::str::from_utf8(value).unwrap_or("?");
    // The HTML standard (9.2 server-sent events) lets an empty id stand for none.
    (!text.is_empty()).then(|| text.parse().unwrap_or(-1))
}

/// One open stream.
struct Feed {
    actor: Actor,
    roles: Vec<Role>,
    state: Data<State>,
    news: broadcast::Receiver<News>,
    /// The number of the last row that was told or need not be.
    place: i64,
    heartbeat: Duration,
    next_look: Instant,
    texts: VecDeque<String>,
    _room: OwnedSemaphorePermit,
}

/// The sign-in is over, or the server stops.
struct Over;

impl Feed {
    fn into_stream(self) -> impl Stream<Item = Result<Bytes, Infallible>> {
        unfold(self, |mut feed| async move {
            loop {
                if let Some(text) = feed.texts.pop_front() {
                    return Some((Ok(Bytes::from(text)), feed));
                }
                feed.wait().await.ok()?;
            }
        })
    }

    /// The first thing a client gets, so that it knows where it is: from here on, nothing is missed.
    fn begin(&mut self, missed: Missed) {
        let text = self.text_of(missed);
        let text = if text.is_empty() { self.place_only() } else { text };
        self.texts.push_back(format!("retry: {RETRY_MS}\n{text}"));
    }

    /// Waits until there is something to tell, or it is time to look again.
    async fn wait(&mut self) -> Result<(), Over> {
        let told = tokio::select! {
            told = self.news.recv() => told,
            () = tokio::time::sleep_until(self.next_look) => Ok(News::LookAgain),
        };
        match told {
            Ok(News::Rows { after, rows }) if after <= self.place => {
                let sign_in_touched =
                    rows.iter().any(|row| row.seq > self.place && row.is_of_sign_in(&self.actor));
                let text = self.text_of_rows(&rows);
                self.texts.extend((!text.is_empty()).then_some(text));
                if sign_in_touched { self.look().await } else { Ok(()) }
            }
            Ok(_) | Err(broadcast::error::RecvError::Lagged(_)) => self.look().await,
            Err(broadcast::error::RecvError::Closed) => Err(Over),
        }
    }

    /// Asks the database what came since, and whether the sign-in still holds. A database that is away just now ends
    /// nothing: the stream asks again.
    async fn look(&mut self) -> Result<(), Over> {
        let (site_id, place) = (self.actor.site_id, self.place);
        let now = self.state.clock.now();
        let looked =
            self.state.store.read(&self.actor, now, move |conn| stream::missed(conn, site_id, place)).await;
        let (text, wait) = match looked {
            Ok(missed) => (self.text_of(missed), self.heartbeat),
            Err(StoreError::Refused(_)) => return Err(Over),
            Err(error) => {
                tracing::debug!(%error, "a live stream could not look");
                (String::new(), AGAIN)
            }
        };
        // The comment is for the connection, the place for a client to which most of the news is not told.
        let text = if text.is_empty() { format!(": here\n{}", self.place_only()) } else { text };
        self.texts.push_back(text);
        self.next_look = Instant::now() + wait;
        Ok(())
    }

    fn text_of(&mut self, missed: Missed) -> String {
        match missed {
            Missed::Rows(rows) => self.text_of_rows(&rows),
            Missed::All(head) => {
                self.place = head;
                format!("id: {head}\nevent: reset\ndata: {{\"seq\":{head}}}\n\n")
            }
        }
    }

    /// The events of those rows that were not told yet and that the caller may read.
    fn text_of_rows(&mut self, rows: &[Change]) -> String {
        let mut text = String::new();
        for row in rows.iter().filter(|row| row.seq > self.place) {
            if let Some(noun) = noun(&row.subject_table, &self.roles) {
                event(&mut text, row, noun);
            }
        }
        self.place = rows.last().map_or(self.place, |row| row.seq.max(self.place));
        text
    }

    fn place_only(&self) -> String {
        format!("id: {}\n\n", self.place)
    }
}

fn event(text: &mut String, row: &Change, noun: &'static str) {
    let view = ChangeView {
        seq: row.seq,
        operation: row.action.clone(),
        noun,
        id: row.subject_id,
        recorded_at: row.recorded_at,
    };
    // No member can fail to become JSON, and JSON has no line break of its own.
    let data = serde_json::to_string(&view).unwrap_or_default();
    let _ = write!(text, "id: {}\nevent: changed\ndata: {data}\n\n", row.seq);
}
