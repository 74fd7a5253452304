-- Clearances as last computed, the badges printed from them, and the gates that read the badges.

-- A cache of a pure function of the facts: rewritten in the transaction of every fact that it follows from.
create table clearances (
    person_id uuid not null references people (id),
    respirator_id uuid not null references respirators (id),
    site_id uuid not null references sites (id),
    state text not null constraint clearances_state check (state in ('cleared', 'held', 'not_cleared')),
    reasons text[] not null,
    basis_attempt_id uuid references attempts (id),
    tested_on date,
    due_on date,
    due_anniversary date,
    due_strict date,
    valid_from timestamptz,
    valid_until timestamptz,
    computed_at timestamptz not null,
    primary key (person_id, respirator_id)
);
create index clearances_by_respirator on clearances (respirator_id);
create index clearances_by_attempt on clearances (basis_attempt_id);
create index clearances_by_site on clearances (site_id);

-- Private halves are sealed with a key that the database never sees.
create table signing_keys (
    id uuid primary key,
    site_id uuid not null references sites (id),
    kid text not null constraint signing_keys_kid_taken unique,
    public_jwk jsonb not null,
    private_sealed bytea not null,
    -- From here on it signs nothing new, though what it signed is still accepted until it is retired.
    signs_until timestamptz,
    retired_at timestamptz,
    created_at timestamptz not null default now()
);
create index signing_keys_by_site on signing_keys (site_id);
-- Two servers that both find no key must not both make one.
create unique index signing_keys_one_signs on signing_keys (site_id) where signs_until is null;

create table badges (
    id uuid primary key,
    site_id uuid not null references sites (id),
    person_id uuid not null references people (id),
    serial text not null constraint badges_serial_taken unique,
    status_index bigint not null,
    signing_key_id uuid not null references signing_keys (id),
    code text not null,
    expires_at timestamptz not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint badges_status_index_taken unique (site_id, status_index)
);
create index badges_by_person on badges (person_id);
create index badges_by_key on badges (signing_key_id);
select make_append_only('badges');

create table badge_respirators (
    badge_id uuid not null references badges (id),
    respirator_id uuid not null references respirators (id),
    due_on date not null,
    recorded_at timestamptz not null,
    primary key (badge_id, respirator_id)
);
create index badge_respirators_by_respirator on badge_respirators (respirator_id);
select make_append_only('badge_respirators');

create table badge_endings (
    id uuid primary key,
    site_id uuid not null references sites (id),
    badge_id uuid not null references badges (id),
    reason text not null constraint badge_endings_reason
        check (reason in ('lost', 'damaged', 'misprint', 'replaced', 'left', 'withdrawn')),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint badge_endings_ended_already unique (badge_id)
);
create index badge_endings_by_site on badge_endings (site_id);
select make_append_only('badge_endings');

create table gates (
    id uuid primary key,
    site_id uuid not null references sites (id),
    name text not null constraint gates_name_blank check (btrim(name) <> ''),
    created_at timestamptz not null default now(),
    constraint gates_name_taken unique (site_id, name)
);

create table gate_policies (
    id uuid primary key,
    site_id uuid not null references sites (id),
    gate_id uuid not null references gates (id),
    effective_from timestamptz not null,
    none_needed boolean not null,
    knowledge_age_max_seconds integer not null constraint gate_policies_age check (knowledge_age_max_seconds > 0),
    fallback text not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index gate_policies_by_gate on gate_policies (gate_id, effective_from desc, recorded_at desc);
create index gate_policies_by_site on gate_policies (site_id);
select make_append_only('gate_policies');

create table gate_policy_respirators (
    gate_policy_id uuid not null references gate_policies (id),
    respirator_id uuid not null references respirators (id),
    -- The preferred respirator comes first.
    place integer not null,
    recorded_at timestamptz not null,
    primary key (gate_policy_id, respirator_id)
);
create index gate_policy_respirators_by_respirator on gate_policy_respirators (respirator_id);
select make_append_only('gate_policy_respirators');

create table devices (
    id uuid primary key,
    site_id uuid not null references sites (id),
    name text not null constraint devices_name_blank check (btrim(name) <> ''),
    role text not null,
    gate_id uuid references gates (id),
    station_id uuid references stations (id),
    expires_at timestamptz not null,
    revoked_at timestamptz,
    created_at timestamptz not null default now(),
    constraint devices_gate_when_gate check ((role = 'gate') = (gate_id is not null))
);
create index devices_by_site on devices (site_id, id);
create index devices_by_gate on devices (gate_id);
create index devices_by_station on devices (station_id);

-- Scans are stored in batches: the audit chain has one row for each batch and device, with a digest over its scans.
create table scans (
    id uuid primary key,
    batch_id uuid not null,
    site_id uuid not null references sites (id),
    gate_id uuid not null references gates (id),
    badge_id uuid references badges (id),
    respirator_id uuid references respirators (id),
    gate_policy_id uuid references gate_policies (id),
    code_digest bytea not null,
    typed boolean not null default false,
    answer text not null constraint scans_answer
        check (answer in ('enter', 'not_cleared', 'cannot_confirm', 'not_valid')),
    reason text not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index scans_by_gate on scans (gate_id, id);
create index scans_by_batch on scans (batch_id);
create index scans_by_badge on scans (badge_id, happened_at);
select make_append_only('scans');
