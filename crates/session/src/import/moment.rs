//! Moments as files write them: with a zone, without one, or as a bare count.

use chrono::{DateTime, NaiveDate, NaiveDateTime, NaiveTime, Utc};

/// What the recorder's calendar said at its first record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Began {
    /// A moment in universal time.
    Utc(DateTime<Utc>),
    /// A local time without a zone.
    Local(NaiveDateTime),
    /// The file counts from its own beginning.
    Unknown,
}

/// One moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Moment {
    /// With a zone.
    Utc(DateTime<Utc>),
    /// Without a zone.
    Local(NaiveDateTime),
}

impl Moment {
    /// Nanoseconds on the clock of the file.
    pub fn nanos(self) -> i64 {
        let nanos = match self {
            Self::Utc(moment) => moment.timestamp_nanos_opt(),
            Self::Local(moment) => moment.and_utc().timestamp_nanos_opt(),
        };
        nanos.unwrap_or_default()
    }

    /// As the beginning of a recording.
    pub fn began(self) -> Began {
        match self {
            Self::Utc(moment) => Began::Utc(moment),
            Self::Local(moment) => Began::Local(moment),
        }
    }
}

/// Dates with time as they are found in the wild, without a zone. Day first where it is written
/// with points, month first where it is written with slashes; ISO 8601 first of all.
const LOCAL: [&str; 8] = [
    "%Y-%m-%dT%H:%M:%S%.f",
    "%Y-%m-%d %H:%M:%S%.f",
    "%Y/%m/%d %H:%M:%S%.f",
    "%d.%m.%Y %H:%M:%S%.f",
    "%d.%m.%y %H:%M:%S%.f",
    "%m/%d/%Y %H:%M:%S%.f",
    "%Y-%m-%d %H:%M",
    "%d.%m.%Y %H:%M",
];

const ZONED: [&str; 3] = [
    "%Y-%m-%d %H:%M:%S%.f%:z",
    "%Y-%m-%d %H:%M:%S%.f %z",
    "%Y-%m-%dT%H:%M:%S%.f%z",
];

/// Reads a date with time.
pub(super) fn of_text(text: &str) -> Option<Moment> {
    let text = text.trim();
    let text = text.strip_suffix(" UTC").map_or_else(
        || text.to_owned(),
        |bare| format!("{}Z", bare.replacen(' ', "T", 1)),
    );
    if let Ok(moment) = DateTime::parse_from_rfc3339(&text) {
        return Some(Moment::Utc(moment.to_utc()));
    }
    if let Some(moment) = ZONED
        .iter()
        .find_map(|form| DateTime::parse_from_str(&text, form).ok())
    {
        return Some(Moment::Utc(moment.to_utc()));
    }
    LOCAL
        .iter()
        .find_map(|form| NaiveDateTime::parse_from_str(&text, form).ok())
        .map(Moment::Local)
}

/// Reads a date alone.
pub(super) fn date(text: &str) -> Option<NaiveDate> {
    ["%Y-%m-%d", "%d.%m.%Y", "%d.%m.%y", "%m/%d/%Y", "%Y/%m/%d"]
        .iter()
        .find_map(|form| NaiveDate::parse_from_str(text.trim(), form).ok())
}

/// Reads a time of day or a span as `h:mm:ss`, `mm:ss` or with a fraction; s.
pub(super) fn clock_s(text: &str) -> Option<f64> {
    let text = text.trim().replace(',', ".");
    let parts: Vec<&str> = text.split(':').collect();
    let number = |part: &str| -> Option<f64> {
        let value: f64 = part.parse().ok()?;
        (value.is_finite() && value >= 0.0).then_some(value)
    };
    match parts[..] {
        [minutes, seconds] => Some(60.0 * number(minutes)? + number(seconds)?),
        [hours, minutes, seconds] => {
            Some(3600.0 * number(hours)? + 60.0 * number(minutes)? + number(seconds)?)
        }
        _ => None,
    }
}

/// A date and a time of day together.
pub(super) fn joined(date: NaiveDate, clock_s: f64) -> Option<Moment> {
    let midnight = date.and_time(NaiveTime::MIN);
    let span = chrono::Duration::nanoseconds((clock_s * 1e9).round() as i64);
    midnight.checked_add_signed(span).map(Moment::Local)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_read_as_people_write_them() {
        let utc = |text| match of_text(text) {
            Some(Moment::Utc(moment)) => moment.to_rfc3339(),
            other => format!("{other:?}"),
        };
        assert_eq!(
            utc("2026-03-01T10:00:00+01:00"),
            "2026-03-01T09:00:00+00:00"
        );
        assert_eq!(utc("2026-03-01 10:00:00 UTC"), "2026-03-01T10:00:00+00:00");
        assert_eq!(
            utc("2026-03-01 10:00:00+01:00"),
            "2026-03-01T09:00:00+00:00"
        );
        for text in [
            "2026-03-01 10:00:00.5",
            "01.03.2026 10:00:00.5",
            "03/01/2026 10:00:00.5",
        ] {
            let expected = "2026-03-01T10:00:00.5".parse().ok().map(Moment::Local);
            assert_eq!(of_text(text), expected, "{text}");
        }
        assert_eq!(of_text("yesterday"), None);
        assert_eq!(clock_s("1:02:03,5"), Some(3723.5));
        assert_eq!(clock_s("02:03"), Some(123.0));
        assert_eq!(clock_s("12"), None);
    }
}
