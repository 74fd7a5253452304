-- Solutions, as far as an attempt depends on them: lot, bottle, fill. Volumes are whole microlitres, so sums are exact.

create table lots (
    id uuid primary key,
    site_id uuid not null references sites (id),
    agent text not null constraint lots_agent check (agent in ('saccharin', 'denatonium_benzoate')),
    solution text not null constraint lots_solution check (solution in ('screening', 'test')),
    lot_number text not null constraint lots_lot_number_blank check (btrim(lot_number) <> ''),
    printed_expiry text not null,
    expires_on date not null,
    opened_life_days integer constraint lots_opened_life check (opened_life_days > 0),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint lots_known_already unique (site_id, agent, solution, lot_number)
);
select make_append_only('lots');

-- A lot is stopped when its newest mark is a stop.
create table lot_marks (
    id uuid primary key,
    site_id uuid not null references sites (id),
    lot_id uuid not null references lots (id),
    mark text not null constraint lot_marks_mark check (mark in ('stop', 'release')),
    reason text not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index lot_marks_by_lot on lot_marks (lot_id, recorded_at);
create index lot_marks_by_site on lot_marks (site_id);
select make_append_only('lot_marks');

create table bottles (
    id uuid primary key,
    site_id uuid not null references sites (id),
    lot_id uuid not null references lots (id),
    label text not null constraint bottles_label_blank check (btrim(label) <> ''),
    volume_ul bigint not null constraint bottles_volume check (volume_ul > 0),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint bottles_label_taken unique (site_id, label)
);
create index bottles_by_lot on bottles (lot_id);
select make_append_only('bottles');

create table bottle_openings (
    id uuid primary key,
    site_id uuid not null references sites (id),
    bottle_id uuid not null references bottles (id),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint bottle_openings_open_already unique (bottle_id)
);
create index bottle_openings_by_site on bottle_openings (site_id);
select make_append_only('bottle_openings');

create table fills (
    id uuid primary key,
    site_id uuid not null references sites (id),
    station_id uuid not null references stations (id),
    bottle_id uuid not null references bottles (id),
    nebulizer text not null constraint fills_nebulizer_blank check (btrim(nebulizer) <> ''),
    volume_ul bigint not null constraint fills_volume check (volume_ul > 0),
    rinsed boolean not null default false,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index fills_by_station on fills (station_id, happened_at);
create index fills_by_nebulizer on fills (site_id, nebulizer, happened_at);
create index fills_by_bottle on fills (bottle_id);
select make_append_only('fills');
