//! Fitting: who dons, how long it is worn, the seal check, the hood, the water-only time, the first dose.

use chrono::TimeDelta;
use sellion_rules::Code;
use sellion_rules::attempt::{AttemptEventKind as Kind, Outcome, Phase, SealCheckResult, VerdictReason};
use sellion_rules::level::Level;
use sellion_rules::supplies::Agent;

use crate::support::{FIRST, Run, number, second, setup, time};

const DOSE: Kind = Kind::DoseGiven { squeezes: 10 };
const DONNED: Kind = Kind::Donned { by_wearer: true, fresh: false };
const SEAL_OK: Kind = Kind::SealChecked { result: SealCheckResult::Ok };
const SEAL_FAILED: Kind = Kind::SealChecked { result: SealCheckResult::Failed };
const HOODED: Kind = Kind::Hooded { taste_gone: true };

/// 29 CFR 1910.134 App. A I.A.12.
#[test]
fn fact_2_16_five_minutes_of_wear_come_before_the_first_dose() {
    for (worn, remaining) in [(0, 300), (250, 50), (299, 1)] {
        let mut run = Run::fresh();
        run.ok(60, DONNED);
        run.ok(60, SEAL_OK);
        run.ok(60, HOODED);
        let refusal = run.refused(60 + worn, DOSE);
        assert_eq!(refusal.code, Code::WearTimeShort, "worn {worn} s");
        assert_eq!(number(&refusal, "seconds_remaining"), remaining, "worn {worn} s");
        assert_eq!(time(&refusal, "earliest_start"), second(360));
        assert_eq!(run.state.phase(), Phase::Fitting, "no record of a failure");
        run.ok(360, DOSE);
        assert_eq!(run.state.phase(), Phase::Testing);
    }
}

/// 29 CFR 1910.134 App. A I.A.12: time with the respirator off is not time worn.
#[test]
fn fact_2_16_taking_it_off_starts_the_wear_time_again() {
    let mut run = Run::fresh();
    run.ok(0, DONNED);
    run.ok(290, Kind::Doffed);
    assert_eq!(run.refused(300, DOSE).code, Code::NotDonned);
    run.ok(310, DONNED);
    run.ok(320, SEAL_OK);
    run.ok(330, HOODED);
    assert_eq!(number(&run.refused(340, DOSE), "seconds_remaining"), 270);
    run.ok(610, DOSE);
}

/// Fractions of a second count: four minutes and 59.2 seconds are short by one whole second.
#[test]
fn wear_time_is_not_rounded_up() {
    let mut run = Run::fresh();
    run.ok(0, DONNED);
    run.ok(10, SEAL_OK);
    run.ok(20, HOODED);
    let mut event = run.event(299, DOSE);
    event.happened_at += TimeDelta::milliseconds(200);
    let refusal = run.state.apply(&event).expect_err("too short");
    assert_eq!(number(&refusal, "seconds_remaining"), 1);
}

/// Common practice, no source: the wearer puts it on alone, so that the fit can be repeated at work.
#[test]
fn the_wearer_dons_without_help() {
    let mut run = Run::fresh();
    let refusal = run.refused(60, Kind::Donned { by_wearer: false, fresh: false });
    assert_eq!(refusal.code, Code::MustBeDonnedByWearer);
    run.ok(70, DONNED);
    assert_eq!(run.refused(80, DONNED).code, Code::AlreadyDonned);
}

/// 29 CFR 1910.134 App. A I.B.3(a) and I.B.4(a): the screening is done without a respirator.
#[test]
fn nothing_is_donned_before_the_screening_ended() {
    let mut run = Run::fresh();
    let refusal = run.refused(-1, DONNED);
    assert_eq!(refusal.code, Code::DonnedBeforeScreening);
    run.ok(0, DONNED);
}

/// 29 CFR 1910.134 App. A I.A.8 (fact 2.9) and (g)(1)(iii) (fact 1.35).
#[test]
fn fact_2_9_the_first_dose_needs_a_good_seal_check() {
    let mut run = Run::fresh();
    run.ok(60, DONNED);
    run.ok(70, HOODED);
    assert_eq!(run.refused(400, DOSE).code, Code::SealCheckMissing);
    run.ok(410, Kind::SealChecked { result: SealCheckResult::NotPossible });
    assert_eq!(run.refused(420, DOSE).code, Code::SealCheckMissing, "not possible is not good");
    run.ok(430, SEAL_OK);
    run.ok(440, Kind::Adjusted);
    assert_eq!(run.refused(450, DOSE).code, Code::SealCheckMissing, "adjusted after the check");
    run.ok(460, SEAL_OK);
    run.ok(470, DOSE);
}

/// 29 CFR 1910.134 App. A I.A.8 (fact 2.10); three tries are common practice, no source.
#[test]
fn fact_2_10_a_leaking_seal_means_donning_again_and_the_third_ends_it() {
    let mut run = Run::fresh();
    for (index, begin) in [0, 100, 200].into_iter().enumerate() {
        run.ok(begin, DONNED);
        run.ok(begin + 10, SEAL_FAILED);
        if index < 2 {
            assert_eq!(run.refused(begin + 20, SEAL_OK).code, Code::RedonFirst);
            run.ok(begin + 30, Kind::Adjusted);
            assert_eq!(
                run.refused(begin + 40, SEAL_OK).code,
                Code::RedonFirst,
                "adjusting is not donning again"
            );
            run.ok(begin + 50, Kind::Doffed);
        }
    }
    let verdict = run.verdict();
    assert_eq!((verdict.outcome, verdict.reason), (Outcome::Void, VerdictReason::SealCheckFailed));
    assert_eq!(verdict.started_testing_at, None, "there is no day of a test");
}

/// 29 CFR 1910.134 App. A I.B.3(a)(12) (fact 3.36): the taste has to be told from the one remembered; asking whether
/// it is gone is common practice, no source.
#[test]
fn hood_on_and_taste_gone_before_the_first_dose() {
    let mut run = Run::fresh();
    run.ok(60, DONNED);
    run.ok(70, SEAL_OK);
    assert_eq!(run.refused(400, DOSE).code, Code::NotReady, "no hood");
    run.ok(410, Kind::Hooded { taste_gone: false });
    assert_eq!(run.refused(420, DOSE).code, Code::NotReady, "taste not gone");
    run.ok(430, HOODED);
    run.ok(440, Kind::HoodOff);
    assert_eq!(run.refused(450, DOSE).code, Code::NotReady, "hood off again");
    run.ok(460, HOODED);
    run.ok(470, DOSE);
}

/// 29 CFR 1910.134 App. A I.B.3(b)(1) and I.B.4(b)(1) (facts 10.23 and 10.24).
#[test]
fn fact_3_39_and_3_61_fifteen_minutes_of_plain_water_only() {
    for agent in Agent::TASTES {
        let mut with_gum = setup(*agent, Level::Ten);
        // Ten minutes before the first dose.
        with_gum.last_intake_at = Some(second(FIRST - 600));
        let mut run = Run::ready(with_gum);
        let refusal = run.refused(FIRST, DOSE);
        assert_eq!(refusal.code, Code::IntakeTooRecent);
        assert_eq!(time(&refusal, "earliest_start"), second(FIRST + 300));
        assert_eq!(number(&refusal, "seconds_remaining"), 300);
        assert_eq!(run.refused(FIRST + 299, DOSE).code, Code::IntakeTooRecent);
        run.ok(FIRST + 300, DOSE);

        // Plain water leaves no intake behind.
        let mut run = Run::ready(setup(*agent, Level::Ten));
        run.ok(FIRST, DOSE);
    }
}

/// 29 CFR 1910.134 App. A I.B.3(b)(7) and I.B.4(b)(7).
#[test]
fn fact_3_45_and_3_65_the_first_dose_is_the_level() {
    for agent in Agent::TASTES {
        for level in Level::ALL {
            for squeezes in [0, 5, 9, 10, 11, 15, 20, 29, 30, 31, 255] {
                let mut run = Run::ready(setup(*agent, *level));
                if squeezes == level.squeezes() {
                    run.ok(FIRST, Kind::DoseGiven { squeezes });
                } else {
                    let refusal = run.refused(FIRST, Kind::DoseGiven { squeezes });
                    assert_eq!(refusal.code, Code::WrongDose);
                    assert_eq!(number(&refusal, "expected_squeezes"), i64::from(level.squeezes()));
                }
            }
        }
    }
}

#[test]
fn what_belongs_after_the_first_dose_is_refused_before_it() {
    let later = [
        (Kind::Tasted, Code::EventNotNow),
        (Kind::Unsure, Code::EventNotNow),
        (Kind::ExerciseStarted { number: 1 }, Code::EventNotNow),
        (Kind::ExerciseEnded { number: 1 }, Code::EventNotNow),
        (Kind::AskedAgain { tasted: true, comfortable: true }, Code::EventNotNow),
        (Kind::NebulizerChecked { clear: false }, Code::EventNotNow),
        (Kind::Signed, Code::ClosingIncomplete),
    ];
    let mut run = Run::ready(setup(Agent::Saccharin, Level::Ten));
    for (kind, code) in later {
        assert_eq!(run.refused(390, kind).code, code, "{kind:?}");
    }
    let mut run = Run::fresh();
    for kind in [Kind::Doffed, SEAL_OK, Kind::Adjusted, HOODED, DOSE] {
        assert_eq!(run.refused(10, kind).code, Code::NotDonned, "{kind:?}");
    }
}

/// 29 CFR 1910.134 App. A I.A.10 (fact 2.13), and an interruption before the test began.
#[test]
fn unwell_or_interrupted_while_fitting() {
    let mut run = Run::ready(setup(Agent::Saccharin, Level::Ten));
    run.ok(390, Kind::Unwell);
    assert_eq!((run.verdict().outcome, run.verdict().second), (Outcome::Stopped, None));
    let mut run = Run::ready(setup(Agent::Saccharin, Level::Ten));
    run.ok(390, Kind::Interrupted);
    assert_eq!((run.verdict().outcome, run.verdict().reason), (Outcome::Void, VerdictReason::Interrupted));
}
