//! A recorded ride that the simulated rider can repeat: power and cadence second by second, read
//! from an activity file.
//!
//! A record without power is missing, not zero; a gap in time is a gap. What the legs do there is
//! a separate matter: [`RecordedRide::moment`] bridges a few seconds and rests through more.

use fitparser::profile::MesgNum;
use fitparser::{FitDataRecord, Value};
use units::Span;

/// Longest stretch without a value that is bridged by the neighbours, s.
const BRIDGED_S: f64 = 5.0;
/// How long the last record counts.
const LAST_RECORD: Span = Span::from_secs(1);

/// A ride as it was recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct RecordedRide {
    name: String,
    records: Vec<Record>,
    /// Power and cadence with short holes bridged, for the legs; one per record.
    bridged: Vec<Moment>,
}

/// One record of a ride.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Record {
    /// Time since the first record.
    pub at: Span,
    /// Power, W; `None` if the record has none.
    pub power_w: Option<f64>,
    /// Cadence, rpm; `None` if the record has none.
    pub cadence_rpm: Option<f64>,
}

/// What the legs do at one moment of a ride.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Power at the crank, W.
    pub power_w: f64,
    /// Cadence, rpm.
    pub cadence_rpm: f64,
}

/// Why a ride cannot be repeated.
#[derive(Debug, thiserror::Error)]
pub enum RideError {
    /// The file is not a readable activity file.
    #[error("{name:?} is not a readable FIT activity: {reason}; export it again")]
    Unreadable {
        /// Name of the file.
        name: String,
        /// What the reader said.
        reason: String,
    },
    /// The file has no power.
    #[error(
        "{name:?} has {records} records and none with power; choose a ride recorded with a meter"
    )]
    NoPower {
        /// Name of the file.
        name: String,
        /// How many records it has.
        records: usize,
    },
}

impl RecordedRide {
    /// From the bytes of a FIT activity; `name` is for messages and people.
    ///
    /// # Errors
    /// [`RideError`] if the bytes cannot be read or hold no power.
    pub fn from_fit(bytes: &[u8], name: &str) -> Result<Self, RideError> {
        let messages = fitparser::from_bytes(bytes).map_err(|error| RideError::Unreadable {
            name: name.to_owned(),
            reason: error.to_string(),
        })?;
        let mut begin_s = None;
        let mut records: Vec<Record> = Vec::new();
        for message in messages
            .iter()
            .filter(|message| message.kind() == MesgNum::Record)
        {
            let Some(at_s) = timestamp_s(message) else {
                continue;
            };
            let at = Span::from_secs(at_s - *begin_s.get_or_insert(at_s));
            // A second record of the same second, or one from the past, has no place in order.
            if records.last().is_some_and(|last| at <= last.at) {
                continue;
            }
            records.push(Record {
                at,
                power_w: number(message, "power"),
                cadence_rpm: number(message, "cadence"),
            });
        }
        Self::from_records(records, name)
    }

    /// From records in order of time.
    ///
    /// # Errors
    /// [`RideError::NoPower`] if no record has a power.
    pub fn from_records(records: Vec<Record>, name: &str) -> Result<Self, RideError> {
        if !records.iter().any(|record| record.power_w.is_some()) {
            return Err(RideError::NoPower {
                name: name.to_owned(),
                records: records.len(),
            });
        }
        let power = bridge(&records, |record| record.power_w);
        // A recorder that shows work at no cadence has missed the cadence, not seen it rest.
        let cadence = bridge(&records, |record| {
            match (record.cadence_rpm, record.power_w) {
                (Some(0.0), Some(power_w)) if power_w > 0.0 => None,
                (cadence_rpm, _) => cadence_rpm,
            }
        });
        let bridged = power
            .into_iter()
            .zip(cadence)
            .map(|(power_w, cadence_rpm)| Moment {
                power_w,
                cadence_rpm,
            })
            .collect();
        Ok(Self {
            name: name.to_owned(),
            records,
            bridged,
        })
    }

    /// Name for people.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The records in order of time.
    pub fn records(&self) -> &[Record] {
        &self.records
    }

    /// Number of records, with or without power.
    pub fn len(&self) -> usize {
        self.records.len()
    }

    /// Never: a ride without a single power is refused.
    pub fn is_empty(&self) -> bool {
        self.records.is_empty()
    }

    /// Number of records with power.
    pub fn with_power(&self) -> usize {
        self.records
            .iter()
            .filter(|record| record.power_w.is_some())
            .count()
    }

    /// Mean of the recorded powers, W; records without power do not count.
    pub fn mean_power(&self) -> f64 {
        let sum_w: f64 = self
            .records
            .iter()
            .filter_map(|record| record.power_w)
            .sum();
        sum_w / self.with_power() as f64
    }

    /// Highest recorded power, W.
    pub fn most_power_w(&self) -> f64 {
        self.records
            .iter()
            .filter_map(|record| record.power_w)
            .fold(0.0, f64::max)
    }

    /// From the first record to the end of the last, which counts for one second.
    pub fn duration(&self) -> Span {
        self.records
            .last()
            .map_or(Span::ZERO, |last| last.at + LAST_RECORD)
    }

    /// What the legs do `since` the first record: the power of the record that holds, the cadence
    /// between records by a straight line. Rest before, after and in long gaps.
    pub fn moment(&self, since: Span) -> Moment {
        let rest = Moment {
            power_w: 0.0,
            cadence_rpm: 0.0,
        };
        let after = self.records.partition_point(|record| record.at <= since);
        let Some(index) = after.checked_sub(1) else {
            return rest;
        };
        let (record, here) = (self.records[index], self.bridged[index]);
        let within = since - record.at;
        let Some(next) = self.records.get(after) else {
            return if within < LAST_RECORD { here } else { rest };
        };
        let gap = next.at - record.at;
        if gap.as_secs_f64() > BRIDGED_S {
            return if within < LAST_RECORD { here } else { rest };
        }
        let share = within.as_secs_f64() / gap.as_secs_f64();
        let there = self.bridged[after].cadence_rpm;
        Moment {
            power_w: here.power_w,
            cadence_rpm: here.cadence_rpm + (there - here.cadence_rpm) * share,
        }
    }
}

/// The values of one field, holes of a few seconds bridged by a straight line, longer ones zero.
fn bridge(records: &[Record], field: impl Fn(&Record) -> Option<f64>) -> Vec<f64> {
    let known: Vec<(f64, f64)> = records
        .iter()
        .filter_map(|record| Some((record.at.as_secs_f64(), field(record)?)))
        .collect();
    records
        .iter()
        .map(|record| {
            let at_s = record.at.as_secs_f64();
            let after = known.partition_point(|&(known_s, _)| known_s < at_s);
            match (
                after.checked_sub(1).map(|before| known[before]),
                known.get(after),
            ) {
                (_, Some(&(there_s, value))) if there_s <= at_s => value,
                (Some((from_s, from)), Some(&(to_s, to))) if to_s - from_s <= BRIDGED_S => {
                    from + (to - from) * (at_s - from_s) / (to_s - from_s)
                }
                (Some((near_s, value)), None) if at_s - near_s <= BRIDGED_S => value,
                (None, Some(&(near_s, value))) if near_s - at_s <= BRIDGED_S => value,
                _ => 0.0,
            }
        })
        .collect()
}

fn timestamp_s(message: &FitDataRecord) -> Option<i64> {
    let field = message
        .fields()
        .iter()
        .find(|field| field.name() == "timestamp")?;
    match field.value() {
        Value::Timestamp(moment) => Some(moment.timestamp()),
        _ => None,
    }
}

fn number(message: &FitDataRecord, name: &str) -> Option<f64> {
    let field = message.fields().iter().find(|field| field.name() == name)?;
    match *field.value() {
        Value::UInt8(v) => Some(f64::from(v)),
        Value::SInt8(v) => Some(f64::from(v)),
        Value::UInt16(v) => Some(f64::from(v)),
        Value::SInt16(v) => Some(f64::from(v)),
        Value::UInt32(v) => Some(f64::from(v)),
        Value::SInt32(v) => Some(f64::from(v)),
        Value::Float32(v) if v.is_finite() => Some(f64::from(v)),
        Value::Float64(v) if v.is_finite() => Some(v),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(at_s: i64, power_w: Option<f64>, cadence_rpm: Option<f64>) -> Record {
        Record {
            at: Span::from_secs(at_s),
            power_w,
            cadence_rpm,
        }
    }

    #[test]
    fn missing_is_not_zero_and_gaps_are_gaps() {
        let ride = RecordedRide::from_records(
            vec![
                record(0, Some(100.0), Some(80.0)),
                record(1, None, Some(80.0)),
                record(2, Some(200.0), Some(0.0)),
                record(3, Some(200.0), Some(90.0)),
                record(60, Some(300.0), Some(90.0)),
            ],
            "short",
        )
        .unwrap();
        assert_eq!((ride.len(), ride.with_power()), (5, 4));
        assert_eq!(ride.mean_power(), 200.0);
        assert_eq!(ride.duration(), Span::from_secs(61));
        assert_eq!(ride.moment(Span::from_millis(1500)).power_w, 150.0);
        assert_eq!(ride.moment(Span::from_secs(2)).cadence_rpm, 85.0);
        assert_eq!(ride.moment(Span::from_secs(30)).power_w, 0.0);
        assert_eq!(ride.moment(Span::from_millis(60_500)).power_w, 300.0);
        assert_eq!(ride.moment(Span::from_secs(61)).power_w, 0.0);
        assert_eq!(ride.moment(Span::from_secs(-1)).power_w, 0.0);
    }

    #[test]
    fn nonsense_is_refused_with_a_remedy() {
        let error = RecordedRide::from_fit(b"not a ride", "x.fit")
            .unwrap_err()
            .to_string();
        assert!(
            error.contains("x.fit") && error.contains("export"),
            "{error}"
        );
        let error = RecordedRide::from_records(vec![record(0, None, Some(1.0))], "y").unwrap_err();
        assert!(error.to_string().contains("none with power"), "{error}");
    }
}
