//! Everything that bears on a batch of scans, in one statement.
//!
//! Diesel prepares a statement anew each time it cannot know that its text stays the same, as with
//! `sql_query`. This one is a query of its own type with constant text, so each connection plans it once.

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryResult, Queryable, RunQueryDsl,
    pg::Pg,
    query_builder::{AstPass, Query, QueryFragment, QueryId},
    sql_types::{Array, Bool, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use uuid::Uuid;

use super::{NewScan, Reading};
use crate::{ActorKind, unclaimed::unclaimed_from};

/// What is known about one scan. Absent values mean that there is no such row.
#[derive(Debug, Queryable)]
pub(super) struct Facts {
    pub(super) place: i32,
    pub(super) gate_known: bool,
    pub(super) entitled: bool,
    pub(super) badge_id: Option<Uuid>,
    pub(super) expires_at: Option<DateTime<Utc>>,
    pub(super) ending: Option<String>,
    pub(super) held: bool,
    /// From when on it counts as unclaimed, where the site lets nobody in with such a one and nobody handed it over.
    pub(super) unclaimed_from: Option<DateTime<Utc>>,
    pub(super) given_name: Option<String>,
    pub(super) family_name: Option<String>,
    pub(super) policy_id: Option<Uuid>,
    /// The respirators on which the person has a result; the other lists are in the same order.
    pub(super) respirators: Vec<Uuid>,
    pub(super) names: Vec<String>,
    pub(super) facepieces: Vec<String>,
    pub(super) filter_classes: Vec<String>,
    pub(super) retired_at: Vec<Option<DateTime<Utc>>>,
    pub(super) states: Vec<String>,
    pub(super) valid_from: Vec<Option<DateTime<Utc>>>,
    pub(super) valid_until: Vec<Option<DateTime<Utc>>>,
    pub(super) repeat_seconds: Option<i32>,
    pub(super) tolerance_seconds: Option<i32>,
    /// Gates with a walking time from here, and the seconds.
    pub(super) walk_gates: Vec<Uuid>,
    pub(super) walk_seconds: Vec<i32>,
    /// Other readings of the badge about this time; the next four lists are in the same order.
    pub(super) near_gates: Vec<Uuid>,
    pub(super) near_at: Vec<DateTime<Utc>>,
    pub(super) near_ahead: Vec<Option<i32>>,
    pub(super) near_repeats: Vec<Option<DateTime<Utc>>>,
    pub(super) near_twins: Vec<Option<Uuid>>,
}

type Columns = (
    Integer,
    Bool,
    Bool,
    Nullable<SqlUuid>,
    Nullable<Timestamptz>,
    Nullable<Text>,
    Bool,
    Nullable<Timestamptz>,
    Nullable<Text>,
    Nullable<Text>,
    Nullable<SqlUuid>,
    Array<SqlUuid>,
    Array<Text>,
    Array<Text>,
    Array<Text>,
    Array<Nullable<Timestamptz>>,
    Array<Text>,
    Array<Nullable<Timestamptz>>,
    Array<Nullable<Timestamptz>>,
    Nullable<Integer>,
    Nullable<Integer>,
    Array<SqlUuid>,
    Array<Integer>,
    Array<SqlUuid>,
    Array<Timestamptz>,
    Array<Nullable<Integer>>,
    Array<Nullable<Timestamptz>>,
    Array<Nullable<SqlUuid>>,
);

/// The scans of a batch, one column each, as the statement takes them.
#[derive(Debug, Default)]
struct Question {
    place: Vec<i32>,
    id: Vec<Uuid>,
    site_id: Vec<Uuid>,
    gate_id: Vec<Uuid>,
    serial: Vec<Option<String>>,
    at: Vec<DateTime<Utc>>,
    now: Vec<DateTime<Utc>>,
    device_id: Vec<Option<Uuid>>,
    user_id: Vec<Option<Uuid>>,
    session_id: Vec<Option<Uuid>>,
}

/// The facts of each scan, in the order of `scans`.
pub(super) fn load(conn: &mut PgConnection, scans: &[NewScan]) -> QueryResult<Vec<Facts>> {
    let mut question = Question::default();
    for (place, scan) in (0..).zip(scans) {
        let device = scan.actor.kind == ActorKind::Device;
        question.place.push(place);
        question.id.push(scan.id);
        question.site_id.push(scan.actor.site_id);
        question.gate_id.push(scan.gate_id);
        question.serial.push(match &scan.reading {
            Reading::Serial(serial) => Some(serial.clone()),
            Reading::NotOurs(_) => None,
        });
        question.at.push(scan.happened_at);
        question.now.push(scan.recorded_at);
        question.device_id.push(device.then_some(scan.actor.id));
        question.user_id.push((!device).then_some(scan.actor.id));
        question.session_id.push(scan.actor.session_id);
    }
    let mut facts: Vec<Facts> = question.load(conn)?;
    facts.sort_unstable_by_key(|facts| facts.place);
    Ok(facts)
}

const HEAD: &str = concat!(
    "\
select q.place, g.id is not null, (d.id is not null or u.id is not null), \
  b.id, b.expires_at, e.reason, \
  exists (select from badge_holds h where h.badge_id = b.id \
    and not exists (select from badge_hold_releases f where f.badge_hold_id = h.id)), ",
    unclaimed_from!(),
    ", \
  n.given_name, n.family_name, \
  p.id, coalesce(a.ids, '{}'), coalesce(a.names, '{}'), coalesce(a.facepieces, '{}'), \
  coalesce(a.filter_classes, '{}'), coalesce(a.retired_at, '{}'), coalesce(a.states, '{}'), \
  coalesce(a.valid_from, '{}'), coalesce(a.valid_until, '{}'), \
  t.repeat_scan_seconds, t.clock_tolerance_seconds, coalesce(w.gates, '{}'), coalesce(w.seconds, '{}'), \
  coalesce(k.gates, '{}'), coalesce(k.times, '{}'), coalesce(k.ahead, '{}'), coalesce(k.repeats, '{}'), \
  coalesce(k.twins, '{}') \
from unnest("
);

const TAIL: &str = ") as q(place, id, site_id, gate_id, serial, at, now, device_id, user_id, session_id) \
left join sites t on t.id = q.site_id \
left join gates g on g.id = q.gate_id and g.site_id = q.site_id \
left join devices d on d.id = q.device_id and d.site_id = q.site_id \
  and d.revoked_at is null and d.expires_at > q.now \
left join sessions s on s.id = q.session_id and s.user_id = q.user_id and s.site_id = q.site_id \
  and s.ended_at is null and s.expires_at > q.now \
left join users u on u.id = s.user_id and u.disabled_at is null \
left join badges b on b.serial = q.serial and b.site_id = q.site_id \
left join badge_endings e on e.badge_id = b.id \
left join people n on n.id = b.person_id \
left join lateral ( \
  select p.id from gate_policies p \
  where p.gate_id = g.id and p.effective_from <= q.at \
  order by p.effective_from desc, p.recorded_at desc, p.id desc limit 1) p on true \
left join lateral ( \
  select array_agg(r.id) as ids, array_agg(concat_ws(' ', r.make, r.model, r.style, r.size)) as names, \
    array_agg(r.facepiece) as facepieces, array_agg(r.filter_class) as filter_classes, \
    array_agg(r.retired_at) as retired_at, array_agg(c.state) as states, \
    array_agg(c.valid_from) as valid_from, array_agg(c.valid_until) as valid_until \
  from clearances c join respirators r on r.id = c.respirator_id \
  where c.person_id = b.person_id) a on true \
left join lateral ( \
  select array_agg(x.gate) as gates, array_agg(x.seconds) as seconds, max(x.seconds) as longest from ( \
    select distinct on (o.gate) o.gate, o.seconds from ( \
      select w.other_gate_id as gate, w.seconds, w.recorded_at, w.id from walking_times w where w.gate_id = g.id \
      union all \
      select w.gate_id, w.seconds, w.recorded_at, w.id from walking_times w where w.other_gate_id = g.id) o \
    order by o.gate, o.recorded_at desc, o.id desc) x \
  where x.seconds > 0) w on true \
left join lateral ( \
  select array_agg(s.gate_id) as gates, array_agg(s.happened_at) as times, array_agg(s.clock_ahead_ms) as ahead, \
    array_agg(s.repeats_at) as repeats, array_agg(s.twin_gate_id) as twins \
  from make_interval(secs => 600 + greatest(coalesce(t.repeat_scan_seconds, 10), coalesce(w.longest, 0))) as r(reach) \
  cross join lateral ( \
    (select e.gate_id, e.happened_at, e.clock_ahead_ms, e.repeats_at, e.twin_gate_id from scans e \
      where e.badge_id = b.id and e.id <> q.id and e.happened_at between q.at - r.reach and q.at \
      order by e.badge_id desc, e.happened_at desc limit 16) \
    union all \
    (select l.gate_id, l.happened_at, l.clock_ahead_ms, l.repeats_at, l.twin_gate_id from scans l \
      where l.badge_id = b.id and l.id <> q.id and l.happened_at > q.at and l.happened_at <= q.at + r.reach \
      order by l.badge_id, l.happened_at limit 16)) s) k on true";

impl QueryFragment<Pg> for Question {
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, Pg>) -> QueryResult<()> {
        out.push_sql(HEAD);
        out.push_bind_param::<Array<Integer>, _>(&self.place)?;
        for ids in [&self.id, &self.site_id, &self.gate_id] {
            out.push_sql(", ");
            out.push_bind_param::<Array<SqlUuid>, _>(ids)?;
        }
        out.push_sql(", ");
        out.push_bind_param::<Array<Nullable<Text>>, _>(&self.serial)?;
        for times in [&self.at, &self.now] {
            out.push_sql(", ");
            out.push_bind_param::<Array<Timestamptz>, _>(times)?;
        }
        for ids in [&self.device_id, &self.user_id, &self.session_id] {
            out.push_sql(", ");
            out.push_bind_param::<Array<Nullable<SqlUuid>>, _>(ids)?;
        }
        out.push_sql(TAIL);
        Ok(())
    }
}

impl QueryId for Question {
    type QueryId = Self;
    const HAS_STATIC_QUERY_ID: bool = true;
}

impl Query for Question {
    type SqlType = Columns;
}

impl RunQueryDsl<PgConnection> for Question {}
