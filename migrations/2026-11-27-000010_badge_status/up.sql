-- Badges that are held, keys that stand by or were withdrawn, and one number per site by which whoever keeps a list
-- of what its badges are worth knows that the list is old.

create table badge_holds (
    id uuid primary key,
    site_id uuid not null references sites (id),
    badge_id uuid not null references badges (id),
    reason text not null constraint badge_holds_reason check (
        reason in ('lost_reported', 'found_reported', 'change_since_printing', 'under_review', 'other')),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index badge_holds_by_badge on badge_holds (badge_id);
create index badge_holds_by_site on badge_holds (site_id);
select make_append_only('badge_holds');

-- A badge is held while any of its holds has no row here.
create table badge_hold_releases (
    id uuid primary key,
    site_id uuid not null references sites (id),
    badge_hold_id uuid not null references badge_holds (id),
    reason text not null constraint badge_hold_releases_reason
        check (reason in ('back_with_person', 'checked', 'mistake', 'other')),
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint badge_hold_releases_released_already unique (badge_hold_id)
);
create index badge_hold_releases_by_site on badge_hold_releases (site_id);
select make_append_only('badge_hold_releases');

-- A key that stands by is published before it signs anything, so that gates without a network know it in time.
alter table signing_keys
    add column stands_by_since timestamptz,
    add column withdrawn_at timestamptz;
drop index signing_keys_one_signs;
create unique index signing_keys_one_signs on signing_keys (site_id)
    where signs_until is null and stands_by_since is null and retired_at is null;
create unique index signing_keys_one_stands_by on signing_keys (site_id)
    where stands_by_since is not null and retired_at is null;

-- Raised once in every transaction that changes what a badge of the site is worth, or the keys of its badges.
create table status_versions (
    site_id uuid primary key references sites (id),
    version bigint not null,
    computed_at timestamptz not null default now()
);

-- Runs at the commit, after the lock on the audit chain is held: writers that meet here already stand in line, so
-- none waits for another crosswise.
create function raise_status_version() returns trigger language plpgsql as $$
declare
    raised text := pg_current_xact_id()::text || ' ' || new.site_id::text;
begin
    if current_setting('sellion.status_raised', true) is distinct from raised then
        insert into status_versions as v (site_id, version) values (new.site_id, 1)
            on conflict (site_id) do update set version = v.version + 1, computed_at = now();
        perform set_config('sellion.status_raised', raised, true);
    end if;
    return null;
end
$$;

create constraint trigger raises_status_version after insert on badges
    deferrable initially deferred for each row execute function raise_status_version();
create constraint trigger raises_status_version after insert on badge_endings
    deferrable initially deferred for each row execute function raise_status_version();
create constraint trigger raises_status_version after insert on badge_holds
    deferrable initially deferred for each row execute function raise_status_version();
create constraint trigger raises_status_version after insert on badge_hold_releases
    deferrable initially deferred for each row execute function raise_status_version();
create constraint trigger raises_status_version after insert or update on signing_keys
    deferrable initially deferred for each row execute function raise_status_version();
create constraint trigger raises_status_version after insert on clearances
    deferrable initially deferred for each row execute function raise_status_version();
-- A clearance is written again with every fact of its person, and seldom changes.
create constraint trigger raises_status_version_when_changed after update on clearances
    deferrable initially deferred for each row
    when ((old.state, old.valid_from, old.valid_until) is distinct from (new.state, new.valid_from, new.valid_until))
    execute function raise_status_version();
