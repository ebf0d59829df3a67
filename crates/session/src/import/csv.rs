//! CSV and its relatives: the columns are guessed or said, shown, and then read.

use super::columns::{Column, Columns, Decimal, Delimiter, Kind, TimeKind};
use super::error::ImportError;
use super::moment::{self, Began, Moment};
use super::recording::{Format, Recording, Row};
use super::table::{self, Table};
use super::text;

/// Counts above this are seconds since 1970, in this century.
const EPOCH_S: f64 = 9e8;
/// Counts above this are milliseconds since 1970.
const EPOCH_MS: f64 = 9e11;
/// Unreadable values that are named one by one.
const NAMED_LINES: usize = 5;

pub(super) fn read(
    bytes: &[u8],
    name: &str,
    said: Option<&Columns>,
) -> Result<Recording, ImportError> {
    let (text, encoding) = text::decode(bytes);
    let said = said.cloned().unwrap_or_default();
    let table = Table::split(&text, said.delimiter);
    let unknown = |what: String| ImportError::Columns {
        name: name.to_owned(),
        what,
        columns: table.columns_in_words(),
    };
    let place = |kind: Kind| -> Result<Option<usize>, ImportError> {
        match said.said(kind) {
            Some(None) => Ok(None),
            Some(Some(named)) => table
                .column(named)
                .map(Some)
                .ok_or_else(|| unknown(format!("there is no column {named:?}"))),
            None => Ok(guess(&table, kind)),
        }
    };
    let missing = |kind: &str| unknown(format!("no column looks like {kind}"));
    let power = place(Kind::Power)?.ok_or_else(|| missing("power"))?;
    let mut date = place(Kind::Date)?;
    let mut time = place(Kind::Time)?;
    if time.is_none() {
        // A date with time may go by the name of a date.
        time = date.take();
    }
    let time = time.ok_or_else(|| missing("time"))?;
    if date == Some(time) {
        date = None;
    }
    let (cadence, speed) = (place(Kind::Cadence)?, place(Kind::Speed)?);
    let decimal = said
        .decimal
        .unwrap_or_else(|| guess_decimal(&table, &[power, time]));
    let time_kind = said
        .time_kind
        .map_or_else(|| guess_time(&table, time, decimal), Some)
        .ok_or_else(|| {
            let value = table.sample(time).next().unwrap_or_default().to_owned();
            unknown(format!(
                "times such as {value:?} in column {:?} cannot be read",
                table.header[time]
            ))
        })?;

    let scale = Scale::of(&table, power, speed);
    let clock = Clock {
        kind: time_kind,
        decimal,
        scale: time_scale(time_kind),
    };
    let mut remarks = vec![format!("written as {encoding}")];
    let mut rows: Vec<Row> = Vec::with_capacity(table.rows.len());
    let mut began = None;
    let mut unread: Vec<usize> = Vec::new();
    let mut days_ns = 0_i64;
    for (offset, fields) in table.rows.iter().enumerate() {
        let field = |column: usize| {
            fields
                .get(column)
                .map(|text| text.trim())
                .unwrap_or_default()
        };
        if fields.iter().all(|text| text.trim().is_empty()) {
            continue;
        }
        let value = |column: usize| decimal.read(field(column));
        let day = date.map(&field);
        let Some((moment, mut at_ns)) = clock.read(field(time), day) else {
            unread.push(table.first_line + offset);
            continue;
        };
        // A time of day that falls back by half a day has passed midnight.
        if time_kind == TimeKind::Clock && date.is_none() {
            const DAY_NS: i64 = 86_400_000_000_000;
            if rows
                .last()
                .is_some_and(|last| last.at_ns - (at_ns + days_ns) > DAY_NS / 2)
            {
                days_ns += DAY_NS;
            }
            at_ns += days_ns;
        }
        if rows.is_empty() {
            began = moment;
        }
        rows.push(Row {
            at_ns,
            power_w: value(power).map(|power| power * scale.power),
            cadence_rpm: cadence.and_then(value),
            speed_kmh: speed.and_then(value).map(|speed| speed * scale.speed),
        });
    }
    if !unread.is_empty() {
        let named: Vec<String> = unread
            .iter()
            .take(NAMED_LINES)
            .map(usize::to_string)
            .collect();
        let more = if unread.len() > NAMED_LINES {
            ", …"
        } else {
            ""
        };
        remarks.push(format!(
            "{} lines have no readable time and were left out: {}{more}",
            unread.len(),
            named.join(", ")
        ));
    }
    if matches!(began, Some(Moment::Local(_))) {
        remarks.push(
            "the times have no zone; the recorder's clock is placed by alignment alone".to_owned(),
        );
    }
    let began = began.map_or(Began::Unknown, Moment::began);
    let mut recording = Recording::from_rows(name, Format::Csv, began, &rows, remarks)?;
    let column = |kind: Kind, place: Option<usize>| Column {
        kind,
        named: place.map(|place| named(&table, place)),
    };
    recording.columns = Some(Columns {
        delimiter: Some(table.delimiter),
        decimal: Some(decimal),
        time_kind: Some(time_kind),
        columns: vec![
            column(Kind::Time, Some(time)),
            column(Kind::Date, date),
            column(Kind::Power, Some(power)),
            column(Kind::Cadence, cadence),
            column(Kind::Speed, speed),
        ],
    });
    Ok(recording)
}

/// The columns of a text, each named so that it is found again.
pub(super) fn column_names(bytes: &[u8], delimiter: Option<Delimiter>) -> Vec<String> {
    let table = Table::split(&text::decode(bytes).0, delimiter);
    (0..table.header.len())
        .map(|place| named(&table, place))
        .collect()
}

/// How a column is named so that it is found again: by its header where that is its own and can
/// be written down, else by its number.
fn named(table: &Table, place: usize) -> String {
    let header = &table.header[place];
    let alone = table.column(header) == Some(place);
    if alone && !header.is_empty() && !header.contains([';', '=']) && header.as_str() != "-" {
        header.clone()
    } else {
        (place + 1).to_string()
    }
}

/// The first column whose header names the kind; columns without a single value do not count.
fn guess(table: &Table, kind: Kind) -> Option<usize> {
    let is = |place: usize| {
        table::names(&table.header[place], kind) && table.sample(place).next().is_some()
    };
    let named: Vec<usize> = (0..table.header.len()).filter(|place| is(*place)).collect();
    // Earlier words say more: `seconds` is better than `time` where a file has both.
    let rank = |place: &usize| {
        let header = table.header[*place].to_lowercase();
        let words = kind.words();
        words
            .iter()
            .position(|word| header.contains(word))
            .unwrap_or(words.len())
    };
    named
        .iter()
        .copied()
        .min_by_key(|place| (rank(place), *place))
}

fn guess_decimal(table: &Table, columns: &[usize]) -> Decimal {
    let comma = columns
        .iter()
        .flat_map(|column| table.sample(*column))
        .any(|value| {
            let mut halves = value.split(',');
            let digits = |half: Option<&str>| {
                half.is_some_and(|half| {
                    let half = half.trim_start_matches('-');
                    !half.is_empty() && half.bytes().all(|byte| byte.is_ascii_digit())
                })
            };
            digits(halves.next()) && digits(halves.next()) && halves.next().is_none()
        });
    let point = columns
        .iter()
        .flat_map(|column| table.sample(*column))
        .any(|value| value.parse::<f64>().is_ok() && value.contains('.'));
    // Where other columns have whole numbers only, any of them may show the sign.
    let anywhere = !comma && !point && table.delimiter != super::Delimiter::Comma && {
        (0..table.header.len()).any(|column| {
            table.sample(column).any(|value| {
                value.contains(',') && Decimal::Comma.read(value).is_some() && !value.contains(':')
            })
        })
    };
    if comma && !point || anywhere {
        Decimal::Comma
    } else {
        Decimal::Point
    }
}

fn guess_time(table: &Table, column: usize, decimal: Decimal) -> Option<TimeKind> {
    let values: Vec<&str> = table.sample(column).collect();
    let first = values.first()?;
    if moment::of_text(first).is_some() {
        return Some(TimeKind::Date);
    }
    if moment::clock_s(first).is_some() {
        return Some(TimeKind::Clock);
    }
    let numbers: Vec<f64> = values
        .iter()
        .filter_map(|value| decimal.read(value))
        .collect();
    let unit = table::unit(&table.header[column]);
    match unit.as_deref() {
        _ if numbers.len() * 2 < values.len() => None,
        Some("ms" | "msec" | "millis" | "milliseconds") => Some(TimeKind::Milliseconds),
        Some("min" | "minutes") => Some(TimeKind::Minutes),
        Some("s" | "sec" | "secs" | "seconds") => Some(TimeKind::Seconds),
        _ if numbers[0].abs() > EPOCH_MS => Some(TimeKind::Milliseconds),
        _ if numbers[0].abs() > EPOCH_S => Some(TimeKind::Seconds),
        _ => {
            // Counting in hundreds or thousands, it counts milliseconds: no recorder writes once
            // in so many seconds.
            let mut steps: Vec<f64> = numbers.windows(2).map(|pair| pair[1] - pair[0]).collect();
            steps.sort_by(f64::total_cmp);
            let usual = steps.get(steps.len() / 2).copied().unwrap_or(1.0);
            Some(if usual >= 50.0 {
                TimeKind::Milliseconds
            } else {
                TimeKind::Seconds
            })
        }
    }
}

/// Nanoseconds in one unit of a counted time.
fn time_scale(kind: TimeKind) -> f64 {
    match kind {
        TimeKind::Milliseconds => 1e6,
        TimeKind::Minutes => 60e9,
        TimeKind::Seconds | TimeKind::Clock | TimeKind::Date => 1e9,
    }
}

struct Clock {
    kind: TimeKind,
    decimal: Decimal,
    scale: f64,
}

impl Clock {
    /// The moment if the text says one, and nanoseconds on the file's clock.
    fn read(&self, text: &str, date: Option<&str>) -> Option<(Option<Moment>, i64)> {
        match self.kind {
            TimeKind::Date => {
                let moment = moment::of_text(text)?;
                Some((Some(moment), moment.nanos()))
            }
            TimeKind::Clock => {
                let clock_s = moment::clock_s(text)?;
                match date {
                    Some(date) => {
                        let moment = moment::joined(moment::date(date)?, clock_s)?;
                        Some((Some(moment), moment.nanos()))
                    }
                    None => Some((None, nanos(clock_s * 1e9)?)),
                }
            }
            TimeKind::Seconds | TimeKind::Milliseconds | TimeKind::Minutes => {
                let count = self.decimal.read(text)?;
                let at_ns = nanos(count * self.scale)?;
                let since_1970 = count * self.scale > EPOCH_S * 1e9;
                let moment =
                    since_1970.then(|| Moment::Utc(chrono::DateTime::from_timestamp_nanos(at_ns)));
                Some((moment, at_ns))
            }
        }
    }
}

fn nanos(value: f64) -> Option<i64> {
    // Beyond this nothing is a moment of this or the last century.
    (value.is_finite() && value.abs() < 9e18).then_some(value.round() as i64)
}

/// By how much values are multiplied to become W and km/h.
struct Scale {
    power: f64,
    speed: f64,
}

impl Scale {
    fn of(table: &Table, power: usize, speed: Option<usize>) -> Self {
        let unit = |column: usize| table::unit(&table.header[column]).unwrap_or_default();
        let power = if unit(power) == "kw" { 1000.0 } else { 1.0 };
        let speed = speed.map_or(1.0, |column| match unit(column).as_str() {
            "m/s" | "mps" | "ms" | "m_s" => 3.6,
            // The international mile has 1609.344 m (exact by agreement of 1959).
            "mph" | "mi/h" => 1.609_344,
            _ => 1.0,
        });
        Self { power, speed }
    }
}
