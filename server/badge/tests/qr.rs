//! The matrix of a code against ISO/IEC 18004.

#![allow(clippy::unwrap_used, reason = "an unmet expectation ends the test")]

use chrono::{DateTime, NaiveDate};
use sellion_badge::code::{self, LENGTH_MAX};
use sellion_badge::qr::{QrError, QrMatrix};
use sellion_badge::serial::COUNT;
use sellion_badge::{BadgeClaims, ClearedRespirator, Serial, SigningKey, token};

/// Characters that fit at level M in alphanumeric mode, versions 1 to 15 (ISO/IEC 18004, fact 7.20).
const CAPACITY_M: [usize; 15] = [20, 38, 61, 90, 122, 154, 178, 221, 262, 311, 366, 419, 483, 528, 600];

fn matrix(length: usize) -> QrMatrix {
    QrMatrix::encode(&"A".repeat(length)).unwrap()
}

/// ISO/IEC 18004, fact 7.20: n characters fit a version, n + 1 need the next.
#[test]
fn versions_hold_what_the_capacity_table_says() {
    for (version, capacity) in (1u8..).zip(CAPACITY_M) {
        assert_eq!(matrix(capacity).version(), version, "{capacity} characters");
        assert_eq!(matrix(capacity + 1).version(), version + 1, "{} characters", capacity + 1);
    }
}

/// ISO/IEC 18004, fact 7.18.
#[test]
fn the_side_is_17_and_4_for_each_version() {
    for length in [20, 366, LENGTH_MAX] {
        let matrix = matrix(length);
        assert_eq!(matrix.width(), 17 + 4 * usize::from(matrix.version()));
    }
}

#[test]
fn the_longest_code_is_of_the_densest_version_that_prints() {
    assert_eq!(matrix(LENGTH_MAX).version(), 17);
    assert_eq!(QrMatrix::encode(&"A".repeat(LENGTH_MAX + 1)), Err(QrError::Length));
}

/// ISO/IEC 18004 section on finder patterns: dark 7 x 7 ring, light ring, dark 3 x 3 core, in three corners.
#[test]
fn finder_patterns_stand_in_three_corners() {
    let matrix = matrix(100);
    let far = matrix.width() - 7;
    for (left, top) in [(0, 0), (far, 0), (0, far)] {
        for (column, row) in (0..7).flat_map(|row| (0..7).map(move |column| (column, row))) {
            let ring = column.min(row).min(6 - column).min(6 - row);
            assert_eq!(matrix.is_dark(left + column, top + row), ring != 1, "{column}, {row}");
        }
    }
}

/// ISO/IEC 18004 Annex C, fact 10.48c: level M is 00, so the five format bits of mask m are m alone; with their
/// BCH bits and the fixed mask they are 0x5412 for mask 0, and 0x40CE for mask 5.
#[test]
fn format_information_says_level_m() {
    const LEVEL_M: [u32; 8] = [0x5412, 0x5125, 0x5E7C, 0x5B4B, 0x45F9, 0x40CE, 0x4F97, 0x4AA0];
    for length in [20, 150, 366] {
        let matrix = matrix(length);
        let columns = [0, 1, 2, 3, 4, 5, 7, 8].map(|column| (column, 8));
        let rows = [7, 5, 4, 3, 2, 1, 0].map(|row| (8, row));
        let format = columns
            .into_iter()
            .chain(rows)
            .fold(0, |bits, (column, row)| bits << 1 | u32::from(matrix.is_dark(column, row)));
        assert!(LEVEL_M.contains(&format), "{format:#x}");
    }
}

#[test]
fn runs_cover_the_dark_modules_once_each() {
    let matrix = matrix(366);
    let mut covered = vec![0; matrix.width() * matrix.width()];
    for run in matrix.runs() {
        for column in run.column..run.column + run.length {
            covered[run.row * matrix.width() + column] += 1;
        }
    }
    for (place, times) in covered.into_iter().enumerate() {
        let dark = matrix.is_dark(place % matrix.width(), place / matrix.width());
        assert_eq!(times, i32::from(dark));
    }
}

#[test]
fn what_would_cost_a_byte_segment_is_refused() {
    assert_eq!(QrMatrix::encode("sl1:abc"), Err(QrError::NotAlphanumeric));
    assert_eq!(QrMatrix::encode("SL1:Ä"), Err(QrError::NotAlphanumeric));
    assert_eq!(QrMatrix::encode(""), Err(QrError::Length));
}

/// A site's issuer has twelve characters and a key's id eight; a respirator's number has ten at most, and a site that
/// issued ten million badges has been busy for a while.
#[test]
fn a_badge_for_one_respirator_fits_version_11_and_one_for_four_version_13() {
    let key = SigningKey::generate().unwrap();
    let due_on = NaiveDate::from_ymd_opt(2027, 8, 31).unwrap();
    let at = |seconds| DateTime::from_timestamp(seconds, 0).unwrap();
    for (respirators, version) in [(1, 11), (2, 12), (3, 12), (4, 13)] {
        let claims = BadgeClaims {
            issuer: "8f2c01d94e7b".to_owned(),
            serial: Serial::from_number(COUNT - 1).unwrap(),
            issued_at: at(1_790_000_000),
            expires_at: at(1_820_000_000),
            status_index: 9_999_999,
            respirators: vec![ClearedRespirator { code: i32::MAX.to_string(), due_on }; respirators],
        };
        let text = code::pack(&token::sign(&claims, &key).unwrap()).unwrap();
        let matrix = QrMatrix::encode(&text).unwrap();
        assert!(matrix.version() <= version, "{respirators}: version {}", matrix.version());
    }
}
