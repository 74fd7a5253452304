-- Who is tested, whether a clinician permits it, and what they may be tested on.

create table people (
    id uuid primary key,
    site_id uuid not null references sites (id),
    staff_number text not null constraint people_staff_number_blank check (btrim(staff_number) <> ''),
    given_name text not null,
    family_name text not null,
    birth_date date,
    unit text not null default '',
    kind text not null default 'staff' constraint people_kind check (kind in ('staff', 'temporary')),
    sponsor text,
    left_on date,
    left_recorded_at timestamptz,
    version integer not null default 1,
    created_at timestamptz not null default now(),
    constraint people_staff_number_taken unique (site_id, staff_number),
    constraint people_name_blank check (btrim(given_name || family_name) <> ''),
    constraint people_temporary_has_sponsor check (kind <> 'temporary' or sponsor is not null),
    constraint people_leaving_is_dated check ((left_on is null) = (left_recorded_at is null))
);
create index people_by_name on people (site_id, family_name, given_name, id);

create table permissions (
    id uuid primary key,
    site_id uuid not null references sites (id),
    person_id uuid not null references people (id),
    decision text not null constraint permissions_decision
        check (decision in ('permitted', 'permitted_with_limits', 'not_now', 'unknown')),
    limits text,
    valid_from date not null,
    valid_until date,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint permissions_dates check (valid_until is null or valid_until >= valid_from)
);
create index permissions_by_person on permissions (person_id, happened_at);
create index permissions_by_site on permissions (site_id);
select make_append_only('permissions');

-- Every roster file accepted, unchanged, with its fingerprint.
create table roster_imports (
    id uuid primary key,
    site_id uuid not null references sites (id),
    file bytea not null,
    file_sha256 bytea not null,
    headers jsonb not null,
    row_count integer not null,
    added_count integer not null,
    changed_count integer not null,
    unchanged_count integer not null,
    missing_count integer not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index roster_imports_by_site on roster_imports (site_id, id);
select make_append_only('roster_imports');

create table respirators (
    id uuid primary key,
    site_id uuid not null references sites (id),
    number integer not null,
    make text not null,
    model text not null,
    style text not null,
    size text not null,
    facepiece text not null constraint respirators_facepiece
        check (facepiece in ('filtering_facepiece', 'half_mask', 'full_facepiece')),
    filter_class text not null,
    approval_number text,
    protection_factor integer not null constraint respirators_protection_factor check (protection_factor > 0),
    retired_at timestamptz,
    version integer not null default 1,
    created_at timestamptz not null default now(),
    constraint respirators_known_already unique (site_id, make, model, style, size),
    constraint respirators_number_taken unique (site_id, number)
);
