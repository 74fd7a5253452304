-- How long scans and entries under a lead's name are kept, and what went.

alter table sites
    -- Empty: nobody has decided, so they are kept.
    add column scans_kept_days integer constraint sites_scans_kept check (scans_kept_days between 1 and 36500),
    add column lead_entries_kept_days integer constraint sites_lead_entries_kept
        check (lead_entries_kept_days between 1 and 36500);

select make_prunable('scans');

-- Every scan that the site's audit rows up to through_seq are about is gone, and no other.
create table scan_prunings (
    id uuid primary key,
    site_id uuid not null references sites (id),
    after_seq bigint not null,
    through_seq bigint not null,
    kept_days integer not null,
    scans bigint not null,
    batches bigint not null,
    -- SHA-256 over the digests of the batches that went, in the order of their audit rows.
    digest bytea not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint scan_prunings_in_order check (after_seq < through_seq),
    constraint scan_prunings_follow unique (site_id, after_seq)
);
select make_append_only('scan_prunings');
