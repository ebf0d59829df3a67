//! Integer time: nanoseconds since the session began.
//!
//! Floating seconds appear only at the edge of a plot or inside a fit; everything that orders,
//! subtracts or stores time uses these two types, so a ten-hour session loses no precision and a
//! test can write `Timestamp::from_millis(1500)`.

use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

const NANOS_PER_SECOND: f64 = 1e9;

/// A moment, in nanoseconds since the session began. May be negative: a recorder may have
/// started before the session did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Timestamp(i64);

/// A signed length of time in nanoseconds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span(i64);

impl Timestamp {
    /// The beginning of the session.
    pub const ZERO: Self = Self(0);
    /// Later than every other moment.
    pub const MAX: Self = Self(i64::MAX);

    /// The moment `nanos` nanoseconds after the session began.
    pub const fn from_nanos(nanos: i64) -> Self {
        Self(nanos)
    }

    /// The moment `millis` milliseconds after the session began.
    pub const fn from_millis(millis: i64) -> Self {
        Self(millis.saturating_mul(1_000_000))
    }

    /// The moment `secs` whole seconds after the session began.
    pub const fn from_secs(secs: i64) -> Self {
        Self(secs.saturating_mul(1_000_000_000))
    }

    /// The moment `secs` seconds after the session began, rounded to the nearest nanosecond.
    /// Not-a-number becomes zero and values out of range saturate.
    pub fn from_secs_f64(secs: f64) -> Self {
        Self((secs * NANOS_PER_SECOND).round() as i64)
    }

    /// Nanoseconds since the session began.
    pub const fn as_nanos(self) -> i64 {
        self.0
    }

    /// Seconds since the session began, for plots and fits.
    pub fn as_secs_f64(self) -> f64 {
        self.0 as f64 / NANOS_PER_SECOND
    }

    /// The length of time from `earlier` to `self`; negative if `earlier` is later.
    pub const fn since(self, earlier: Self) -> Span {
        Span(self.0.saturating_sub(earlier.0))
    }
}

impl Span {
    /// No time at all.
    pub const ZERO: Self = Self(0);
    /// Longer than every other length.
    pub const MAX: Self = Self(i64::MAX);

    /// A length of `nanos` nanoseconds.
    pub const fn from_nanos(nanos: i64) -> Self {
        Self(nanos)
    }

    /// A length of `millis` milliseconds.
    pub const fn from_millis(millis: i64) -> Self {
        Self(millis.saturating_mul(1_000_000))
    }

    /// A length of `secs` whole seconds.
    pub const fn from_secs(secs: i64) -> Self {
        Self(secs.saturating_mul(1_000_000_000))
    }

    /// A length of `secs` seconds, rounded to the nearest nanosecond. Not-a-number becomes zero
    /// and values out of range saturate.
    pub fn from_secs_f64(secs: f64) -> Self {
        Self((secs * NANOS_PER_SECOND).round() as i64)
    }

    /// The length in nanoseconds.
    pub const fn as_nanos(self) -> i64 {
        self.0
    }

    /// The length in seconds.
    pub fn as_secs_f64(self) -> f64 {
        self.0 as f64 / NANOS_PER_SECOND
    }

    /// The length without its sign.
    pub const fn abs(self) -> Self {
        Self(self.0.saturating_abs())
    }

    /// Whether the length is below zero.
    pub const fn is_negative(self) -> bool {
        self.0 < 0
    }
}

impl Add<Span> for Timestamp {
    type Output = Self;
    fn add(self, span: Span) -> Self {
        Self(self.0.saturating_add(span.0))
    }
}

impl AddAssign<Span> for Timestamp {
    fn add_assign(&mut self, span: Span) {
        *self = *self + span;
    }
}

impl Sub<Span> for Timestamp {
    type Output = Self;
    fn sub(self, span: Span) -> Self {
        Self(self.0.saturating_sub(span.0))
    }
}

impl Sub for Timestamp {
    type Output = Span;
    fn sub(self, earlier: Self) -> Span {
        self.since(earlier)
    }
}

impl Add for Span {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Span {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Span {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl SubAssign for Span {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Neg for Span {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

impl Mul<i64> for Span {
    type Output = Self;
    fn mul(self, factor: i64) -> Self {
        Self(self.0.saturating_mul(factor))
    }
}

impl Div<i64> for Span {
    type Output = Self;
    /// Panics on a zero divisor, as integer division does.
    fn div(self, divisor: i64) -> Self {
        Self(self.0 / divisor)
    }
}

/// Minutes and seconds with tenths, as a person reads a stopwatch: `12:05.3`.
impl fmt::Display for Timestamp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_clock(f, self.0)
    }
}

/// Minutes and seconds with tenths: `0:30.0`.
impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_clock(f, self.0)
    }
}

fn write_clock(f: &mut fmt::Formatter<'_>, nanos: i64) -> fmt::Result {
    let tenths = (nanos.unsigned_abs() + 50_000_000) / 100_000_000;
    let sign = if nanos < 0 && tenths > 0 { "-" } else { "" };
    let (minutes, rest) = (tenths / 600, tenths % 600);
    let (hours, minutes) = (minutes / 60, minutes % 60);
    let (seconds, tenth) = (rest / 10, rest % 10);
    if hours > 0 {
        write!(f, "{sign}{hours}:{minutes:02}:{seconds:02}.{tenth}")
    } else {
        write!(f, "{sign}{minutes}:{seconds:02}.{tenth}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ten_hours_keep_every_nanosecond() {
        let late = Timestamp::from_secs(36_000) + Span::from_nanos(1);
        assert_eq!(late - Timestamp::from_secs(36_000), Span::from_nanos(1));
        assert_eq!(Timestamp::from_secs_f64(1.25).as_nanos(), 1_250_000_000);
    }

    #[test]
    fn clocks_read_as_a_stopwatch() {
        for (nanos, text) in [
            (0, "0:00.0"),
            (725_300_000_000, "12:05.3"),
            (59_960_000_000, "1:00.0"),
            (3_661_000_000_000, "1:01:01.0"),
            (-1_500_000_000, "-0:01.5"),
            (-10_000_000, "0:00.0"),
        ] {
            assert_eq!(Timestamp::from_nanos(nanos).to_string(), text);
        }
    }

    #[test]
    fn absurd_times_saturate_instead_of_wrapping() {
        assert_eq!(Timestamp::MAX + Span::from_secs(1), Timestamp::MAX);
        assert_eq!(Span::MAX * 2, Span::MAX);
        assert_eq!(Timestamp::from_secs_f64(f64::NAN), Timestamp::ZERO);
    }
}
