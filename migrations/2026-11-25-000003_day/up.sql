-- One fit-testing day: its stations, and each person's way through it.

create table days (
    id uuid primary key,
    site_id uuid not null references sites (id),
    place text not null constraint days_place_blank check (btrim(place) <> ''),
    opens_at timestamptz not null,
    closes_at timestamptz not null,
    rule_set_name text not null,
    rule_set_version text not null,
    closed_at timestamptz,
    version integer not null default 1,
    created_at timestamptz not null default now(),
    constraint days_hours check (closes_at > opens_at)
);
create index days_by_site on days (site_id, id);

create table stations (
    id uuid primary key,
    site_id uuid not null references sites (id),
    day_id uuid not null references days (id),
    name text not null constraint stations_name_blank check (btrim(name) <> ''),
    parts text[] not null,
    hood_forbids_bending boolean not null default false,
    created_at timestamptz not null default now(),
    constraint stations_name_taken unique (day_id, name),
    constraint stations_parts check (
        cardinality(parts) > 0 and parts <@ array['check_in', 'screening', 'testing', 'badges'])
);
create index stations_by_site on stations (site_id);

-- `step`, `not_before`, `ready_at` and `held_by_station_id` are the queue; everything else is fixed at check-in.
-- `not_before` is the wait of the ladder or of a return; `ready_at` adds the wait after food and drink to it. What
-- holds a person back for other reasons follows from facts that others record, so it is never stored here.
create table visits (
    id uuid primary key,
    site_id uuid not null references sites (id),
    day_id uuid not null references days (id),
    person_id uuid not null references people (id),
    ticket integer not null,
    walk_in boolean not null default false,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    step text not null constraint visits_step
        check (step in ('screening', 'testing', 'referred', 'done')),
    not_before timestamptz not null,
    ready_at timestamptz not null,
    held_by_station_id uuid references stations (id),
    constraint visits_checked_in_already unique (day_id, person_id),
    constraint visits_ticket_taken unique (day_id, ticket),
    constraint visits_ready_in_time check (ready_at >= not_before)
);
create index visits_by_person on visits (person_id);
create index visits_by_site on visits (site_id, id);
-- One person at a station at a time, whoever presses at once.
create unique index visits_station_in_use on visits (held_by_station_id) where held_by_station_id is not null;
create index visits_waiting on visits (day_id, step, ready_at, ticket) where held_by_station_id is null;

create table visit_answers (
    id uuid primary key,
    site_id uuid not null references sites (id),
    visit_id uuid not null references visits (id),
    last_intake_at timestamptz,
    hair_at_seal boolean not null,
    feels_well boolean not null,
    face_changed boolean not null,
    gear_worn text,
    needs text,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index visit_answers_by_visit on visit_answers (visit_id, happened_at);
create index visit_answers_by_site on visit_answers (site_id);
select make_append_only('visit_answers');

create table calls (
    id uuid primary key,
    site_id uuid not null references sites (id),
    station_id uuid not null references stations (id),
    visit_id uuid not null references visits (id),
    step text not null constraint calls_step check (step in ('screening', 'testing')),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index calls_by_station on calls (station_id);
create index calls_by_visit on calls (visit_id);
create index calls_by_site on calls (site_id);
select make_append_only('calls');

-- Called, but not there: back into the queue.
create table visit_returns (
    id uuid primary key,
    site_id uuid not null references sites (id),
    visit_id uuid not null references visits (id),
    station_id uuid not null references stations (id),
    reason text not null constraint visit_returns_reason check (reason in ('not_there', 'other')),
    wait_seconds integer not null constraint visit_returns_wait check (wait_seconds >= 0),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index visit_returns_by_station on visit_returns (station_id);
create index visit_returns_by_visit on visit_returns (visit_id);
create index visit_returns_by_site on visit_returns (site_id);
select make_append_only('visit_returns');

create table referrals (
    id uuid primary key,
    site_id uuid not null references sites (id),
    visit_id uuid not null references visits (id),
    person_id uuid not null references people (id),
    reason text not null constraint referrals_reason
        check (reason in ('ladder_used_up', 'cannot_taste', 'method_not_allowed', 'disputed', 'other')),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index referrals_by_site on referrals (site_id, id);
create index referrals_by_visit on referrals (visit_id);
create index referrals_by_person on referrals (person_id);
select make_append_only('referrals');
