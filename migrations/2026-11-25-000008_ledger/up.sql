-- The ledger of supplies: where everything is, what came in and went out, what is out of use, and what is in doubt.

-- A storeroom, or a station under the station's own id.
create table places (
    id uuid primary key,
    site_id uuid not null references sites (id),
    station_id uuid references stations (id) constraint places_station_once unique,
    name text not null constraint places_name_blank check (btrim(name) <> ''),
    created_at timestamptz not null default now(),
    constraint places_station_is_itself check (station_id is null or station_id = id)
);
create unique index places_name_taken on places (site_id, name) where station_id is null;
create index places_by_site on places (site_id, id);
insert into places (id, site_id, name) select gen_random_uuid(), id, 'Storeroom' from sites;
insert into places (id, site_id, station_id, name) select id, site_id, id, name from stations;

-- What is counted in pieces has lots too. Columns added here are empty in every older row, so that no digest changes.
alter table lots
    alter column agent drop not null,
    alter column solution drop not null,
    alter column printed_expiry drop not null,
    alter column expires_on drop not null,
    add column supply text constraint lots_supply check (supply in ('nebulizer', 'hood', 'facepiece')),
    add column respirator_id uuid references respirators (id),
    -- The number on the outer box, where it differs from that on the bottle.
    add column box_lot_number text,
    add column gtin text constraint lots_gtin check (gtin ~ '^[0-9]{14}$'),
    add column label_read text constraint lots_label_read check (label_read in ('scanned', 'typed_twice'));
alter table lots add constraint lots_supply_is_one_kind check (
    (supply is null) = (agent is not null and solution is not null)
    and (supply is null or (agent is null and solution is null))
    and (supply is not distinct from 'facepiece') = (respirator_id is not null)
    and (printed_expiry is null) = (expires_on is null)
    and (supply is not null or expires_on is not null));
create unique index lots_pieces_known_already on lots (site_id, supply, respirator_id, lot_number)
    nulls not distinct where supply is not null;
create index lots_by_respirator on lots (respirator_id);

-- Null: only what surely stands on the lot is held; 'possibly': also what may.
alter table lot_marks add column reach text constraint lot_marks_reach check (reach in ('possibly'));

-- Nebulizers and hoods, each with its own label. A label names the same thing for ever.
create table equipment (
    id uuid primary key,
    site_id uuid not null references sites (id),
    kind text not null constraint equipment_kind check (kind in ('nebulizer', 'hood')),
    label text not null constraint equipment_label_blank check (btrim(label) <> ''),
    lot_id uuid references lots (id),
    -- How long the wipe has to stay wet on a hood, by the wipe's label.
    contact_seconds integer constraint equipment_contact check (contact_seconds >= 0),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint equipment_contact_of_hoods check ((kind = 'hood') = (contact_seconds is not null))
);
-- Small and capital letters are the same label: nobody tells n1 from N1 with gloves on.
create unique index equipment_label_taken on equipment (site_id, kind, lower(label));
create index equipment_by_lot on equipment (lot_id);
select make_append_only('equipment');

-- What was seen of or done to a nebulizer or hood. What was found first counts until something later mends it.
create table equipment_checks (
    id uuid primary key,
    site_id uuid not null references sites (id),
    equipment_id uuid not null references equipment (id),
    finding text not null constraint equipment_checks_finding
        check (finding in ('sprays', 'clogged', 'mixed_up', 'rinsed', 'wiped', 'torn', 'retired')),
    -- The nebulizer whose liquid was poured in by mistake: it is out as well.
    other_equipment_id uuid references equipment (id),
    note text,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint equipment_checks_mixed_with check (other_equipment_id is null or
        (finding = 'mixed_up' and other_equipment_id <> equipment_id))
);
create index equipment_checks_by_equipment on equipment_checks (equipment_id, happened_at);
create index equipment_checks_by_other on equipment_checks (other_equipment_id, happened_at);
create index equipment_checks_by_site on equipment_checks (site_id, id);
select make_append_only('equipment_checks');

-- Where a bottle, a nebulizer or a hood is: the newest one counts.
create table placements (
    id uuid primary key,
    site_id uuid not null references sites (id),
    bottle_id uuid references bottles (id),
    equipment_id uuid references equipment (id),
    movement text not null constraint placements_movement
        check (movement in ('receive', 'issue', 'hand_over', 'move', 'return')),
    from_place_id uuid references places (id),
    to_place_id uuid not null references places (id),
    -- Who took it, beside the one who recorded it.
    handed_to uuid references users (id),
    reason text,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint placements_of_one_thing check (num_nonnulls(bottle_id, equipment_id) = 1),
    constraint placements_move_somewhere check (from_place_id is distinct from to_place_id)
);
create index placements_by_bottle on placements (bottle_id, happened_at);
create index placements_by_equipment on placements (equipment_id, happened_at);
create index placements_by_place on placements (to_place_id, happened_at);
create index placements_by_site on placements (site_id, id);
select make_append_only('placements');

-- What left a bottle by another way than a fill, and what was found in it when somebody counted.
create table bottle_movements (
    id uuid primary key,
    site_id uuid not null references sites (id),
    bottle_id uuid not null references bottles (id),
    movement text not null constraint bottle_movements_movement
        check (movement in ('discard', 'spill', 'prepare', 'count')),
    volume_ul bigint not null constraint bottle_movements_volume check (volume_ul >= 0),
    -- How far the volume can be trusted.
    guessed boolean not null,
    -- What it was made into.
    prepared_lot_id uuid references lots (id),
    place_id uuid references places (id),
    reason text not null constraint bottle_movements_reason_blank check (btrim(reason) <> ''),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint bottle_movements_moves check (movement = 'count' or volume_ul > 0),
    constraint bottle_movements_prepares check ((movement = 'prepare') = (prepared_lot_id is not null))
);
create index bottle_movements_by_bottle on bottle_movements (bottle_id, happened_at);
create index bottle_movements_by_prepared_lot on bottle_movements (prepared_lot_id);
create index bottle_movements_by_site on bottle_movements (site_id, id);
select make_append_only('bottle_movements');

-- What is counted in pieces: facepieces, smoke tubes, spare nebulizers and hoods.
create table piece_movements (
    id uuid primary key,
    site_id uuid not null references sites (id),
    lot_id uuid not null references lots (id),
    movement text not null constraint piece_movements_movement
        check (movement in ('receive', 'issue', 'hand_over', 'move', 'return', 'use', 'discard', 'count')),
    pieces bigint not null constraint piece_movements_pieces check (pieces >= 0),
    from_place_id uuid references places (id),
    to_place_id uuid references places (id),
    handed_to uuid references users (id),
    reason text,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint piece_movements_moves check (movement = 'count' or pieces > 0),
    constraint piece_movements_from check ((movement = 'receive') = (from_place_id is null)),
    constraint piece_movements_to check ((movement in ('use', 'discard', 'count')) = (to_place_id is null)),
    constraint piece_movements_move_somewhere check (from_place_id is distinct from to_place_id),
    constraint piece_movements_say_why check (movement not in ('discard', 'count') or btrim(reason) <> '')
);
create index piece_movements_by_lot on piece_movements (lot_id, happened_at);
create index piece_movements_by_place_from on piece_movements (from_place_id);
create index piece_movements_by_place_to on piece_movements (to_place_id);
create index piece_movements_by_site on piece_movements (site_id, id);
select make_append_only('piece_movements');

-- A fill made on top of a rest counts for both bottles, and is as old as the older.
alter table fills
    add column topped_up_fill_id uuid references fills (id),
    -- Made out of reach of the server: it is a fact, whatever the books say.
    add column reported text constraint fills_reported check (reported = 'afterwards');
create index fills_by_topped_up on fills (topped_up_fill_id) where topped_up_fill_id is not null;
create index fills_by_site on fills (site_id, id);

create table fill_emptyings (
    id uuid primary key,
    site_id uuid not null references sites (id),
    fill_id uuid not null references fills (id) constraint fill_emptyings_emptied_already unique,
    -- What was left and thrown away, where somebody measured it.
    discarded_ul bigint constraint fill_emptyings_volume check (discarded_ul >= 0),
    rinsed boolean not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index fill_emptyings_by_site on fill_emptyings (site_id, id);
select make_append_only('fill_emptyings');

-- A time for which nobody knows what a station sprayed. A gap stays a gap.
create table fill_gaps (
    id uuid primary key,
    site_id uuid not null references sites (id),
    station_id uuid not null references stations (id),
    agent text,
    solution text,
    from_at timestamptz not null,
    until_at timestamptz not null,
    reason text not null constraint fill_gaps_reason_blank check (btrim(reason) <> ''),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint fill_gaps_span check (until_at > from_at),
    constraint fill_gaps_agent check (
        agent in ('saccharin', 'denatonium_benzoate', 'isoamyl_acetate', 'irritant_smoke')),
    constraint fill_gaps_solution check (solution in ('screening', 'test'))
);
create index fill_gaps_by_station on fill_gaps (station_id, from_at);
create index fill_gaps_by_site on fill_gaps (site_id, id);
select make_append_only('fill_gaps');

-- How much one squeeze of a nebulizer gives: weighed before and after so many squeezes.
create table squeeze_weighings (
    id uuid primary key,
    site_id uuid not null references sites (id),
    equipment_id uuid not null references equipment (id),
    squeezes integer not null constraint squeeze_weighings_squeezes check (squeezes between 1 and 1000),
    before_mg bigint not null,
    after_mg bigint not null,
    -- What one step of the scale's last digit weighs.
    scale_step_mg bigint not null constraint squeeze_weighings_scale_step check (scale_step_mg > 0),
    -- Micrograms in a microlitre: 1000 for water.
    density_ug_per_ul integer not null constraint squeeze_weighings_density check (density_ug_per_ul between 500 and 2000),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint squeeze_weighings_lighter check (after_mg >= 0 and after_mg < before_mg)
);
create index squeeze_weighings_by_equipment on squeeze_weighings (equipment_id, happened_at);
create index squeeze_weighings_by_site on squeeze_weighings (site_id, id);
select make_append_only('squeeze_weighings');

-- The hood that was used, where it was named.
alter table screenings add column hood_id uuid references equipment (id);
alter table attempts add column hood_id uuid references equipment (id);
create index screenings_by_hood on screenings (hood_id, happened_at) where hood_id is not null;
create index attempts_by_hood on attempts (hood_id, happened_at) where hood_id is not null;

-- What else than a lot can put results in doubt, and for which time.
create table stops (
    id uuid primary key,
    site_id uuid not null references sites (id),
    bottle_id uuid references bottles (id),
    fill_id uuid references fills (id),
    equipment_id uuid references equipment (id),
    tester_id uuid references users (id),
    station_id uuid references stations (id),
    from_at timestamptz,
    until_at timestamptz,
    reach text constraint stops_reach check (reach in ('possibly')),
    reason text not null constraint stops_reason_blank check (btrim(reason) <> ''),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint stops_one_subject check (num_nonnulls(bottle_id, fill_id, equipment_id, tester_id, station_id) = 1),
    constraint stops_span check (until_at > from_at),
    constraint stops_station_span check (station_id is null or (from_at is not null and until_at is not null))
);
create index stops_by_bottle on stops (bottle_id) where bottle_id is not null;
create index stops_by_fill on stops (fill_id) where fill_id is not null;
create index stops_by_equipment on stops (equipment_id) where equipment_id is not null;
create index stops_by_tester on stops (tester_id) where tester_id is not null;
create index stops_by_station on stops (station_id) where station_id is not null;
create index stops_by_site on stops (site_id, id);
select make_append_only('stops');

create table stop_releases (
    id uuid primary key,
    site_id uuid not null references sites (id),
    stop_id uuid not null references stops (id) constraint stop_releases_released_already unique,
    reason text not null constraint stop_releases_reason_blank check (btrim(reason) <> ''),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index stop_releases_by_site on stop_releases (site_id, id);
select make_append_only('stop_releases');

-- What a look-back walks along: runs of a station, a tester or a fill in time.
create index screenings_by_station_time on screenings (station_id, happened_at);
create index attempts_by_station_time on attempts (station_id, happened_at);
create index screenings_by_tester on screenings (recorded_by, happened_at);
create index attempts_by_tester on attempts (recorded_by, happened_at);
drop index screenings_by_station;
drop index attempts_by_station;

-- Every entry of every bottle, with what was in it afterwards by the books. A count begins the sum anew; by how much
-- it disagreed is its difference. What happened decides the order and not when it was told, so that an entry that
-- comes in late never counts twice.
create view bottle_ledger as
with entries as (
    select b.id as bottle_id, b.site_id, b.lot_id, b.id, 'receive' as movement, b.volume_ul as change_ul,
           null::bigint as counted_ul, b.happened_at, b.recorded_at, b.recorded_by, 0 as place_in_order
      from bottles b
    union all
    select f.bottle_id, f.site_id, b.lot_id, f.id, 'fill', -f.volume_ul, null,
           f.happened_at, f.recorded_at, f.recorded_by, 1
      from fills f join bottles b on b.id = f.bottle_id
    union all
    select m.bottle_id, m.site_id, b.lot_id, m.id, m.movement,
           case when m.movement = 'count' then 0 else -m.volume_ul end,
           case when m.movement = 'count' then m.volume_ul end,
           m.happened_at, m.recorded_at, m.recorded_by, 1
      from bottle_movements m join bottles b on b.id = m.bottle_id
), counted as (
    select entries.*, count(counted_ul) over in_order as counts
      from entries
      window in_order as (partition by bottle_id order by place_in_order, happened_at, recorded_at, id)
), summed as (
    select counted.*,
           coalesce(first_value(counted_ul) over since_count, 0) + sum(change_ul) over since_count as on_hand_ul
      from counted
      window since_count as (
          partition by bottle_id, counts order by place_in_order, happened_at, recorded_at, id)
)
select bottle_id, site_id, lot_id, id, movement, change_ul, counted_ul, on_hand_ul::bigint as on_hand_ul,
       case when counted_ul is not null then
           (counted_ul - lag(on_hand_ul) over (
               partition by bottle_id order by place_in_order, happened_at, recorded_at, id))::bigint
       end as difference_ul,
       happened_at, recorded_at, recorded_by, place_in_order
  from summed;

-- What is in a bottle now, by the books; below zero where more was recorded as taken than was there.
create function bottle_on_hand_ul(bottle uuid) returns bigint language sql stable as $$
    select on_hand_ul from bottle_ledger where bottle_id = bottle
     order by place_in_order desc, happened_at desc, recorded_at desc, id desc limit 1
$$;

-- Nobody fills from a bottle what is not in it, whoever else does at that moment: entries of one bottle wait for each
-- other. What is reported afterwards has happened, so it is kept and the balance shown below zero.
create function forbid_overdrawing() returns trigger language plpgsql as $$
begin
    if new.reported is null and bottle_on_hand_ul(new.bottle_id) < 0 then
        raise exception 'bottle % does not hold that much', new.bottle_id
            using errcode = 'check_violation', constraint = 'fills_bottle_holds_enough', table = 'fills';
    end if;
    return null;
end
$$;
create trigger fills_bottle_holds_enough after insert on fills for each row execute function forbid_overdrawing();

-- Whether a fill is in its nebulizer still: its newest fill is not emptied, and this one is that or lies below it.
create function fill_is_in_nebulizer(fill uuid) returns boolean language sql stable as $$
    with recursive newest as (
        select f.id, f.topped_up_fill_id
          from fills asked join fills f on f.site_id = asked.site_id and f.nebulizer = asked.nebulizer
         where asked.id = fill
         order by f.happened_at desc, f.recorded_at desc, f.id desc limit 1
    ), inside as (
        select n.id, n.topped_up_fill_id from newest n
         where not exists (select from fill_emptyings e where e.fill_id = n.id)
        union all
        select f.id, f.topped_up_fill_id from fills f join inside i on f.id = i.topped_up_fill_id
    )
    select exists (select from inside where id = fill)
$$;

-- Every entry of every lot of pieces at one place, in the same manner.
create view piece_ledger as
with entries as (
    select lot_id, site_id, to_place_id as place_id, id, movement, pieces as change, null::bigint as counted,
           happened_at, recorded_at, recorded_by
      from piece_movements where to_place_id is not null
    union all
    select lot_id, site_id, from_place_id, id, movement, case when movement = 'count' then 0 else -pieces end,
           case when movement = 'count' then pieces end, happened_at, recorded_at, recorded_by
      from piece_movements where from_place_id is not null
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
