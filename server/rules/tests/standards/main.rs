//! One test for each fact of the published texts that the program stands on, under the number it has in our notes.
//!
//! The facts are those of 29 CFR 1910.134 App. A, Part I.A (numbers 2.x), I.B (3.x) and I.C (4.x), and the worked rows
//! that follow from them (10.x). Facts that a program cannot show are listed with the reason, and that list is
//! compared with what is tested, so that none is lost.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails, and says where")]
#![allow(clippy::print_stdout, reason = "what is not tested is said on every run")]

mod general;
mod left_out;
mod noticed;
mod quantitative;
mod rows;
mod sets;
#[allow(dead_code, reason = "shared with the other tests of this crate")]
#[path = "../rules/support.rs"]
mod support;
mod tasted;

use std::collections::BTreeSet;

use libtest_mimic::{Arguments, Trial};

/// A fact: its number, the paragraph it is from, and what shows it.
pub(crate) type Fact = (&'static str, &'static str, fn());

/// Every number of our notes that is verified in the text or computed from it.
fn numbers() -> BTreeSet<String> {
    let section = |section: u32, last: u32| (1..=last).map(move |number| format!("{section}.{number}"));
    let mut all: BTreeSet<String> =
        section(2, 28).chain(section(3, 85)).chain(section(4, 59)).chain(section(10, 33)).collect();
    all.insert("4.46a".to_owned());
    // Remembered and not read: no test may stand on it.
    all.remove("3.83");
    all
}

fn main() {
    let facts: Vec<Fact> =
        [general::FACTS, noticed::FACTS, tasted::FACTS, quantitative::FACTS, rows::FACTS].concat();
    let tested: BTreeSet<String> = facts.iter().map(|(number, ..)| (*number).to_owned()).collect();
    let left_out: BTreeSet<String> =
        left_out::LEFT_OUT.iter().map(|(number, _)| (*number).to_owned()).collect();
    for (number, reason) in left_out::LEFT_OUT {
        println!("not tested: {number}: {reason}");
    }
    let numbers = numbers();
    let complete = Trial::test("every_number_is_tested_or_left_out_with_a_reason", move || {
        let known: BTreeSet<String> = tested.union(&left_out).cloned().collect();
        let lost: Vec<_> = numbers.symmetric_difference(&known).collect();
        assert!(lost.is_empty(), "neither tested nor left out, or no number of ours: {lost:?}");
        let both: Vec<_> = tested.intersection(&left_out).collect();
        assert!(both.is_empty(), "tested, so it need not be left out: {both:?}");
        Ok(())
    });
    let trials = facts.into_iter().map(|(number, source, check)| {
        Trial::test(format!("{number} {source}"), move || {
            check();
            Ok(())
        })
    });
    libtest_mimic::run(&Arguments::from_args(), trials.chain([complete]).collect()).exit();
}
