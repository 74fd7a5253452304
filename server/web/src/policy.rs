//! What each gate accepts from when on.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    policy::{Acceptance, Accepted, PolicyStanding, PolicyVersion, RespiratorClass},
    refusal::{Code, Refusal},
    respirator::Facepiece,
    roles::op,
};
use sellion_store::policy::{self, NewPolicy, Policy};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::{happened, moment},
    gate::own_gate,
    page::{Page, PageQuery},
    problem::Problem,
    words::{LONG, SHORT, line, line_or_none},
};

/// What a gate accepts from a moment on.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct GatePolicyView {
    id: Uuid,
    gate_id: Uuid,
    /// From when on it is in force, until a later one is.
    effective_from: DateTime<Utc>,
    /// Whether it is in force now, was, or will be.
    standing: PolicyStanding,
    /// What is used here, the preferred one first.
    accepts: Vec<Acceptance>,
    /// Whether nobody needs a respirator here.
    none_needed: bool,
    /// Until when nobody does; absent as long as the policy is in force.
    #[serde(skip_serializing_if = "Option::is_none")]
    none_needed_until: Option<DateTime<Utc>>,
    /// The greatest age of knowledge, in seconds, on which the gate may still let somebody in.
    #[schema(example = 900)]
    knowledge_age_max_seconds: u32,
    /// What to do when nobody can tell, in the site's own words.
    #[schema(example = "Call the shift lead on 4410.")]
    fallback: String,
    /// Under whose name somebody may be let in: absent where nobody may be, empty where any name will do.
    #[serde(skip_serializing_if = "Option::is_none")]
    leads: Option<Vec<String>>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl From<Policy> for GatePolicyView {
    fn from(stored: Policy) -> Self {
        let Policy { gate_id, happened_at, version, standing } = stored;
        Self {
            id: version.id,
            gate_id,
            effective_from: version.effective_from,
            standing,
            accepts: version.accepts,
            none_needed: version.none_needed,
            none_needed_until: version.none_needed_until,
            knowledge_age_max_seconds: version.knowledge_age_max_seconds,
            fallback: version.fallback,
            leads: version.leads,
            happened_at,
            recorded_at: version.recorded_at,
        }
    }
}

/// One respirator, or any of a class: those listed later too.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewAcceptance {
    /// One respirator. Leave it out to accept a class.
    respirator_id: Option<Uuid>,
    /// Any respirator of this kind.
    facepiece: Option<Facepiece>,
    /// Any respirator of this filter class, in the words of the list of respirators.
    #[schema(example = "N95")]
    filter_class: Option<String>,
    /// Until when, where it is accepted beside another for a time; left out, as long as the policy is in force.
    until: Option<DateTime<Utc>>,
}

impl NewAcceptance {
    fn read(self, place: usize) -> Result<Acceptance, Refusal> {
        let until = self.until.map(|until| moment(until, "until")).transpose();
        let until = until.map_err(|refusal| refusal.field(format!("accepts[{place}].until")))?;
        let filter_class = line_or_none(self.filter_class.as_deref(), "filter_class", SHORT)
            .map_err(|refusal| refusal.field(format!("accepts[{place}].filter_class")))?;
        let class = RespiratorClass { facepiece: self.facepiece, filter_class };
        let accepted = match self.respirator_id {
            None => Accepted::Class(class),
            Some(respirator_id) if class == (RespiratorClass { facepiece: None, filter_class: None }) => {
                Accepted::Respirator { respirator_id }
            }
            Some(_) => {
                let sentence = "Name one respirator or a class, not both in one.";
                return Err(Refusal::new(Code::InvalidValue, sentence)
                    .field(format!("accepts[{place}].respirator_id")));
            }
        };
        Ok(Acceptance { accepted, until })
    }
}

/// A policy to be put in force.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewGatePolicy {
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000b2")]
    id: Uuid,
    /// From when on: the moment of the decision, or one ahead. Of two for the same moment the later one counts.
    effective_from: DateTime<Utc>,
    /// What is used here, the preferred one first. At least one line has no end.
    accepts: Vec<NewAcceptance>,
    /// Whether nobody needs a respirator here.
    #[schema(example = false)]
    none_needed: bool,
    /// Until when nobody does; then `accepts` counts. Left out, as long as the policy is in force.
    none_needed_until: Option<DateTime<Utc>>,
    /// The greatest age of knowledge, in seconds, on which the gate may still let somebody in.
    #[schema(example = 900, minimum = 1, maximum = 864_000)]
    knowledge_age_max_seconds: i64,
    /// What to do when nobody can tell, in the site's own words: the gate shows it with `cannot_confirm`.
    #[schema(example = "Call the shift lead on 4410.")]
    fallback: String,
    /// Under whose name somebody may be let in: left out where nobody may be, empty where any name will do.
    leads: Option<Vec<String>>,
    /// When it was decided.
    happened_at: DateTime<Utc>,
}

impl NewGatePolicy {
    fn read(self, gate_id: Uuid, now: DateTime<Utc>) -> Result<NewPolicy, Refusal> {
        let accepts = self.accepts.into_iter().enumerate().map(|(place, line)| line.read(place));
        let leads = |names: Vec<String>| names.iter().map(|name| line(name, "leads", SHORT)).collect();
        let version = PolicyVersion {
            id: self.id,
            effective_from: moment(self.effective_from, "effective_from")?,
            recorded_at: now,
            accepts: accepts.collect::<Result<_, _>>()?,
            none_needed: self.none_needed,
            none_needed_until: self
                .none_needed_until
                .map(|until| moment(until, "none_needed_until"))
                .transpose()?,
            // No age at all is as wrong as one below nothing.
            knowledge_age_max_seconds: u32::try_from(self.knowledge_age_max_seconds).unwrap_or_default(),
            fallback: line(&self.fallback, "fallback", LONG)?,
            leads: self.leads.map(leads).transpose()?,
        };
        let happened_at = happened(self.happened_at, now)?;
        version.check(happened_at)?;
        Ok(NewPolicy { gate_id, happened_at, version })
    }
}

/// What a gate accepted, accepts and will accept. A gate's device sees its own gate.
#[utoipa::path(tag = "gates", params(("gate_id" = Uuid, Path), PageQuery), responses(
    (status = 200, body = Page<GatePolicyView>), (status = 404, body = crate::problem::ProblemBody)
))]
#[get("/api/v1/gates/{gate_id}/policies")]
pub(crate) async fn list_gate_policies(
    caller: Caller<op::ListGatePolicies>,
    gate_id: Path<Uuid>,
    page: Query<PageQuery>,
) -> Result<Json<Page<GatePolicyView>>, Problem> {
    let gate_id = own_gate(&caller, *gate_id)?;
    let (site_id, now, window) = (caller.site_id(), caller.now, page.window()?);
    let rows =
        caller.read_store(move |conn| policy::list(conn, (site_id, gate_id), now, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |stored| stored.version.id, GatePolicyView::from)))
}

/// Decides what a gate accepts from a moment on. Earlier policies stay readable.
///
/// A class takes in every respirator of that class that is listed at the moment of the scan. A switch known ahead is a
/// policy that begins then; to accept the former model for some days more, accept it too, with its end. To take back
/// what has not begun, send another for the same moment.
#[utoipa::path(tag = "gates", params(("gate_id" = Uuid, Path)), responses(
    (status = 201, body = GatePolicyView), (status = 404, body = crate::problem::ProblemBody),
    (status = 409, body = crate::problem::ProblemBody), (status = 422, body = crate::problem::ProblemBody)
))]
#[post("/api/v1/gates/{gate_id}/policies")]
pub(crate) async fn create_gate_policy(
    caller: Caller<op::CreateGatePolicy>,
    gate_id: Path<Uuid>,
    body: Json<NewGatePolicy>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().read(*gate_id, caller.now)?;
    let stored = caller.write(move |tx| policy::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(GatePolicyView::from(stored)))
}
