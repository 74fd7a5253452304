-- Every accepted protocol: what is smelled, what irritates, and what is measured.

alter table lots drop constraint lots_agent;
alter table lots add constraint lots_agent
    check (agent in ('saccharin', 'denatonium_benzoate', 'isoamyl_acetate', 'irritant_smoke'));
alter table lots drop constraint lots_solution;
alter table lots add constraint lots_solution check (solution in ('screening', 'test', 'stock'));
-- What was made here, by whom, when and by which recipe; null for what was bought.
alter table lots add column prepared jsonb;

alter table screenings drop constraint screenings_agent;
alter table screenings add constraint screenings_agent
    check (agent in ('saccharin', 'denatonium_benzoate', 'isoamyl_acetate', 'irritant_smoke'));
alter table screening_verdicts drop constraint screening_verdicts_outcome;
alter table screening_verdicts add constraint screening_verdicts_outcome
    check (outcome in ('level', 'not_tasted', 'noticed', 'not_noticed', 'void', 'stopped'));

alter table attempts drop constraint attempts_method;
alter table attempts add constraint attempts_method check (method in (
    'saccharin', 'denatonium_benzoate', 'isoamyl_acetate', 'irritant_smoke',
    'generated_aerosol', 'ambient_aerosol',
    'modified_ambient_aerosol_elastomeric', 'modified_ambient_aerosol_filtering',
    'controlled_negative_pressure', 'controlled_negative_pressure_redon'));
alter table attempts alter column screening_id drop not null;
alter table attempts alter column fill_id drop not null;
-- Columns added here to rows that are covered by digests are empty in every older row, so that no digest changes.
alter table attempts
    add column fitted_filter text,
    add column negative_pressure_mode boolean,
    add column instrument text;
-- What is noticed stands on a screening and a fill; what is measured stands on an instrument.
alter table attempts add constraint attempts_stand_on check (
    case when method in ('saccharin', 'denatonium_benzoate', 'isoamyl_acetate', 'irritant_smoke')
    then screening_id is not null and fill_id is not null and instrument is null
    else screening_id is null and fill_id is null and instrument is not null end);

-- As many digits as it takes; compared only before it was written down.
alter table attempt_verdicts
    add column fit_factor text,
    add column pass_level integer;

alter table respirators drop constraint respirators_facepiece;
alter table respirators add constraint respirators_facepiece check (facepiece in (
    'filtering_facepiece', 'quarter_mask', 'half_mask', 'full_facepiece', 'helmet_or_hood', 'loose_fitting'));
-- Empty where the wearer's own breath draws the air through the filters.
alter table respirators
    add column air_supply text constraint respirators_air_supply check (air_supply in (
        'powered', 'supplied_demand', 'supplied_continuous', 'supplied_pressure_demand',
        'self_contained_demand', 'self_contained_pressure_demand'));

alter table stations drop constraint stations_parts;
alter table stations add constraint stations_parts check (
    cardinality(parts) > 0 and parts <@ array['check_in', 'screening', 'testing', 'measuring', 'badges']);
alter table visits drop constraint visits_step;
alter table visits add constraint visits_step
    check (step in ('screening', 'testing', 'measuring', 'referred', 'done'));
alter table calls drop constraint calls_step;
alter table calls add constraint calls_step check (step in ('screening', 'testing', 'measuring'));

-- The strip chart or other recording of a measured test, byte for byte (29 CFR 1910.134(m)(2)(i)(E)).
create table attempt_recordings (
    id uuid primary key,
    site_id uuid not null references sites (id),
    attempt_id uuid not null references attempts (id),
    name text not null constraint attempt_recordings_name_blank check (btrim(name) <> ''),
    media_type text not null,
    bytes bytea not null constraint attempt_recordings_size check (octet_length(bytes) between 1 and 5242880),
    sha256 bytea not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index attempt_recordings_by_attempt on attempt_recordings (attempt_id);
create index attempt_recordings_by_site on attempt_recordings (site_id);
select make_append_only('attempt_recordings');

-- How the readings of an instrument's file are found. The newest of a name counts.
create table reading_mappings (
    id uuid primary key,
    site_id uuid not null references sites (id),
    name text not null constraint reading_mappings_name_blank check (btrim(name) <> ''),
    mapping jsonb not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index reading_mappings_by_site on reading_mappings (site_id, id);
select make_append_only('reading_mappings');

-- A site's own rule sets, word for word; those of the program are not stored.
create table rule_sets (
    id uuid primary key,
    site_id uuid not null references sites (id),
    name text not null,
    version text not null,
    document text not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint rule_sets_known_already unique (site_id, name, version)
);
select make_append_only('rule_sets');

-- Cells of face lengths and widths, loaded by the site. The newest one counts.
create table face_panels (
    id uuid primary key,
    site_id uuid not null references sites (id),
    panel jsonb not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null
);
create index face_panels_by_site on face_panels (site_id, id);
select make_append_only('face_panels');
