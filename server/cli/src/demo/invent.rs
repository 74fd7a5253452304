//! The invented hospital: who its people are, and what would happen to each of them on the day.
//!
//! Everything here is drawn from one seed. It is what the people are like, not what the server decides about them.

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::names::{FAMILIES, LONGEST, SHARES, UNITS};

/// The respirators of the hospital, in the order in which they are offered: make, model, style, size, facepiece, class.
pub(super) const RESPIRATORS: &[[&str; 6]] = &[
    ["Ostrel", "cup", "moulded", "regular", "filtering_facepiece", "N95"],
    ["Ostrel", "cup", "moulded", "small", "filtering_facepiece", "N95"],
    ["Quillby", "fold", "flat fold", "one size", "filtering_facepiece", "N95"],
    ["Tarn", "half-face", "elastomeric", "S", "half_mask", "P100"],
    ["Tarn", "half-face", "elastomeric", "M", "half_mask", "P100"],
];

/// Somebody of the hospital.
#[derive(Debug, Clone)]
pub(super) struct Person {
    pub(super) staff_number: String,
    pub(super) given_name: String,
    pub(super) family_name: String,
    pub(super) birth_date: String,
    pub(super) unit: &'static str,
    pub(super) traits: Traits,
}

/// What is true of somebody, whether or not anybody finds out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Traits {
    /// At which squeeze they first taste the sweet agent; never when absent.
    pub(super) sweet_at: Option<u8>,
    /// The same for the bitter agent.
    pub(super) bitter_at: Option<u8>,
    /// For each respirator in the order of the offer: when it leaks, the exercise in which they taste it.
    pub(super) leaks: Vec<Option<u8>>,
    /// What else happens, once.
    pub(super) mishap: Option<Mishap>,
    /// Minutes before check-in at which they last ate or drank.
    pub(super) ate_minutes_before: Option<i64>,
    pub(super) hair_at_seal: bool,
    pub(super) permitted: bool,
    pub(super) wears_glasses: bool,
    /// Not there when first called.
    pub(super) slow_to_come: bool,
}

/// What ends an attempt without a result, the first time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mishap {
    /// The wearer pushes the nose piece during exercise 3.
    Adjusts,
    /// An alarm during exercise 2.
    Interrupted,
    /// The nebulizer is found clogged at the end.
    Clogged,
    /// The wearer is unwell in exercise 1.
    Unwell,
}

/// The people of one seed.
pub(super) fn people(seed: u64, count: usize) -> Vec<Person> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut people: Vec<Person> = (0..count).map(|index| person(&mut rng, index)).collect();
    // A demonstration has to show every case, however small it is and whatever the seed draws.
    for (number, case) in CASES.iter().enumerate() {
        if let Some(person) = people.get_mut(number * count / CASES.len()).filter(|_| count >= CASES.len()) {
            person.traits = Traits::easy();
            case(&mut person.traits);
        }
    }
    if let Some(last) = people.last_mut() {
        (last.given_name, last.family_name) = (LONGEST.0.to_owned(), LONGEST.1.to_owned());
    }
    people
}

/// The cases that every demonstration of ten people or more holds.
const CASES: &[fn(&mut Traits)] = &[
    |traits| traits.leaks = vec![Some(4), None, None, None, None],
    |traits| traits.mishap = Some(Mishap::Adjusts),
    |traits| traits.sweet_at = None,
    |traits| (traits.sweet_at, traits.bitter_at) = (None, None),
    |traits| traits.leaks = vec![Some(1), Some(5), Some(7), None, None],
    |traits| traits.permitted = false,
    |traits| traits.hair_at_seal = true,
    |traits| traits.mishap = Some(Mishap::Unwell),
    |traits| traits.ate_minutes_before = Some(4),
    |traits| (traits.mishap, traits.slow_to_come) = (Some(Mishap::Clogged), true),
];

impl Traits {
    /// Somebody with whom nothing special happens.
    fn easy() -> Self {
        Self {
            sweet_at: Some(6),
            bitter_at: Some(8),
            leaks: vec![None; RESPIRATORS.len()],
            mishap: None,
            ate_minutes_before: None,
            hair_at_seal: false,
            permitted: true,
            wears_glasses: false,
            slow_to_come: false,
        }
    }

    /// Shares of each are common practice, no source; they only have to be believable.
    fn draw(rng: &mut impl Rng) -> Self {
        let tastes = |rng: &mut _, never: f64| match RngExt::random_range(rng, 0.0..1.0) {
            part if part < never => None,
            part if part < 0.05 => Some(RngExt::random_range(rng, 21..=30)),
            part if part < 0.20 => Some(RngExt::random_range(rng, 11..=20)),
            _ => Some(RngExt::random_range(rng, 1..=10)),
        };
        let leak = |rng: &mut _, share: f64| {
            RngExt::random_bool(rng, share).then(|| RngExt::random_range(rng, 1..=7))
        };
        Self {
            sweet_at: tastes(rng, 0.03),
            bitter_at: tastes(rng, 0.015),
            leaks: [0.14, 0.30, 0.35, 0.40, 0.40].map(|share| leak(rng, share)).to_vec(),
            mishap: rng.random_bool(0.03).then_some(match rng.random_range(0..3) {
                0 => Mishap::Adjusts,
                1 => Mishap::Interrupted,
                _ => Mishap::Clogged,
            }),
            ate_minutes_before: rng.random_bool(0.10).then(|| rng.random_range(1..=14)),
            hair_at_seal: rng.random_bool(0.01),
            permitted: rng.random_bool(0.985),
            wears_glasses: rng.random_bool(0.4),
            slow_to_come: rng.random_bool(0.02),
        }
    }
}

fn person(rng: &mut impl Rng, index: usize) -> Person {
    let mut ticket = rng.random_range(0..SHARES.iter().sum());
    let family = SHARES
        .iter()
        .position(|share| {
            let here = ticket < *share;
            ticket = ticket.saturating_sub(*share);
            here
        })
        .unwrap_or_default();
    let (given, last) = FAMILIES[family];
    Person {
        staff_number: format!("{:07}", 40_000 + index * 7),
        given_name: given[rng.random_range(0..given.len())].to_owned(),
        family_name: last[rng.random_range(0..last.len())].to_owned(),
        birth_date: format!(
            "{}-{:02}-{:02}",
            rng.random_range(1958..=2004),
            rng.random_range(1..=12),
            rng.random_range(1..=28)
        ),
        unit: UNITS[rng.random_range(0..UNITS.len())],
        traits: Traits::draw(rng),
    }
}

/// The roster as the personnel office would send it.
pub(super) fn roster(people: &[Person]) -> String {
    let mut text = String::from("staff_number,given_name,family_name,birth_date,unit\r\n");
    for person in people {
        let Person { staff_number, given_name, family_name, birth_date, unit, .. } = person;
        text.push_str(&format!("{staff_number},{given_name},{family_name},{birth_date},{unit}\r\n"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_seed_makes_one_hospital() {
        assert_eq!(roster(&people(7, 40)), roster(&people(7, 40)));
        assert_ne!(roster(&people(7, 40)), roster(&people(8, 40)));
    }

    #[test]
    fn every_case_happens_from_ten_people_on() {
        for count in [CASES.len(), 37, 120] {
            let people = people(1, count);
            assert_eq!(people.len(), count);
            assert!(people.iter().any(|person| person.traits.mishap == Some(Mishap::Unwell)));
            assert!(
                people
                    .iter()
                    .any(|person| person.traits.sweet_at.is_none() && person.traits.bitter_at.is_some())
            );
            assert!(people.iter().any(|person| !person.traits.permitted));
        }
    }

    #[test]
    fn few_people_are_possible() {
        for count in 0..CASES.len() {
            assert_eq!(people(1, count).len(), count);
        }
    }
}
