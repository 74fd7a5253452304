//! Alarms: each stands on the board until somebody takes it on under their own name.

use actix_web::{
    HttpResponse, post,
    web::{Json, Path},
};
use chrono::{DateTime, Utc};
use sellion_rules::{alarm::AlarmKind, refusal::Refusal, roles::op};
use sellion_store::{
    StoreError,
    alarm::{self, Alarm, NewAcknowledgement as NewRow},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    problem::{Problem, ProblemBody},
};

/// Who took an alarm on.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TakenOn {
    #[schema(example = "Oda Brennick")]
    by: String,
    at: DateTime<Utc>,
}

/// Something that somebody has to see to. It never goes away by itself: it is taken on by somebody, or the fact that it
/// follows from ends, as when a stop is released. It names no person: the ticket and the visit lead there.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AlarmView {
    kind: AlarmKind,
    /// The row that it follows from: a run, a stop of a lot, a stop, or what was found on a nebulizer.
    subject_id: Uuid,
    happened_at: DateTime<Utc>,
    #[serde(skip_serializing_if = "Option::is_none")]
    station_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "Station 3")]
    station: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    visit_id: Option<Uuid>,
    /// The number that the person was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 41)]
    ticket: Option<i32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    lot_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    equipment_id: Option<Uuid>,
    /// What is written on the thing, or its name.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "SB-2231")]
    what: Option<String>,
    /// Why it is stopped.
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
    /// Absent while nobody has taken it on.
    #[serde(skip_serializing_if = "Option::is_none")]
    taken_on: Option<TakenOn>,
}

impl TryFrom<Alarm> for AlarmView {
    type Error = StoreError;

    fn try_from(alarm: Alarm) -> Result<Self, StoreError> {
        Ok(Self {
            kind: alarm.kind()?,
            subject_id: alarm.subject,
            happened_at: alarm.happened_at,
            station_id: alarm.station_id,
            station: alarm.station,
            visit_id: alarm.visit_id,
            ticket: alarm.ticket,
            lot_id: alarm.lot_id,
            equipment_id: alarm.equipment_id,
            what: alarm.what,
            reason: alarm.reason,
            taken_on: alarm.taken_by.zip(alarm.taken_at).map(|(by, at)| TakenOn { by, at }),
        })
    }
}

/// Somebody takes an alarm on.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewAlarmAcknowledgement {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    kind: AlarmKind,
    /// As on the board.
    subject_id: Uuid,
    #[schema(example = "2026-03-10T11:20:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewAlarmAcknowledgement {
    fn row(self, site_id: Uuid, day_id: Uuid, now: DateTime<Utc>) -> Result<NewRow, Refusal> {
        Ok(NewRow {
            id: self.id,
            site_id,
            day_id,
            kind: self.kind.as_str().to_owned(),
            subject: self.subject_id,
            happened_at: happened(self.happened_at, now)?,
        })
    }
}

/// Takes an alarm on. Your name stands with it from now on; nothing else about what happened is changed.
#[utoipa::path(tag = "days", responses(
    (status = 201, body = AlarmView),
    (status = 404, description = "No such day here, or no such alarm on its board.", body = ProblemBody),
    (status = 409, description = "Somebody has taken it on already, or the id belongs to another record.",
        body = ProblemBody)
))]
#[post("/api/v1/days/{day_id}/alarm_acknowledgements")]
pub(crate) async fn create_alarm_acknowledgement(
    caller: Caller<op::CreateAlarmAcknowledgement>,
    day_id: Path<Uuid>,
    body: Json<NewAlarmAcknowledgement>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(caller.site_id(), *day_id, caller.now)?;
    let taken = caller.write(move |tx| alarm::acknowledge(tx, &new)).await?;
    Ok(HttpResponse::Created().json(AlarmView::try_from(taken)?))
}
