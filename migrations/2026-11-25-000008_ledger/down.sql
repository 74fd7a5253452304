-- Lots that the older program cannot read go with everything that stands on them; other facts stay.
drop view piece_ledger;
drop function fill_is_in_nebulizer(uuid);
drop trigger fills_bottle_holds_enough on fills;
drop function forbid_overdrawing();
drop function bottle_on_hand_ul(uuid);
drop view bottle_ledger;

create index screenings_by_station on screenings (station_id);
create index attempts_by_station on attempts (station_id);
drop index screenings_by_station_time, attempts_by_station_time, screenings_by_tester, attempts_by_tester;

alter table attempts drop column hood_id;
alter table screenings drop column hood_id;
alter table fills drop column topped_up_fill_id, drop column reported;
drop index fills_by_site;
drop table stop_releases, stops, squeeze_weighings, fill_gaps, fill_emptyings, piece_movements, bottle_movements,
    placements, equipment_checks, equipment;

alter table lot_marks drop column reach;
alter table lots disable trigger user;
alter table lot_marks disable trigger user;
delete from lot_marks where lot_id in (select id from lots where supply is not null);
delete from lots where supply is not null;
alter table lot_marks enable trigger user;
alter table lots enable trigger user;
alter table lots drop constraint lots_supply_is_one_kind;
alter table lots
    drop column supply, drop column respirator_id, drop column box_lot_number, drop column gtin, drop column label_read,
    alter column agent set not null, alter column solution set not null,
    alter column printed_expiry set not null, alter column expires_on set not null;
drop table places;
