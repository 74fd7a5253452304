drop table scan_prunings;
create or replace trigger facts_are_append_only before update or delete on scans
    for each row execute function forbid_change();
alter table sites drop column lead_entries_kept_days, drop column scans_kept_days;
