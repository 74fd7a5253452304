//! Bottles and fills: until when, and why not.

use chrono::{NaiveDate, TimeDelta};
use chrono_tz::Tz;
use sellion_rules::Code;
use sellion_rules::supplies::{
    Agent, BottleFacts, FillFacts, Solution, bottle_usable, fill_required, fill_usable, plausible_bottle,
    plausible_fill, plausible_in_bottle,
};

use crate::support::{code, rules, time, utc};

const ZONE: Tz = chrono_tz::America::Chicago;

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn bottle() -> BottleFacts {
    BottleFacts {
        printed_expiry: "2027-08".parse().expect("an expiry"),
        opened_on: Some(day("2027-03-01")),
        opened_life_days: None,
        stopped: false,
    }
}

fn fill() -> FillFacts {
    FillFacts {
        agent: Agent::Saccharin,
        solution: Solution::Test,
        // 08:00 in Chicago.
        filled_at: utc("2027-03-08T14:00:00Z"),
        discarded_at: None,
        bottle: bottle(),
        below: Vec::new(),
    }
}

fn life() -> u32 {
    rules().supplies.fill_life_seconds
}

/// 29 CFR 1910.134 App. A I.B.3, absence in text (fact 3.51): label and local policy decide.
#[test]
fn fact_3_51_a_bottle_lasts_until_the_end_of_its_printed_day() {
    let until = utc("2027-09-01T05:00:00Z");
    assert_eq!(bottle_usable(&bottle(), utc("2027-03-08T15:00:00Z"), ZONE), Ok(until));
    assert_eq!(bottle_usable(&bottle(), until - TimeDelta::seconds(1), ZONE), Ok(until));
    assert_eq!(code(bottle_usable(&bottle(), until, ZONE)), Code::BottleExpired);
}

/// Common practice, no source: opened + opened life, where a site has set one.
#[test]
fn an_opened_bottle_lasts_its_opened_life_or_its_label_whichever_ends_first() {
    let mut bottle = bottle();
    bottle.opened_life_days = Some(30);
    let until = utc("2027-04-01T05:00:00Z");
    assert_eq!(bottle_usable(&bottle, utc("2027-03-08T15:00:00Z"), ZONE), Ok(until), "1 March and 30 days");
    assert_eq!(bottle_usable(&bottle, until - TimeDelta::seconds(1), ZONE), Ok(until), "the last day counts");
    assert_eq!(code(bottle_usable(&bottle, until, ZONE)), Code::OpenedLifeOver);
    bottle.opened_life_days = Some(1000);
    assert_eq!(bottle_usable(&bottle, utc("2027-03-08T15:00:00Z"), ZONE), Ok(utc("2027-09-01T05:00:00Z")));
    bottle.opened_life_days = Some(u32::MAX);
    assert!(bottle_usable(&bottle, utc("2027-03-08T15:00:00Z"), ZONE).is_ok());
}

#[test]
fn a_bottle_without_an_opening_or_from_a_stopped_lot_is_refused() {
    let at = utc("2027-03-08T15:00:00Z");
    let unopened = BottleFacts { opened_on: None, ..bottle() };
    assert_eq!(code(bottle_usable(&unopened, at, ZONE)), Code::BottleNotOpened);
    let opened_tomorrow = BottleFacts { opened_on: Some(day("2027-03-09")), ..bottle() };
    assert_eq!(code(bottle_usable(&opened_tomorrow, at, ZONE)), Code::BottleNotOpened);
    let stopped = BottleFacts { stopped: true, ..bottle() };
    assert_eq!(code(bottle_usable(&stopped, at, ZONE)), Code::LotStopped);
}

/// 29 CFR 1910.134 App. A I.B.3(a)(14) and I.B.4(a)(14) (facts 3.38 and 3.60, fact 10.29).
#[test]
fn fact_3_38_and_3_60_a_fill_lasts_four_hours() {
    assert_eq!(life(), 4 * 3600);
    let due = utc("2027-03-08T18:00:00Z");
    assert_eq!(fill_usable(&fill(), life(), utc("2027-03-08T14:00:00Z"), ZONE), Ok(due));
    assert_eq!(fill_usable(&fill(), life(), utc("2027-03-08T17:59:59Z"), ZONE), Ok(due));
    let refusal =
        fill_usable(&fill(), life(), utc("2027-03-08T18:01:00Z"), ZONE).expect_err("12:01 is too late");
    assert_eq!((refusal.code, time(&refusal, "usable_until")), (Code::FillTooOld, due));
    assert_eq!(code(fill_usable(&fill(), life(), due, ZONE)), Code::FillTooOld);
}

#[test]
fn a_fill_lasts_no_longer_than_its_bottle() {
    let mut late = fill();
    late.filled_at = utc("2027-09-01T03:00:00Z");
    assert_eq!(
        fill_usable(&late, life(), utc("2027-09-01T04:00:00Z"), ZONE),
        Ok(utc("2027-09-01T05:00:00Z"))
    );
    assert_eq!(code(fill_usable(&late, life(), utc("2027-09-01T05:00:00Z"), ZONE)), Code::BottleExpired);
    late.bottle.stopped = true;
    assert_eq!(code(fill_usable(&late, life(), utc("2027-09-01T04:00:00Z"), ZONE)), Code::LotStopped);
}

#[test]
fn a_station_needs_a_fill_of_the_right_agent_and_solution() {
    let at = utc("2027-03-08T15:00:00Z");
    let required =
        |fill: Option<&FillFacts>, agent, solution| fill_required(fill, agent, solution, life(), at, ZONE);
    assert!(required(Some(&fill()), Agent::Saccharin, Solution::Test).is_ok());
    assert_eq!(code(required(None, Agent::Saccharin, Solution::Test)), Code::FillMissing);
    let bitter = required(Some(&fill()), Agent::DenatoniumBenzoate, Solution::Test);
    assert_eq!(code(bitter), Code::FillWrongAgent);
    assert_eq!(code(required(Some(&fill()), Agent::Saccharin, Solution::Screening)), Code::FillWrongSolution);
    let emptied = FillFacts { discarded_at: Some(at), ..fill() };
    assert_eq!(code(required(Some(&emptied), Agent::Saccharin, Solution::Test)), Code::FillMissing);
    let later = FillFacts { filled_at: at + TimeDelta::seconds(1), ..fill() };
    assert_eq!(code(required(Some(&later), Agent::Saccharin, Solution::Test)), Code::FillMissing);
}

/// Four hours are for nebulizers (29 CFR 1910.134 App. A I.B.3(a)(14), I.B.4(a)(14)); a jar or a tube lasts as its lot does.
#[test]
fn facts_3_8_and_3_38_only_a_nebulizer_is_filled_anew_after_four_hours() {
    let five_hours = fill().filled_at + TimeDelta::hours(5);
    assert_eq!(code(fill_usable(&fill(), life(), five_hours, ZONE)), Code::FillTooOld);
    for agent in [Agent::IsoamylAcetate, Agent::IrritantSmoke] {
        let jar = FillFacts { agent, ..fill() };
        assert_eq!(fill_usable(&jar, life(), five_hours, ZONE), bottle_usable(&bottle(), five_hours, ZONE));
        let expired = utc("2027-09-01T05:00:00Z");
        assert_eq!(code(fill_usable(&jar, life(), expired, ZONE)), Code::BottleExpired);
    }
}

/// Common practice, no source: the likely slip is millilitres for microlitres, or the other way round.
#[test]
fn volumes_that_cannot_be_are_refused_with_what_can() {
    for (volume, good) in [(99, false), (100, true), (20_000, true), (20_001, false), (2, false), (-1, false)]
    {
        assert_eq!(plausible_fill(Agent::Saccharin, volume).is_ok(), good, "{volume}");
        assert!(plausible_fill(Agent::IrritantSmoke, volume).is_ok(), "nothing is sprayed from a tube");
    }
    assert!(
        plausible_bottle(Agent::Saccharin, 1000).is_ok() && plausible_bottle(Agent::IrritantSmoke, 1).is_ok()
    );
    assert_eq!(plausible_bottle(Agent::Saccharin, 55).expect_err("millilitres").code, Code::InvalidValue);
    assert!(plausible_in_bottle(60_500, 55_000).is_ok(), "makers fill in a little more");
    let refused = plausible_in_bottle(60_501, 55_000).expect_err("no bottle of 55 ml holds that");
    assert_eq!((refused.code, refused.facts.get("most_ul")), (Code::InvalidValue, Some(&60_500_i64.into())));
    assert!(plausible_in_bottle(i64::MAX, i64::MAX).is_ok());
}
