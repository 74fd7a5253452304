-- The badge desk: badges for a whole day, their hand-over, and what becomes of those that were spoiled, lost or found.
-- New columns may be empty, so that digests of older rows stay what they were.

-- The name as it was when the badge was made. Empty in older rows: nobody kept it.
alter table badges add column printed_name text;

create table badge_batches (
    id uuid primary key,
    site_id uuid not null references sites (id),
    day_id uuid not null references days (id),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    -- When the last of its people had an outcome. Until then some server goes on with it.
    ended_at timestamptz
);
create index badge_batches_by_site on badge_batches (site_id, id);
create index badge_batches_by_day on badge_batches (day_id);
create index badge_batches_open on badge_batches (id) where ended_at is null;

-- Whoever was ready when the batch was asked for, in the order of printing.
create table badge_batch_people (
    badge_batch_id uuid not null references badge_batches (id),
    seq integer not null,
    person_id uuid not null references people (id),
    recorded_at timestamptz not null,
    primary key (badge_batch_id, seq),
    constraint badge_batch_people_once unique (badge_batch_id, person_id)
);
create index badge_batch_people_by_person on badge_batch_people (person_id);
select make_append_only('badge_batch_people');

-- What came of each: a badge, or why none was made.
create table badge_batch_outcomes (
    badge_batch_id uuid not null,
    seq integer not null,
    badge_id uuid references badges (id) constraint badge_batch_outcomes_badge_once unique,
    left_out text constraint badge_batch_outcomes_left_out
        check (left_out in ('not_cleared', 'under_review', 'has_badge', 'no_glyph', 'fault')),
    recorded_at timestamptz not null,
    primary key (badge_batch_id, seq),
    foreign key (badge_batch_id, seq) references badge_batch_people (badge_batch_id, seq),
    constraint badge_batch_outcomes_one_of_two check ((badge_id is null) <> (left_out is null))
);
select make_append_only('badge_batch_outcomes');

create table badge_hand_overs (
    id uuid primary key,
    site_id uuid not null references sites (id),
    badge_id uuid not null references badges (id) constraint badge_hand_overs_handed_already unique,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index badge_hand_overs_by_site on badge_hand_overs (site_id, happened_at);
select make_append_only('badge_hand_overs');

-- How a badge was spoiled, where it ended as a misprint.
alter table badge_endings add column misprint text
    constraint badge_endings_misprint check (misprint in ('smeared', 'cut_wrong', 'wrong_stock', 'misaligned', 'other')),
    add constraint badge_endings_misprint_of_one check (misprint is null or reason = 'misprint');

-- A badge that was made in place of another one of the same person, and why.
create table badge_reprints (
    badge_id uuid primary key references badges (id),
    site_id uuid not null references sites (id),
    replaces_id uuid not null references badges (id) constraint badge_reprints_once unique,
    reason text not null constraint badge_reprints_reason
        check (reason in ('lost', 'damaged', 'name_changed', 'misprint')),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index badge_reprints_by_site on badge_reprints (site_id, happened_at);
select make_append_only('badge_reprints');

create table badge_finds (
    id uuid primary key,
    site_id uuid not null references sites (id),
    badge_id uuid not null references badges (id),
    gate_id uuid references gates (id),
    place text not null constraint badge_finds_place_blank check (btrim(place) <> ''),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index badge_finds_by_site on badge_finds (site_id, id);
create index badge_finds_by_badge on badge_finds (badge_id);
create index badge_finds_by_gate on badge_finds (gate_id);
select make_append_only('badge_finds');

alter table sites
    -- After so many days without a hand-over a badge counts as unclaimed; empty is the program's own.
    add column unclaimed_after_days integer constraint sites_unclaimed_after check (unclaimed_after_days between 0 and 366),
    -- Since then unclaimed badges open no gate; empty: they do.
    add column unclaimed_closed_at timestamptz,
    -- What becomes of a badge that somebody found; empty is the program's own.
    add column found_badges text constraint sites_found_badges check (found_badges in ('hold', 'end'));

create constraint trigger raises_status_version after insert on badge_hand_overs
    deferrable initially deferred for each row execute function raise_status_version();

create function raise_status_version_of_site() returns trigger language plpgsql as $$
begin
    insert into status_versions as v (site_id, version) values (new.id, 1)
        on conflict (site_id) do update set version = v.version + 1, computed_at = now();
    return null;
end
$$;

create constraint trigger raises_status_version after update on sites
    deferrable initially deferred for each row
    when ((old.unclaimed_after_days, old.unclaimed_closed_at) is distinct from
        (new.unclaimed_after_days, new.unclaimed_closed_at))
    execute function raise_status_version_of_site();
