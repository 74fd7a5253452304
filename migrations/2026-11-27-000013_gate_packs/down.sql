drop trigger raises_policy_version on gates;
drop trigger raises_policy_version on respirators;
drop trigger raises_policy_version on gate_policies;
drop function raise_policy_version();
alter table status_versions drop column policies;
drop table given_answers;
