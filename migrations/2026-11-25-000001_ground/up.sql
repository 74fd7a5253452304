-- Sites, the people and devices that sign in, and the audit chain every write appends to.

-- Facts are appended, never changed: a correction is a new row that points at the old one.
create function forbid_change() returns trigger language plpgsql as $$
begin
    raise exception 'rows of % are facts: append a correction instead', tg_table_name
        using errcode = 'restrict_violation', constraint = 'facts_are_append_only';
end
$$;

-- Makes one table append-only, for row changes and for truncate alike.
create function make_append_only(target regclass) returns void language plpgsql as $$
begin
    execute format('create trigger facts_are_append_only before update or delete on %s
                    for each row execute function forbid_change()', target);
    execute format('create trigger facts_are_not_truncated before truncate on %s
                    for each statement execute function forbid_change()', target);
end
$$;

create table sites (
    id uuid primary key,
    name text not null constraint sites_name_blank check (btrim(name) <> ''),
    time_zone text not null,
    rule_set_name text not null,
    rule_set_version text not null,
    version integer not null default 1,
    created_at timestamptz not null default now(),
    constraint sites_name_taken unique (name)
);

create table users (
    id uuid primary key,
    site_id uuid not null references sites (id),
    username text not null constraint users_username_form check (username = lower(username) and btrim(username) <> ''),
    display_name text not null,
    password_hash text not null,
    roles text[] not null,
    disabled_at timestamptz,
    version integer not null default 1,
    created_at timestamptz not null default now(),
    constraint users_username_taken unique (username)
);
create index users_by_site on users (site_id, id);

create table sessions (
    id uuid primary key,
    user_id uuid not null references users (id),
    site_id uuid not null references sites (id),
    expires_at timestamptz not null,
    ended_at timestamptz,
    created_at timestamptz not null default now()
);
create index sessions_by_user on sessions (user_id);
create index sessions_by_site on sessions (site_id);

-- Failed sign-ins, counted per account and per address across all servers that share the database.
create table sign_in_failures (
    id bigint generated always as identity primary key,
    account text not null,
    address text not null,
    created_at timestamptz not null default now()
);
create index sign_in_failures_by_account on sign_in_failures (account, created_at);
create index sign_in_failures_by_address on sign_in_failures (address, created_at);

create table audit_rows (
    site_id uuid not null references sites (id),
    seq bigint not null,
    recorded_at timestamptz not null,
    actor_kind text not null constraint audit_rows_actor_kind check (actor_kind in ('user', 'device', 'program')),
    actor_id uuid,
    action text not null,
    subject_table text not null,
    subject_id uuid not null,
    subject_digest bytea,
    detail text not null,
    previous_hash bytea not null,
    hash bytea not null,
    primary key (site_id, seq)
);
create index audit_rows_by_subject on audit_rows (subject_id);
select make_append_only('audit_rows');

-- The end of each site's chain; locking this row is what puts its writes in one order.
create table audit_heads (
    site_id uuid primary key references sites (id),
    seq bigint not null,
    hash bytea not null,
    created_at timestamptz not null default now()
);
