-- Stations, storerooms and gates that are named anew, and stations that are closed for the rest of their day.
-- Both columns may be empty, so that digests of older rows stay what they were: an empty version is the first.

alter table stations
    add column version integer constraint stations_version check (version > 1),
    -- Since when it takes nobody any more.
    add column closed_at timestamptz;
alter table places add column version integer constraint places_version check (version > 1);
alter table gates add column version integer constraint gates_version check (version > 1);
