-- Alarms follow from facts; what is stored is who took one on. An alarm goes with somebody's name and no other way.

create table alarm_acknowledgements (
    id uuid primary key,
    site_id uuid not null references sites (id),
    day_id uuid not null references days (id),
    kind text not null constraint alarm_acknowledgements_kind
        check (kind in ('unwell', 'lot_stopped', 'stopped', 'nebulizer_out')),
    -- The row that the alarm follows from: a run, a mark of a lot, a stop, or what was found on a nebulizer.
    subject uuid not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    recorded_by uuid not null,
    constraint alarm_acknowledgements_taken_already unique (site_id, kind, subject)
);
create index alarm_acknowledgements_by_day on alarm_acknowledgements (day_id);
select make_append_only('alarm_acknowledgements');
