//! Base45 and serials.

use sellion_badge::{Serial, serial::COUNT};
use serde_json::{Value, json};

use crate::NOTE;

/// RFC 9285 sections 4.3, 4.4 and 6 (facts 10.44 to 10.46), and the ends of the range.
pub(crate) fn base45() -> Value {
    let good = [
        ("4142", "BB8"),
        ("48656c6c6f2121", "%69 VD92EX0"),
        ("626173652d3435", "UJCLQE7W581"),
        ("6965746621", "QED8WEX0"),
        ("ffff", "FGW"),
        ("0000", "000"),
        ("00", "00"),
        ("ff", "U5"),
        ("", ""),
    ];
    let good: Vec<Value> = good.iter().map(|(bytes, text)| json!({ "bytes": bytes, "text": text })).collect();
    let refused = ["GGW", ":::", "V5", "::", "0", "BB8B", "bb8", "BB#", "BBé", "BB8\n"];
    json!({ "note": NOTE, "good": good, "refused": refused })
}

pub(crate) fn serials() -> Value {
    let numbers = [0, 1, 28, 29, 4_711, 7_777_777, COUNT / 2, COUNT - 1];
    let good: Vec<String> =
        numbers.iter().map(|number| Serial::from_number(*number).unwrap().compact()).collect();
    let sample = &good[5];
    let letters: Vec<char> = sample.chars().collect();
    let swap = |one: usize, two: usize| {
        let mut letters = letters.clone();
        letters.swap(one, two);
        letters.into_iter().collect::<String>()
    };
    let differ = |one: usize, two: usize| letters[one] != letters[two];
    let swapped: Vec<String> = (0..9)
        .flat_map(|one| (one + 1..10).map(move |two| (one, two)))
        .filter(|(one, two)| differ(*one, *two))
        .map(|(one, two)| swap(one, two))
        .collect();
    let misread: Vec<String> = (0..10)
        .map(|place| {
            let other = if letters[place] == '7' { "8" } else { "7" };
            format!("{}{other}{}", &sample[..place], &sample[place + 1..])
        })
        .collect();
    let odd =
        [sample[1..].to_owned(), format!("{sample}2"), sample.replacen(letters[0], "0", 1), String::new()];
    let refused = [swapped, misread, odd.to_vec()].concat();
    json!({ "note": NOTE, "good": good, "refused": refused })
}
