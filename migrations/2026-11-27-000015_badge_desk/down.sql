drop trigger raises_status_version on sites;
drop function raise_status_version_of_site();
alter table sites drop column unclaimed_after_days, drop column unclaimed_closed_at, drop column found_badges;
drop table badge_finds, badge_reprints;
alter table badge_endings drop constraint badge_endings_misprint_of_one, drop column misprint;
drop table badge_hand_overs, badge_batch_outcomes, badge_batch_people, badge_batches;
alter table badges drop column printed_name;
