drop table respirator_changes, gate_policy_classes;
alter table gate_policy_respirators drop column accepted_until;
alter table gate_policies drop column leads, drop column none_needed_until;
