drop trigger raises_status_version on gates;
drop trigger raises_status_version on respirators;
drop trigger raises_status_version on gate_policies;
drop table given_answers;
