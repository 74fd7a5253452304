-- What the older program cannot read goes; lots of two makers with one number are told apart by the maker's name in it.
create or replace view piece_ledger as
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

drop table look_back_readings, attempt_late_events;
drop index equipment_checks_of_mix_ups;
alter table attempt_events drop column told_by;
alter table screenings drop column reported;
alter table attempts drop column facepiece_lot_id, drop column reported;

drop index lots_known_already, lots_pieces_known_already, lots_by_gtin;
alter table lots disable trigger user;
update lots set lot_number = lot_number || ' ' || maker where maker is not null and exists (
    select from lots other where other.id <> lots.id and other.site_id = lots.site_id
        and (other.agent, other.solution, other.supply, other.respirator_id, other.lot_number)
            is not distinct from (lots.agent, lots.solution, lots.supply, lots.respirator_id, lots.lot_number));
alter table lots enable trigger user;
alter table lots
    drop column maker, drop column box_count,
    add constraint lots_known_already unique (site_id, agent, solution, lot_number);
create unique index lots_pieces_known_already on lots (site_id, supply, respirator_id, lot_number)
    nulls not distinct where supply is not null;
alter table places drop constraint places_purpose_of_storerooms, drop column purpose;
