//! One worked vector, where it comes from, and the check that both directions agree with it.

use sensor::{DecodeError, Decoded};
use std::fmt::Debug;

/// From the unit tests of the open-source Python library `bluetooth-sig`, at commit 27bdb3dc.
pub const LIBRARY_TESTS: &str = "unit tests of the library bluetooth-sig, commit 27bdb3dc";
/// From the unit tests of an open-source library for low-energy links in Swift.
pub const PROFILE_TESTS: &str =
    "unit tests \"ProfilesTests\" of a general low-energy Swift library";
/// Worked by hand from the layouts in the GATT Specification Supplement and the service texts,
/// and agreed on by a decoder written separately in another language.
pub const BY_HAND: &str = "worked by hand from the layout tables of the standard";

/// Bytes and the record they stand for.
pub struct Vector<T> {
    pub id: &'static str,
    pub hex: &'static str,
    pub expected: T,
    pub source: &'static str,
}

pub fn vector<T>(
    id: &'static str,
    hex: &'static str,
    expected: T,
    source: &'static str,
) -> Vector<T> {
    Vector {
        id,
        hex,
        expected,
        source,
    }
}

/// Decodes every vector, and encodes it back to the same bytes unless it is listed as one of
/// several ways to write the same record. Gives the vectors whose bytes were found odd.
pub fn check<T: Debug + PartialEq>(
    vectors: &[Vector<T>],
    decode: impl Fn(&[u8]) -> Result<Decoded<T>, DecodeError>,
    encode: impl Fn(&T) -> Vec<u8>,
    not_canonical: &[&str],
) -> Vec<&'static str> {
    let mut odd = Vec::new();
    assert!(!vectors.is_empty());
    for Vector {
        id,
        hex,
        expected,
        source,
    } in vectors
    {
        let bytes = bytes_of(hex);
        let decoded = decode(&bytes).unwrap_or_else(|error| panic!("{id} ({source}): {error}"));
        assert_eq!(&decoded.value, expected, "{id} ({source})");
        if !decoded.anomalies.is_empty() {
            odd.push(*id);
        }
        if not_canonical.contains(id) {
            assert_eq!(
                decode(&encode(expected)).map(|again| again.value).as_ref(),
                Ok(expected),
                "{id} ({source})"
            );
        } else {
            assert_eq!(encode(expected), bytes, "{id} ({source})");
        }
    }
    odd
}

pub fn ids_of<T>(vectors: &[Vector<T>]) -> Vec<&'static str> {
    vectors.iter().map(|vector| vector.id).collect()
}

fn bytes_of(hex: &str) -> Vec<u8> {
    let digits: Vec<u32> = hex.chars().filter_map(|c| c.to_digit(16)).collect();
    assert_eq!(digits.len() % 2, 0, "{hex} has half a byte");
    digits
        .chunks(2)
        .map(|pair| (pair[0] * 16 + pair[1]) as u8)
        .collect()
}
