-- What gates answered alone, and the number by which whoever keeps a gate's pack knows that it is old.

-- Beside the scan's row, whose answer is the one that was given: what it rested on.
create table given_answers (
    scan_id uuid primary key references scans (id) on delete cascade,
    batch_id uuid not null,
    site_id uuid not null references sites (id),
    -- When the gate's knowledge was last known to be current; empty where it had none.
    known_at timestamptz,
    -- What the gate's own clock showed, right or wrong.
    clock_showed timestamptz not null,
    recorded_at timestamptz not null
);
create index given_answers_by_batch on given_answers (batch_id);
create index given_answers_by_site on given_answers (site_id, scan_id);
select make_append_only('given_answers');

-- A pack says more than a status list: what is accepted, and by which names. So it has a number more.
alter table status_versions add column policies bigint not null default 0;

create function raise_policy_version() returns trigger language plpgsql as $$
begin
    insert into status_versions as v (site_id, version, policies) values (new.site_id, 0, 1)
        on conflict (site_id) do update set policies = v.policies + 1, computed_at = now();
    return null;
end
$$;

create constraint trigger raises_policy_version after insert on gate_policies
    deferrable initially deferred for each row execute function raise_policy_version();
create constraint trigger raises_policy_version after insert or update on respirators
    deferrable initially deferred for each row execute function raise_policy_version();
create constraint trigger raises_policy_version after insert or update on gates
    deferrable initially deferred for each row execute function raise_policy_version();
