-- What a policy accepts may end at a moment of its own, may be a whole class of respirators, and may say under whose
-- name somebody may be let in. New columns may be empty, so that digests of older rows stay what they were.

alter table gate_policies
    -- With none_needed: until then. Afterwards what the policy accepts counts.
    add column none_needed_until timestamptz constraint gate_policies_none_needed_ends
        check (none_needed_until is null or (none_needed and none_needed_until > effective_from)),
    -- Empty column: nobody is let in under somebody's name here. Empty list: under any name.
    add column leads text[];

alter table gate_policy_respirators add column accepted_until timestamptz;

create table gate_policy_classes (
    gate_policy_id uuid not null references gate_policies (id),
    -- Counted together with the places of gate_policy_respirators.
    place integer not null,
    facepiece text,
    filter_class text,
    accepted_until timestamptz,
    recorded_at timestamptz not null,
    primary key (gate_policy_id, place),
    constraint gate_policy_classes_say_something check (facepiece is not null or filter_class is not null)
);
select make_append_only('gate_policy_classes');

-- What a respirator was listed as before a change, so that the members of a class at an earlier moment stay known.
create table respirator_changes (
    id uuid primary key,
    site_id uuid not null references sites (id),
    respirator_id uuid not null references respirators (id),
    filter_class text not null,
    retired_at timestamptz,
    -- Until then.
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index respirator_changes_by_respirator on respirator_changes (respirator_id, recorded_at);
create index respirator_changes_by_site on respirator_changes (site_id);
select make_append_only('respirator_changes');
