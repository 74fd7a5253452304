-- Entries under somebody's name, badges read sooner at another gate than a person can walk there, and how often the
-- same badge is read once more. New columns may be empty, so that digests of older rows stay what they were.

-- Deleting is what retention does, in a transaction of its own that says so; nothing else changes a fact.
create function forbid_change_but_pruning() returns trigger language plpgsql as $$
begin
    if tg_op = 'DELETE' and current_setting('sellion.pruning', true) = 'on' then
        return old;
    end if;
    raise exception 'rows of % are facts: append a correction instead', tg_table_name
        using errcode = 'restrict_violation', constraint = 'facts_are_append_only';
end
$$;

create function make_prunable(target regclass) returns void language plpgsql as $$
begin
    execute format('create or replace trigger facts_are_append_only before update or delete on %s
                    for each row execute function forbid_change_but_pruning()', target);
    execute format('create or replace trigger facts_are_not_truncated before truncate on %s
                    for each statement execute function forbid_change()', target);
end
$$;

create table lead_entries (
    id uuid primary key,
    site_id uuid not null references sites (id),
    gate_id uuid not null references gates (id),
    gate_policy_id uuid references gate_policies (id),
    -- The scan may come later, or go sooner.
    of_scan uuid,
    lead text not null constraint lead_entries_lead_blank check (btrim(lead) <> ''),
    reason text not null constraint lead_entries_reason
        check (reason in ('emergency_call', 'cannot_confirm', 'nobody_else', 'urgent_repair', 'other_urgent')),
    -- What the device's clock said, where it ran ahead of ours.
    told_at timestamptz,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index lead_entries_by_site on lead_entries (site_id, id);
create index lead_entries_by_gate on lead_entries (gate_id);
create index lead_entries_by_policy on lead_entries (gate_policy_id);
select make_prunable('lead_entries');

create table lead_entry_reviews (
    id uuid primary key,
    site_id uuid not null references sites (id),
    lead_entry_id uuid not null references lead_entries (id),
    note text not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint lead_entry_reviews_reviewed_already unique (lead_entry_id)
);
create index lead_entry_reviews_by_site on lead_entry_reviews (site_id);
select make_prunable('lead_entry_reviews');

-- The same both ways: of two gates the one with the smaller id is named first.
create table walking_times (
    id uuid primary key,
    site_id uuid not null references sites (id),
    gate_id uuid not null references gates (id),
    other_gate_id uuid not null references gates (id),
    -- None: nobody wants to be told of these two any more.
    seconds integer not null constraint walking_times_seconds check (seconds between 0 and 86400),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint walking_times_in_order check (gate_id < other_gate_id)
);
create index walking_times_by_gate on walking_times (gate_id, other_gate_id, recorded_at desc);
create index walking_times_by_other_gate on walking_times (other_gate_id);
create index walking_times_by_site on walking_times (site_id);
select make_append_only('walking_times');

-- A pair and nothing more: who went where is not kept here.
create table twin_notices (
    id uuid primary key,
    site_id uuid not null references sites (id),
    badge_id uuid not null references badges (id),
    first_gate_id uuid not null references gates (id),
    first_at timestamptz not null,
    second_gate_id uuid not null references gates (id),
    second_at timestamptz not null,
    walk_seconds integer not null,
    -- What was allowed for the two clocks.
    tolerance_seconds integer not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index twin_notices_by_site on twin_notices (site_id, id);
create index twin_notices_by_badge on twin_notices (badge_id);
create index twin_notices_by_first_gate on twin_notices (first_gate_id);
create index twin_notices_by_second_gate on twin_notices (second_gate_id);
select make_prunable('twin_notices');

create table twin_notice_reviews (
    id uuid primary key,
    site_id uuid not null references sites (id),
    twin_notice_id uuid not null references twin_notices (id),
    note text not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint twin_notice_reviews_reviewed_already unique (twin_notice_id)
);
create index twin_notice_reviews_by_site on twin_notice_reviews (site_id);
select make_prunable('twin_notice_reviews');

alter table scans
    -- When the same badge was read here a moment before: this reading counts in no figure.
    add column repeats_at timestamptz,
    -- The gate where the same badge was read sooner than a person can walk: this answer asked for the name.
    add column twin_gate_id uuid references gates (id),
    -- How far the device knew its clock to be ahead of ours.
    add column clock_ahead_ms integer;
create index scans_by_twin_gate on scans (twin_gate_id) where twin_gate_id is not null;
create index scans_by_gate_time on scans (gate_id, happened_at);

alter table sites
    -- What two clocks may differ by where nobody knows it; empty is the program's own.
    add column clock_tolerance_seconds integer constraint sites_clock_tolerance
        check (clock_tolerance_seconds between 0 and 3600),
    -- How soon the same badge at the same gate is a nervous hand; empty is the program's own.
    add column repeat_scan_seconds integer constraint sites_repeat_scan check (repeat_scan_seconds between 0 and 600);
