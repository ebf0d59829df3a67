//! What the gate says: windows that count, and seconds that do not with the reason.
//!
//! An exclusion that goes on is one exclusion, even if the figures in its reason change.

use super::window::Window;
use std::borrow::Cow;

/// What the gate says.
#[derive(Clone, Debug, PartialEq)]
pub enum Gated {
    /// A window that counts.
    Window(Window),
    /// Seconds that do not count.
    Excluded {
        /// First second.
        from_s: i64,
        /// One past the last second.
        to_s: i64,
        /// Why, in words.
        reason: Cow<'static, str>,
    },
}

/// Adds an exclusion, or lengthens the one before it if it gives the same reason; figures in the
/// reason do not make it another one.
pub(super) fn exclude(out: &mut Vec<Gated>, from_s: i64, to_s: i64, reason: Cow<'static, str>) {
    if let Some(Gated::Excluded {
        to_s: end,
        reason: known,
        ..
    }) = out.last_mut()
        && *end == from_s
        && is_same_reason(known, &reason)
    {
        *end = to_s;
        return;
    }
    out.push(Gated::Excluded {
        from_s,
        to_s,
        reason,
    });
}

/// Whether two reasons differ in their figures only.
pub(crate) fn is_same_reason(a: &str, b: &str) -> bool {
    let words = |text: &str| -> Vec<String> {
        text.split_whitespace()
            .filter(|word| !word.contains(|c: char| c.is_ascii_digit()))
            .map(str::to_owned)
            .collect()
    };
    a == b || words(a) == words(b)
}
