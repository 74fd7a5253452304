-- What the stores' daily work showed: places to fill at, makers, facepieces that attempts use up, and what comes in late.
-- Columns added here are empty in every older row, so that no digest changes.

-- A storeroom where nebulizers of any station are filled.
alter table places
    add column purpose text constraint places_purpose check (purpose in ('filling_point')),
    add constraint places_purpose_of_storerooms check (station_id is null or purpose is null);

-- Two makers may print the same number. What was received before anybody asked has no maker.
alter table lots
    add column maker text constraint lots_maker_blank check (btrim(maker) <> ''),
    -- How many pieces or bottles the scanned label of the box counts.
    add column box_count integer constraint lots_box_count check (box_count > 0),
    drop constraint lots_known_already;
drop index lots_pieces_known_already;
create unique index lots_known_already on lots (site_id, agent, solution, lower(maker), lot_number)
    nulls not distinct where supply is null;
create unique index lots_pieces_known_already on lots (site_id, supply, respirator_id, lower(maker), lot_number)
    nulls not distinct where supply is not null;
create index lots_by_gtin on lots (site_id, gtin) where gtin is not null;

-- The lot of the facepiece, where it was named; and what was run out of reach of the server.
alter table attempts
    add column facepiece_lot_id uuid references lots (id),
    add column reported text constraint attempts_reported check (reported = 'afterwards');
create index attempts_by_facepiece_lot on attempts (facepiece_lot_id) where facepiece_lot_id is not null;
alter table screenings add column reported text constraint screenings_reported check (reported = 'afterwards');

-- An event that follows from what was found on the nebulizer, and not from the station.
alter table attempt_events
    add column told_by text constraint attempt_events_told_by check (told_by = 'equipment_check');

-- What a station out of reach did after a finding had ended the attempt: kept, and no part of its verdict.
create table attempt_late_events (
    attempt_id uuid not null references attempts (id),
    seq integer not null constraint attempt_late_events_seq check (seq > 0),
    event jsonb not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    primary key (attempt_id, seq)
);
select make_append_only('attempt_late_events');

-- Mix-ups are few, and every look-back asks for them.
create index equipment_checks_of_mix_ups on equipment_checks (site_id) where finding = 'mixed_up';

-- Who had a list of people shown, and what it was about.
create table look_back_readings (
    id uuid primary key,
    site_id uuid not null references sites (id),
    asked text not null constraint look_back_readings_asked
        check (asked in ('lot', 'bottle', 'fill', 'equipment', 'tester', 'station')),
    asked_id uuid not null,
    from_at timestamptz,
    until_at timestamptz,
    form text not null constraint look_back_readings_form check (form in ('list', 'export')),
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index look_back_readings_by_site on look_back_readings (site_id, id);
select make_append_only('look_back_readings');

-- As before, and with the facepieces that attempts used up: one at the first donning of what is thrown away afterwards,
-- and one more where a fresh one was taken.
create or replace view piece_ledger as
with entries as (
    select lot_id, site_id, to_place_id as place_id, id, movement, pieces as change, null::bigint as counted,
           happened_at, recorded_at, recorded_by
      from piece_movements where to_place_id is not null
    union all
    select lot_id, site_id, from_place_id, id, movement, case when movement = 'count' then 0 else -pieces end,
           case when movement = 'count' then pieces end, happened_at, recorded_at, recorded_by
      from piece_movements where from_place_id is not null
    union all
    select a.facepiece_lot_id, a.site_id, a.station_id, a.id, 'use', -1, null, e.happened_at, e.recorded_at, e.recorded_by
      from attempts a
      join respirators r on r.id = a.respirator_id and r.facepiece = 'filtering_facepiece'
      join attempt_events e on e.attempt_id = a.id and e.event->>'kind' = 'donned'
     where a.facepiece_lot_id is not null
       and (coalesce((e.event->>'fresh')::boolean, false) or not exists (
           select from attempt_events d
            where d.attempt_id = a.id and d.seq < e.seq and d.event->>'kind' = 'donned'))
), counted as (
    select entries.*, count(counted) over in_order as counts
      from entries
      window in_order as (partition by lot_id, place_id order by happened_at, recorded_at, id)
), summed as (
    select e.*, coalesce(first_value(counted) over since_count, 0) + sum(change) over since_count as on_hand
      from counted e
      window since_count as (partition by lot_id, place_id, counts order by happened_at, recorded_at, id)
)
select lot_id, site_id, place_id, id, movement, change, counted, on_hand::bigint as on_hand,
       case when counted is not null then
           (counted - coalesce(lag(on_hand) over (
               partition by lot_id, place_id order by happened_at, recorded_at, id), 0))::bigint
       end as difference,
       happened_at, recorded_at, recorded_by
  from summed;
