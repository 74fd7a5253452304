drop table attempt_corrections, attempt_verdicts, attempt_events, attempts,
    screening_verdicts, screening_events, screenings;
