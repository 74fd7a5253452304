//! Writes sample badges and what is expected to be read back from them, for the checks in
//! `tests/outside/badge`: `cargo run --example sample_sheets -- DIRECTORY [FONT FILE ...]`.
//!
//! Every person, site and respirator here is invented. A name whose script no given font has is left out and
//! said so, since the fonts of a machine differ.

use std::error::Error;
use std::fs;
use std::io::{self, Write as _};
use std::path::Path;

use chrono::{DateTime, NaiveDate, Utc};
use sellion_badge::sheet::{Fonts, Layout, PrintedBadge, PrintedRespirator, SheetError, render};
use sellion_badge::{BadgeClaims, ClearedRespirator, KeyRing, Serial, SigningKey, code, token};
use serde_json::{Value, json};

const BADGES: usize = 64;
/// Far ahead, so that a verifier with a clock of its own accepts the samples.
const EXPIRES_AT: i64 = 4_070_908_800;
const ISSUED_AT: i64 = 1_790_000_000;

/// Whole names: stacked marks composed and not, ligatures, both directions, no spaces, one long word.
const NAMES: [&str; 18] = [
    "Ana Ilves",
    "Griffin Affleck-Pfiffner",
    "Siobhán O’Dálaigh-Ní Mhurchú",
    "Nguyễn Thị Hồng Ấn Đỗ Phương Quỳnh Trâm Lệ Thủy Nguyệt Ẩm Ứng Hằng",
    "A\u{304}\u{301}l\u{323}\u{304}i\u{304}\u{300} Ṣ\u{304}o\u{328}\u{304}\u{301}re\u{331}\u{302}\u{301}n To\u{308}\u{304}mme\u{323}\u{302}r\u{325}\u{304}s",
    "علاء الدين عبد السلام الأنصاري",
    "Layla ليلى Haddad",
    "佐藤 花子",
    "歐陽 明月",
    "김하늘",
    "श्रीमती ज्योत्स्ना क्षत्रिय",
    "Ελένη Παπαδοπούλου",
    "Љиљана Ђорђевић",
    "Brandenstetterhofenmühlbergerwaldkirchensteinfelder",
    "محمد علي",
    "مُحَمَّد لُطْفِي بْن عَبْدِ اللّٰه",
    // 58 letters, many with two marks or three.
    "Ọ\u{301}la\u{301}\u{300}de\u{301}\u{331} Ẹ\u{301}niọ\u{300}lá Àṣẹ Ńwáǹyị\u{301}ọ\u{304} Ch\u{303}ukwu\u{304}\u{301} Ebe\u{323}\u{300}re\u{302}\u{304} Na\u{308}\u{304}ra Thẹ\u{304} Ịfé Obiọ\u{303}mạ Ńdị\u{304}mma Ụzọ\u{301}r",
    "Þórdís Ægisdóttir",
];

const RESPIRATORS: [(&str, &str, &str); 5] = [
    ("AL312M", "Alder 312", "medium"),
    ("AL312S", "Alder 312", "small"),
    ("BK7", "Birch Fold 7", "one size"),
    ("CD40L", "Cedar Half 40", "large"),
    ("DW9ML", "Dogwood Full 9", "medium to large"),
];

struct Sample {
    printed: PrintedBadge,
    jwt: String,
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args_os().skip(1);
    let directory = arguments.next().ok_or("name a directory to write to")?;
    let directory = Path::new(&directory);
    fs::create_dir_all(directory)?;
    let extra = arguments.map(fs::read).collect::<Result<Vec<_>, _>>()?;
    let fonts = Fonts::with_extra(extra)?;
    let names = printable_names(&fonts)?;
    let key = SigningKey::generate()?;
    let samples = (0..BADGES).map(|index| sample(index, &names, &key)).collect::<Result<Vec<_>, _>>()?;
    let sheets = [
        write_sheet(directory, "cards.pdf", Layout::Card, &samples, &fonts)?,
        write_sheet(directory, "sheets.pdf", Layout::A4Sheet, &samples, &fonts)?,
        write_sheet(directory, "singles.pdf", Layout::A4Single, &samples[..names.len()], &fonts)?,
    ];
    let mut ring = KeyRing::new();
    ring.insert(key.verifying_key().clone())?;
    let expected = json!({
        "jwks": ring.to_jwks(),
        "sheets": sheets,
        "badges": samples.iter().map(expectation).collect::<Vec<_>>(),
        "refused": refused(&key, &samples[0])?,
    });
    fs::write(directory.join("expected.json"), serde_json::to_vec_pretty(&expected)?)?;
    Ok(())
}

fn printable_names(fonts: &Fonts) -> Result<Vec<&'static str>, Box<dyn Error>> {
    let mut names = Vec::new();
    for name in NAMES {
        let probe = printed(0, name, "SL1:".to_owned())?;
        match render(&[probe], Layout::A4Single, fonts, &mut |_| {}) {
            Ok(_) => names.push(name),
            Err(SheetError::NoGlyph { character, .. }) => {
                writeln!(io::stderr(), "left out, no font given has {character:?}: {name}")?;
            }
            Err(other) => return Err(other.into()),
        }
    }
    Ok(names)
}

/// One to four respirators, by place.
fn respirators(index: usize) -> impl Iterator<Item = (&'static str, &'static str, &'static str)> {
    RESPIRATORS.into_iter().cycle().skip(index % 5).take(1 + index % 4)
}

fn printed(index: usize, name: &str, code_text: String) -> Result<PrintedBadge, Box<dyn Error>> {
    let line = |(_, name, size): (&str, &str, &str)| PrintedRespirator {
        name: name.to_owned(),
        size: size.to_owned(),
        due_on: "31 Aug 2027".to_owned(),
    };
    Ok(PrintedBadge {
        display_name: name.to_owned(),
        serial: Serial::from_number(7_919_000_000_011 + 104_729 * index as u64)?,
        valid_until: "31 Aug 2027".to_owned(),
        respirators: respirators(index).map(line).collect(),
        code_text,
        site_name: "Lindenhof General Hospital".to_owned(),
    })
}

fn sample(index: usize, names: &[&str], key: &SigningKey) -> Result<Sample, Box<dyn Error>> {
    let mut printed = printed(index, names[index % names.len()], String::new())?;
    let due_on = NaiveDate::from_ymd_opt(2027, 8, 31).ok_or("no such day")?;
    let cleared = |(code, _, _): (&str, &str, &str)| ClearedRespirator { code: code.to_owned(), due_on };
    let claims = BadgeClaims {
        issuer: "https://fit.lindenhof.example".to_owned(),
        serial: printed.serial,
        issued_at: moment(ISSUED_AT)?,
        expires_at: moment(EXPIRES_AT)?,
        status_index: 100_000 + index as u64,
        respirators: respirators(index).map(cleared).collect(),
    };
    let jwt = token::sign(&claims, key)?;
    printed.code_text = code::pack(&jwt)?;
    Ok(Sample { printed, jwt })
}

fn moment(seconds: i64) -> Result<DateTime<Utc>, Box<dyn Error>> {
    Ok(DateTime::from_timestamp(seconds, 0).ok_or("no such moment")?)
}

fn write_sheet(
    directory: &Path,
    file: &str,
    layout: Layout,
    samples: &[Sample],
    fonts: &Fonts,
) -> Result<Value, Box<dyn Error>> {
    let badges: Vec<_> = samples.iter().map(|sample| sample.printed.clone()).collect();
    fs::write(directory.join(file), render(&badges, layout, fonts, &mut |_| {})?)?;
    let (width_mm, height_mm) = layout.page_size_mm();
    Ok(json!({
        "file": file,
        "page_width_mm": width_mm,
        "page_height_mm": height_mm,
        "boxes_mm": (0..layout.badges_per_page()).map(|place| layout.badge_box_mm(place)).collect::<Vec<_>>(),
        "badges": badges.len(),
    }))
}

fn expectation(sample: &Sample) -> Value {
    json!({
        "name": sample.printed.display_name,
        "serial": sample.printed.serial.to_string(),
        "jti": sample.printed.serial.compact(),
        "code": sample.printed.code_text,
        "jwt": sample.jwt,
    })
}

/// Codes that every verifier must refuse.
fn refused(key: &SigningKey, genuine: &Sample) -> Result<Vec<Value>, Box<dyn Error>> {
    let stranger = SigningKey::generate()?;
    let due_on = NaiveDate::from_ymd_opt(2027, 8, 31).ok_or("no such day")?;
    let claims = BadgeClaims {
        issuer: "https://fit.lindenhof.example".to_owned(),
        serial: genuine.printed.serial,
        issued_at: moment(ISSUED_AT - 86_400)?,
        expires_at: moment(ISSUED_AT)?,
        status_index: 0,
        respirators: vec![ClearedRespirator { code: "AL312M".to_owned(), due_on }],
    };
    let future = BadgeClaims { expires_at: moment(EXPIRES_AT)?, ..claims.clone() };
    let case = |why: &str, jwt: &str| -> Result<Value, Box<dyn Error>> {
        Ok(json!({ "why": why, "code": code::pack(jwt)? }))
    };
    let (message, _) = genuine.jwt.rsplit_once('.').ok_or("no signature")?;
    let other = token::sign(&future, key)?;
    let (_, signature) = other.rsplit_once('.').ok_or("no signature")?;
    Ok(vec![
        case("signed by a key that is not in the set", &token::sign(&future, &stranger)?)?,
        case("carries the signature of another badge", &format!("{message}.{signature}"))?,
        case(
            "ended",
            &token::sign(
                &BadgeClaims {
                    expires_at: moment(1_600_000_000)?,
                    issued_at: moment(1_500_000_000)?,
                    ..claims
                },
                key,
            )?,
        )?,
    ])
}
