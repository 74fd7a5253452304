drop trigger raises_status_version on badges;
drop trigger raises_status_version on badge_endings;
drop trigger raises_status_version on signing_keys;
drop trigger raises_status_version on clearances;
drop trigger raises_status_version_when_changed on clearances;
drop table status_versions, badge_hold_releases, badge_holds;
drop function raise_status_version();

drop index signing_keys_one_stands_by;
drop index signing_keys_one_signs;
-- Without its column a key that stands by would be one that signs.
update signing_keys set signs_until = now() where stands_by_since is not null and signs_until is null;
update signing_keys set signs_until = retired_at where signs_until is null and retired_at is not null;
alter table signing_keys drop column stands_by_since, drop column withdrawn_at;
create unique index signing_keys_one_signs on signing_keys (site_id) where signs_until is null;
