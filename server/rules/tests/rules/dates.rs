//! Due days, ends of local days across clock changes, and printed expiries.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sellion_rules::dates::{
    DueReading, Interval, due_on, end_of_day, local_date, seconds_after, seconds_until, start_of_day,
};

use crate::support::utc;

const YEARLY: Interval = Interval { months: 12, strict_days: 365 };

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

/// 29 CFR 1910.134(f)(2) says "at least annually" and no more (fact 1.20, facts 10.31 and 10.32).
#[test]
fn fact_10_31_and_10_32_three_readings_of_a_year() {
    let table = [
        ("2025-03-10", "2026-03-10", "2026-03-10"),
        ("2027-03-01", "2028-03-01", "2028-02-29"),
        ("2028-02-29", "2029-02-28", "2029-02-28"),
        ("2028-02-28", "2029-02-28", "2029-02-27"),
        ("2028-03-01", "2029-03-01", "2029-03-01"),
    ];
    for (tested, anniversary, strict) in table {
        let due = |reading| due_on(day(tested), YEARLY, reading);
        assert_eq!(due(DueReading::Anniversary), day(anniversary), "{tested}");
        assert_eq!(due(DueReading::StrictDays), day(strict), "{tested}");
        assert_eq!(due(DueReading::Earlier), day(anniversary).min(day(strict)), "{tested}");
    }
}

/// The days of clock changes are those of the time zone database (fact 9.21 for the notation).
#[test]
fn a_day_ends_at_the_next_local_midnight() {
    let table = [
        (chrono_tz::UTC, "2027-03-08", "2027-03-09T00:00:00Z"),
        (chrono_tz::Europe::Berlin, "2027-03-28", "2027-03-28T22:00:00Z"), // 23 hours long
        (chrono_tz::Europe::Berlin, "2027-10-31", "2027-10-31T23:00:00Z"), // 25 hours long
        (chrono_tz::America::New_York, "2027-03-14", "2027-03-15T04:00:00Z"),
        (chrono_tz::Asia::Kathmandu, "2027-03-08", "2027-03-08T18:15:00Z"),
        (chrono_tz::America::Havana, "2024-03-09", "2024-03-10T05:00:00Z"), // next midnight does not exist
        (chrono_tz::America::Havana, "2024-11-02", "2024-11-03T04:00:00Z"), // 01:00 turns back to midnight
        (chrono_tz::Asia::Beirut, "2022-03-26", "2022-03-26T22:00:00Z"),    // next midnight does not exist
        (chrono_tz::Pacific::Apia, "2011-12-29", "2011-12-30T10:00:00Z"),   // 30 December was left out
    ];
    for (zone, date, end) in table {
        assert_eq!(end_of_day(day(date), zone), utc(end), "{date} in {zone}");
    }
}

/// Every day of three years in zones with awkward clocks: days follow each other without gap or overlap.
#[test]
fn days_tile_the_time() {
    let zones: [Tz; 6] = [
        chrono_tz::America::Havana,
        chrono_tz::Asia::Beirut,
        chrono_tz::America::Asuncion,
        chrono_tz::Australia::Lord_Howe,
        chrono_tz::Africa::Cairo,
        chrono_tz::America::Scoresbysund,
    ];
    for zone in zones {
        let mut date = day("2022-01-01");
        while date < day("2025-01-01") {
            let (start, end) = (start_of_day(date, zone), end_of_day(date, zone));
            let hours = (end - start).num_minutes();
            assert!((22 * 60..=26 * 60).contains(&hours), "{date} in {zone} lasts {hours} minutes");
            assert_eq!(local_date(start, zone), date, "start of {date} in {zone}");
            assert_eq!(
                local_date(end - chrono::TimeDelta::milliseconds(1), zone),
                date,
                "end of {date} in {zone}"
            );
            date = date.succ_opt().expect("a next day");
            assert_eq!(start_of_day(date, zone), end, "{date} in {zone}");
        }
    }
}

#[test]
fn the_ends_of_time_do_not_panic() {
    for zone in [chrono_tz::Pacific::Kiritimati, chrono_tz::Etc::GMTPlus12, chrono_tz::UTC] {
        for at in [DateTime::<Utc>::MIN_UTC, DateTime::<Utc>::MAX_UTC] {
            let _ = local_date(at, zone);
            let _ = (seconds_after(at, u32::MAX), seconds_until(DateTime::<Utc>::MIN_UTC, at));
        }
        for date in [NaiveDate::MIN, NaiveDate::MAX] {
            let _ = (start_of_day(date, zone), end_of_day(date, zone));
            let _ = due_on(date, Interval { months: u32::MAX, strict_days: u32::MAX }, DueReading::Earlier);
        }
    }
}

#[test]
fn waiting_the_seconds_told_is_always_enough() {
    let (now, then) = (utc("2027-03-08T09:00:00.250Z"), utc("2027-03-08T09:00:10Z"));
    assert_eq!(seconds_until(now, then), 10);
    assert_eq!(seconds_until(then, now), 0);
    assert_eq!(seconds_until(now, now), 0);
}
