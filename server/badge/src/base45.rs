//! Base45, RFC 9285: bytes as the 45 characters that a QR code stores in 5.5 bits each.
//!
//! Decoding is strict, so that one byte string has exactly one text: lower case, foreign characters,
//! impossible lengths and groups that overflow are refused, never mended.

/// The 45 characters in value order (RFC 9285 section 4.2, table 1).
pub const ALPHABET: &[u8; 45] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";

/// Why a text is not base45. Positions count bytes from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Base45Error {
    /// A character outside the alphabet.
    #[error("character at position {position} is not in the base45 alphabet")]
    Character {
        /// Where the character stands.
        position: usize,
    },
    /// One character is left over after the groups of three: no byte string encodes to such a length.
    #[error("a base45 text cannot have {length} characters")]
    Length {
        /// The length found.
        length: usize,
    },
    /// A group of three above 65535, or a last group of two above 255.
    #[error("the group at position {position} stands for more than its bytes can hold")]
    Overflow {
        /// Where the group starts.
        position: usize,
    },
}

/// Encodes bytes: two bytes become three characters, a last single byte two.
pub fn encode(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len().div_ceil(2) * 3);
    for group in bytes.chunks(2) {
        let (mut value, characters) = match *group {
            [high, low] => (usize::from(high) * 256 + usize::from(low), 3),
            [single] => (usize::from(single), 2),
            _ => continue,
        };
        for _ in 0..characters {
            text.push(char::from(ALPHABET[value % 45]));
            value /= 45;
        }
    }
    text
}

/// Decodes a text made by [`encode`].
///
/// # Errors
/// [`Base45Error`] for anything that no byte string encodes to.
pub fn decode(text: &str) -> Result<Vec<u8>, Base45Error> {
    let length = text.len();
    let values = text
        .bytes()
        .enumerate()
        .map(|(position, byte)| value_of(byte).ok_or(Base45Error::Character { position }))
        .collect::<Result<Vec<u32>, _>>()?;
    if length % 3 == 1 {
        return Err(Base45Error::Length { length });
    }
    let mut bytes = Vec::with_capacity(length / 3 * 2 + 1);
    for (index, group) in values.chunks(3).enumerate() {
        let overflow = Base45Error::Overflow { position: index * 3 };
        match *group {
            [c, d, e] => {
                let value = u16::try_from(c + 45 * d + 2025 * e).map_err(|_| overflow)?;
                bytes.extend(value.to_be_bytes());
            }
            [c, d] => bytes.push(u8::try_from(c + 45 * d).map_err(|_| overflow)?),
            _ => return Err(Base45Error::Length { length }),
        }
    }
    Ok(bytes)
}

/// True if every character could stand in a base45 text, and so in an alphanumeric QR segment.
pub fn is_alphabet(text: &str) -> bool {
    text.bytes().all(|byte| value_of(byte).is_some())
}

fn value_of(byte: u8) -> Option<u32> {
    let value = match byte {
        b'0'..=b'9' => byte - b'0',
        b'A'..=b'Z' => byte - b'A' + 10,
        b' ' => 36,
        b'$' => 37,
        b'%' => 38,
        b'*' => 39,
        b'+' => 40,
        b'-' => 41,
        b'.' => 42,
        b'/' => 43,
        b':' => 44,
        _ => return None,
    };
    Some(u32::from(value))
}
