//! Whom a gate will turn away: by name for the coordinator, in numbers for the guard's lead.

use actix_web::{
    post,
    web::{Json, Path},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    outlook::Outlook,
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::outlook::{self, GateOutlook, PersonOutlook, When, Who};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::moment,
    problem::{Problem, ProblemBody},
};

/// Names in one question.
const NAMED_MAX: usize = 5_000;
/// Below this a number tells of single people; common practice, no source.
const COUNTED_MIN: usize = 5;
/// A year and a day: beyond it every clearance has run out anyway.
const ENTERED_DAYS_MAX: u32 = 366;

/// Whom to look at, and which moment ahead.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OutlookQuestion {
    /// The moment; or name a policy.
    at: Option<DateTime<Utc>>,
    /// A version of the gate's policy: the moment it begins.
    policy_id: Option<Uuid>,
    /// Everybody of these departments or wards.
    #[serde(default)]
    #[schema(example = json!(["Heron ward"]))]
    units: Vec<String>,
    /// These people, by staff number.
    #[serde(default)]
    #[schema(example = json!(["004217"]))]
    staff_numbers: Vec<String>,
    /// Whoever was let in at this gate in these last days.
    #[schema(example = 14, minimum = 1, maximum = 366)]
    entered_within_days: Option<u32>,
}

impl OutlookQuestion {
    fn read(self, now: DateTime<Utc>) -> Result<(Who, When), Refusal> {
        let refused = |field: &str, sentence: &str| Refusal::new(Code::InvalidValue, sentence).field(field);
        let when = match (self.at, self.policy_id) {
            (Some(at), None) if at < now => {
                return Err(refused("at", "This moment is past: ask about one ahead."));
            }
            (Some(at), None) => When::At(moment(at, "at")?),
            (None, Some(policy)) => When::Policy(policy),
            _ => return Err(refused("at", "Name a moment or a policy: one of the two.")),
        };
        if self.units.is_empty() && self.staff_numbers.is_empty() && self.entered_within_days.is_none() {
            let sentence = "Say whom to look at: departments, staff numbers, or who came in lately.";
            return Err(refused("units", sentence));
        }
        if self.units.len() > NAMED_MAX || self.staff_numbers.len() > NAMED_MAX {
            return Err(refused("staff_numbers", "Name 5000 at most."));
        }
        if self.entered_within_days.is_some_and(|days| !(1..=ENTERED_DAYS_MAX).contains(&days)) {
            return Err(refused("entered_within_days", "Between 1 and 366 days."));
        }
        let who = Who {
            units: self.units,
            staff_numbers: self.staff_numbers,
            entered_within_days: self.entered_within_days,
        };
        Ok((who, when))
    }
}

/// How many, of those who were asked about.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct OutlookCounts {
    /// Everybody who was asked about.
    #[schema(example = 84)]
    asked: usize,
    /// May go in now.
    #[schema(example = 80)]
    enter_now: usize,
    /// May go in then, as things stand.
    #[schema(example = 31)]
    enter_then: usize,
    /// May go in now, and will be turned away then.
    #[schema(example = 49)]
    turned_away: usize,
    /// Staff numbers and departments that nobody here has.
    #[schema(example = 0)]
    unknown: usize,
}

impl OutlookCounts {
    fn of(found: &GateOutlook) -> Self {
        let count = |counts: fn(&Outlook) -> bool| {
            found.people.iter().filter(|person| counts(&person.outlook)).count()
        };
        Self {
            asked: found.people.len(),
            enter_now: count(|outlook| outlook.enters_now),
            enter_then: count(|outlook| outlook.enters_then),
            turned_away: count(|outlook| outlook.enters_now && !outlook.enters_then),
            unknown: found.unknown_staff_numbers.len() + found.unknown_units.len(),
        }
    }
}

/// The same, in numbers and without a name.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct OutlookCountsView {
    gate_id: Uuid,
    /// The moment that was asked about.
    at: DateTime<Utc>,
    /// The policy in force then; absent where there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    policy_id: Option<Uuid>,
    counts: OutlookCounts,
}

/// One person who will be turned away, and what would change that.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PersonOutlookView {
    person_id: Uuid,
    #[schema(example = "004217")]
    staff_number: String,
    #[schema(example = "Oda")]
    given_name: String,
    #[schema(example = "Brennick")]
    family_name: String,
    #[schema(example = "Heron ward")]
    unit: String,
    #[serde(flatten)]
    outlook: Outlook,
}

impl From<PersonOutlook> for PersonOutlookView {
    fn from(person: PersonOutlook) -> Self {
        let PersonOutlook { person_id, staff_number, given_name, family_name, unit, outlook } = person;
        Self { person_id, staff_number, given_name, family_name, unit, outlook }
    }
}

/// Whom the gate will turn away at a moment ahead.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct OutlookView {
    gate_id: Uuid,
    /// The moment that was asked about.
    at: DateTime<Utc>,
    /// The policy in force then; absent where there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    policy_id: Option<Uuid>,
    counts: OutlookCounts,
    /// Who will be turned away then, by staff number: those who may go in now among them.
    items: Vec<PersonOutlookView>,
    /// Staff numbers that nobody here has.
    unknown_staff_numbers: Vec<String>,
    /// Departments and wards that nobody here belongs to.
    unknown_units: Vec<String>,
}

impl OutlookView {
    fn of(gate_id: Uuid, found: GateOutlook) -> Self {
        let counts = OutlookCounts::of(&found);
        let GateOutlook { at, policy_id, people, unknown_staff_numbers, unknown_units } = found;
        let items = people.into_iter().filter(|person| !person.outlook.enters_then);
        let items = items.map(Into::into).collect();
        Self { gate_id, at, policy_id, counts, items, unknown_staff_numbers, unknown_units }
    }
}

/// Whom a gate will turn away at a moment ahead, by name, with what would change that: as things stand now, with every
/// due day until then.
#[utoipa::path(tag = "gates", params(("gate_id" = Uuid, Path)), responses(
    (status = 200, body = OutlookView), (status = 404, body = ProblemBody), (status = 422, body = ProblemBody)
))]
#[post("/api/v1/gates/{gate_id}/outlooks")]
pub(crate) async fn read_gate_outlook(
    caller: Caller<op::ReadGateOutlook>,
    gate_id: Path<Uuid>,
    body: Json<OutlookQuestion>,
) -> Result<Json<OutlookView>, Problem> {
    let found = ask(&caller, *gate_id, body.into_inner()).await?;
    Ok(Json(OutlookView::of(*gate_id, found)))
}

/// How many a gate will turn away at a moment ahead. No name leaves here, so that the guard's lead can plan.
#[utoipa::path(tag = "gates", params(("gate_id" = Uuid, Path)), responses(
    (status = 200, body = OutlookCountsView), (status = 404, body = ProblemBody),
    (status = 422, body = ProblemBody)
))]
#[post("/api/v1/gates/{gate_id}/outlook_counts")]
pub(crate) async fn read_gate_outlook_counts(
    caller: Caller<op::ReadGateOutlookCounts>,
    gate_id: Path<Uuid>,
    body: Json<OutlookQuestion>,
) -> Result<Json<OutlookCountsView>, Problem> {
    let question = body.into_inner();
    if !question.staff_numbers.is_empty() {
        let sentence = "Numbers are for departments or for those who came in lately, not for single people.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("staff_numbers").into());
    }
    let found = ask(&caller, *gate_id, question).await?;
    let counts = OutlookCounts::of(&found);
    if (1..COUNTED_MIN).contains(&counts.asked) {
        let sentence = format!("These are fewer than {COUNTED_MIN} people: a number would tell of each.");
        return Err(Refusal::new(Code::InvalidValue, sentence).field("units").into());
    }
    Ok(Json(OutlookCountsView { gate_id: *gate_id, at: found.at, policy_id: found.policy_id, counts }))
}

async fn ask<O: sellion_rules::roles::Op>(
    caller: &Caller<O>,
    gate_id: Uuid,
    question: OutlookQuestion,
) -> Result<GateOutlook, Problem> {
    let (site_id, now) = (caller.site_id(), caller.now);
    let (who, when) = question.read(now)?;
    caller.read_store(move |conn| outlook::of_gate(conn, (site_id, gate_id), &who, when, now)).await
}
