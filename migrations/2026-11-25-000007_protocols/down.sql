-- Rows that the older program does not know stay: the older constraints hold for new ones.
drop table face_panels, rule_sets, reading_mappings, attempt_recordings;

alter table calls drop constraint calls_step;
alter table calls add constraint calls_step check (step in ('screening', 'testing')) not valid;
alter table visits drop constraint visits_step;
alter table visits add constraint visits_step check (step in ('screening', 'testing', 'referred', 'done')) not valid;
alter table stations drop constraint stations_parts;
alter table stations add constraint stations_parts check (
    cardinality(parts) > 0 and parts <@ array['check_in', 'screening', 'testing', 'badges']) not valid;

alter table respirators drop column air_supply;
alter table respirators drop constraint respirators_facepiece;
alter table respirators add constraint respirators_facepiece check (facepiece in ('filtering_facepiece', 'half_mask', 'full_facepiece')) not valid;

alter table attempt_verdicts drop column fit_factor, drop column pass_level;

alter table attempts drop constraint attempts_stand_on;
alter table attempts drop column fitted_filter, drop column negative_pressure_mode, drop column instrument;
alter table attempts drop constraint attempts_method;
alter table attempts add constraint attempts_method check (method in ('saccharin', 'denatonium_benzoate')) not valid;

alter table screening_verdicts drop constraint screening_verdicts_outcome;
alter table screening_verdicts add constraint screening_verdicts_outcome check (outcome in ('level', 'not_tasted', 'void', 'stopped')) not valid;
alter table screenings drop constraint screenings_agent;
alter table screenings add constraint screenings_agent check (agent in ('saccharin', 'denatonium_benzoate')) not valid;

alter table lots drop column prepared;
alter table lots drop constraint lots_solution;
alter table lots add constraint lots_solution check (solution in ('screening', 'test')) not valid;
alter table lots drop constraint lots_agent;
alter table lots add constraint lots_agent check (agent in ('saccharin', 'denatonium_benzoate')) not valid;
