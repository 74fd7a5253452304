alter table sites drop column repeat_scan_seconds, drop column clock_tolerance_seconds;
drop index scans_by_gate_time, scans_by_twin_gate;
alter table scans drop column clock_ahead_ms, drop column twin_gate_id, drop column repeats_at;
drop table twin_notice_reviews, twin_notices, walking_times, lead_entry_reviews, lead_entries;
drop function make_prunable(regclass);
drop function forbid_change_but_pruning();
