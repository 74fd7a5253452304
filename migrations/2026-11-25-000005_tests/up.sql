-- Screenings and attempts: what was set up, every event in order, and the one verdict the events lead to.

create table screenings (
    id uuid primary key,
    site_id uuid not null references sites (id),
    visit_id uuid not null references visits (id),
    person_id uuid not null references people (id),
    station_id uuid not null references stations (id),
    agent text not null constraint screenings_agent check (agent in ('saccharin', 'denatonium_benzoate')),
    fill_id uuid not null references fills (id),
    rule_set_name text not null,
    rule_set_version text not null,
    setup jsonb not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index screenings_by_visit on screenings (visit_id);
create index screenings_by_person on screenings (person_id);
create index screenings_by_fill on screenings (fill_id);
create index screenings_by_station on screenings (station_id);
create index screenings_by_site on screenings (site_id);
select make_append_only('screenings');

create table screening_events (
    screening_id uuid not null references screenings (id),
    seq integer not null constraint screening_events_seq check (seq > 0),
    event jsonb not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    primary key (screening_id, seq)
);
select make_append_only('screening_events');

create table screening_verdicts (
    screening_id uuid primary key references screenings (id),
    outcome text not null constraint screening_verdicts_outcome
        check (outcome in ('level', 'not_tasted', 'void', 'stopped')),
    reason text not null,
    level integer constraint screening_verdicts_level check (level in (10, 20, 30)),
    squeezes integer not null,
    ended_at timestamptz not null,
    recorded_at timestamptz not null,
    constraint screening_verdicts_level_when_tasted check ((outcome = 'level') = (level is not null))
);
select make_append_only('screening_verdicts');

create table attempts (
    id uuid primary key,
    site_id uuid not null references sites (id),
    visit_id uuid not null references visits (id),
    person_id uuid not null references people (id),
    station_id uuid not null references stations (id),
    respirator_id uuid not null references respirators (id),
    screening_id uuid not null references screenings (id),
    fill_id uuid not null references fills (id),
    method text not null constraint attempts_method check (method in ('saccharin', 'denatonium_benzoate')),
    rule_set_name text not null,
    rule_set_version text not null,
    setup jsonb not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index attempts_by_visit on attempts (visit_id);
create index attempts_by_person on attempts (person_id, respirator_id);
create index attempts_by_respirator on attempts (respirator_id);
create index attempts_by_screening on attempts (screening_id);
create index attempts_by_fill on attempts (fill_id);
create index attempts_by_station on attempts (station_id);
create index attempts_by_site on attempts (site_id, id);
select make_append_only('attempts');

create table attempt_events (
    attempt_id uuid not null references attempts (id),
    seq integer not null constraint attempt_events_seq check (seq > 0),
    event jsonb not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    primary key (attempt_id, seq)
);
select make_append_only('attempt_events');

create table attempt_verdicts (
    attempt_id uuid primary key references attempts (id),
    outcome text not null constraint attempt_verdicts_outcome check (outcome in ('pass', 'fail', 'void', 'stopped')),
    reason text not null,
    tested_on date not null,
    started_testing_at timestamptz,
    decided_at timestamptz not null,
    ended_at timestamptz not null,
    exercise integer,
    second integer,
    recorded_at timestamptz not null
);
select make_append_only('attempt_verdicts');

-- Takes an attempt out of every later judgement; it can never make one pass.
create table attempt_corrections (
    id uuid primary key,
    site_id uuid not null references sites (id),
    attempt_id uuid not null references attempts (id),
    reason text not null constraint attempt_corrections_reason_blank check (btrim(reason) <> ''),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint attempt_corrections_withdrawn_already unique (attempt_id)
);
create index attempt_corrections_by_site on attempt_corrections (site_id);
select make_append_only('attempt_corrections');
