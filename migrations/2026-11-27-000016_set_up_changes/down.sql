alter table gates drop column version;
alter table places drop column version;
alter table stations drop column closed_at, drop column version;
