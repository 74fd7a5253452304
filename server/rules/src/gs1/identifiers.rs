//! The application identifiers and what their values look like (GS1 General Specifications section 3.2).

/// Which characters a part of a value may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Digits.
    Digits,
    /// Digits of which the last is the check digit (section 7.9).
    Key,
    /// A day as YYMMDD (section 7.12).
    Date,
    /// Character set 82 (section 7.11).
    Set82,
    /// Character set 39 (section 7.11).
    Set39,
    /// Character set 64, safe in files and addresses (section 7.11).
    Set64,
}

impl Kind {
    /// Whether the character may stand in such a part.
    pub(super) fn allows(self, c: char) -> bool {
        match self {
            Self::Digits | Self::Key | Self::Date => c.is_ascii_digit(),
            Self::Set82 => matches!(c, '!' | '"' | '%'..='?' | 'A'..='Z' | '_' | 'a'..='z'),
            Self::Set39 => matches!(c, '#' | '-' | '/' | '0'..='9' | 'A'..='Z'),
            Self::Set64 => matches!(c, '-' | '_' | '0'..='9' | 'A'..='Z' | 'a'..='z'),
        }
    }
}

/// A part of a value: from `min` to `max` characters, in steps of `step`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Part {
    pub(super) kind: Kind,
    pub(super) min: usize,
    pub(super) max: usize,
    pub(super) step: usize,
}

/// A first part of fixed length, or one of any length alone; then a second part or none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Format {
    pub(super) first: Part,
    pub(super) second: Option<Part>,
}

const fn part(kind: Kind, min: usize, max: usize) -> Part {
    Part { kind, min, max, step: 1 }
}

const fn only(kind: Kind, min: usize, max: usize) -> Format {
    Format { first: part(kind, min, max), second: None }
}

const fn exactly(digits: usize) -> Format {
    only(Kind::Digits, digits, digits)
}

const fn digits(max: usize) -> Format {
    only(Kind::Digits, 1, max)
}

const fn stepped(min: usize, max: usize, step: usize) -> Format {
    Format { first: Part { kind: Kind::Digits, min, max, step }, second: None }
}

const fn key(digits: usize) -> Format {
    only(Kind::Key, digits, digits)
}

const fn text(max: usize) -> Format {
    only(Kind::Set82, 1, max)
}

const fn then(first: Format, kind: Kind, min: usize, max: usize) -> Format {
    Format { first: first.first, second: Some(part(kind, min, max)) }
}

/// Digits in the identifier that begins with these two; none where no identifier does.
pub(super) fn length(first_two: &str) -> Option<usize> {
    match first_two.parse().ok()? {
        0..=4_u8 | 10..=22 | 30 | 37 | 90..=99 => Some(2),
        23..=25 | 40..=42 | 71 => Some(3),
        31..=36 | 39 | 43 | 70 | 72 | 80..=82 => Some(4),
        _ => None,
    }
}

/// Characters of the value when the identifier belongs to those whose length is predefined and that therefore need no
/// separator (section 7.8.5, the table of predefined lengths, here less the identifier).
pub(super) fn predefined_length(ai: &str) -> Option<usize> {
    match ai.get(..2)?.parse().ok()? {
        0_u8 => Some(18),
        1..=3 => Some(14),
        4 => Some(16),
        11..=19 => Some(6),
        20 => Some(2),
        31..=36 => Some(6),
        41 => Some(13),
        _ => None,
    }
}

/// What the value of an identifier looks like; none for an identifier that does not exist.
pub(super) fn format(ai: &str) -> Option<Format> {
    let number: u16 = ai.parse().ok()?;
    match ai.len() {
        2 => two_digits(number),
        3 => three_digits(number),
        4 => match number {
            3000..=3999 => measures_and_amounts(number),
            4000..=4999 => transport(number),
            7000..=7999 => industry(number),
            8000..=8999 => special(number),
            _ => None,
        },
        _ => None,
    }
}

fn two_digits(number: u16) -> Option<Format> {
    Some(match number {
        0 => key(18),
        1..=3 => key(14),
        10 | 21 | 22 => text(20),
        11..=13 | 15..=17 => only(Kind::Date, 6, 6),
        20 => exactly(2),
        30 | 37 => digits(8),
        90 => text(30),
        91..=99 => text(90),
        _ => return None,
    })
}

fn three_digits(number: u16) -> Option<Format> {
    Some(match number {
        235 => text(28),
        240 | 241 | 250 | 251 | 400 | 401 | 403 => text(30),
        242 => digits(6),
        243 | 254 | 420 | 710..=717 => text(20),
        253 => then(key(13), Kind::Set82, 0, 17),
        255 => then(key(13), Kind::Digits, 0, 12),
        402 => key(17),
        410..=417 => key(13),
        421 => then(exactly(3), Kind::Set82, 1, 9),
        422 | 424 | 426 => exactly(3),
        423 | 425 => stepped(3, 15, 3),
        427 => text(3),
        _ => return None,
    })
}

/// Weights, lengths, areas, volumes; the last digit tells the decimals. Then amounts and prices.
fn measures_and_amounts(number: u16) -> Option<Format> {
    let decimals = number % 10;
    Some(match number / 10 {
        310..=316 | 320..=337 | 340..=357 | 360..=369 if decimals <= 5 => exactly(6),
        390 | 392 => digits(15),
        // Three digits of the currency first.
        391 | 393 => only(Kind::Digits, 4, 18),
        394 if decimals <= 3 => exactly(4),
        395 if decimals <= 5 => exactly(6),
        _ => return None,
    })
}

fn transport(number: u16) -> Option<Format> {
    Some(match number {
        4300 | 4301 | 4310 | 4311 | 4320 => text(35),
        4302..=4306 | 4312..=4316 => text(70),
        4307 | 4317 => only(Kind::Set82, 2, 2),
        4308 | 4319 => text(30),
        4309 => exactly(20),
        4318 => text(20),
        4321..=4323 => exactly(1),
        4324 | 4325 => exactly(10),
        4326 => exactly(6),
        // A minus may follow the temperature.
        4330..=4333 => then(exactly(6), Kind::Set82, 0, 1),
        _ => return None,
    })
}

fn industry(number: u16) -> Option<Format> {
    Some(match number {
        7001 => exactly(13),
        7002 | 7023 => text(30),
        7003 => exactly(10),
        7004 => digits(4),
        7005 => text(12),
        7006 => exactly(6),
        7007 => stepped(6, 12, 6),
        7008 => text(3),
        7009 => text(10),
        7010 => text(2),
        7011 => stepped(6, 10, 4),
        7020..=7022 | 7240 => text(20),
        7030..=7039 => then(exactly(3), Kind::Set82, 1, 27),
        7040 => then(exactly(1), Kind::Set82, 3, 3),
        7041 => text(4),
        7230..=7239 => only(Kind::Set82, 3, 30),
        7241 => exactly(2),
        7242 => text(25),
        7250 => exactly(8),
        7251 => exactly(12),
        7252 => exactly(1),
        7253 | 7254 | 7259 => text(40),
        7255 => text(10),
        7256 => text(90),
        7257 => text(70),
        7258 => only(Kind::Set82, 3, 3),
        _ => return None,
    })
}

fn special(number: u16) -> Option<Format> {
    Some(match number {
        8001 => exactly(14),
        8002 | 8012 => text(20),
        8003 => then(key(14), Kind::Set82, 0, 16),
        8004 => text(30),
        8005 => exactly(6),
        8006 | 8026 => then(key(14), Kind::Digits, 4, 4),
        8007 => text(34),
        8008 => stepped(8, 12, 2),
        8009 => text(50),
        8010 => only(Kind::Set39, 1, 30),
        8011 => digits(12),
        8013 | 8014 | 8020 => text(25),
        8017 | 8018 => key(18),
        8019 => digits(10),
        8030 => only(Kind::Set64, 1, 90),
        8040 | 8041 => exactly(15),
        8042 => exactly(32),
        8043 => only(Kind::Digits, 18, 20),
        8110 | 8112 | 8200 => text(70),
        8111 => exactly(4),
        _ => return None,
    })
}
