//! From bytes to text, whatever a program on somebody's desk has written.

/// Decodes a text and says how: UTF-8 or UTF-16 by its mark (Unicode 15, 23.8), UTF-8 without a
/// mark where it is valid, else ISO 8859-1, in which every byte is a character.
pub(super) fn decode(bytes: &[u8]) -> (String, &'static str) {
    let sixteen = |bytes: &[u8], unit: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = bytes.chunks_exact(2).map(|b| unit([b[0], b[1]])).collect();
        String::from_utf16_lossy(&units)
    };
    match bytes {
        [0xEF, 0xBB, 0xBF, rest @ ..] => (
            String::from_utf8_lossy(rest).into_owned(),
            "UTF-8 with byte order mark",
        ),
        [0xFF, 0xFE, rest @ ..] => (sixteen(rest, u16::from_le_bytes), "UTF-16"),
        [0xFE, 0xFF, rest @ ..] => (sixteen(rest, u16::from_be_bytes), "UTF-16"),
        _ => match std::str::from_utf8(bytes) {
            Ok(text) => (text.to_owned(), "UTF-8"),
            // Cut in the middle of a character, it is still UTF-8.
            Err(error) if error.error_len().is_none() => {
                (String::from_utf8_lossy(bytes).into_owned(), "UTF-8")
            }
            Err(_) => (
                bytes.iter().map(|&byte| char::from(byte)).collect(),
                "ISO 8859-1",
            ),
        },
    }
}
