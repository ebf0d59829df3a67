//! Rules that hold for every stream of notifications: length, reserved bits, fields in their
//! ranges, rhythm.

use super::evidence::{Evidence, Heard, Properties, Property};
use super::finding::{RuleFinding, StreamFigures, median};
use super::values::{is_reserved, is_tolerated};
use crate::anomaly::{Anomaly, DecodeError};
use crate::assigned::{self as a, name};
use crate::battery::BatteryLevel;
use crate::cycling_power::measurement::CyclingPowerMeasurement;
use crate::cycling_power::vector::CyclingPowerVector;
use crate::fitness_machine::indoor_bike_data::IndoorBikeData;
use crate::fitness_machine::status::Status;
use crate::fitness_machine::training_status::TrainingStatus;
use crate::heart_rate::HeartRateMeasurement;
use crate::speed_cadence::SpeedCadenceMeasurement;
use units::{Characteristic, Timestamp};

const BIKE_DATA: &str = "Fitness Machine Service 1.0, table 4.10 (Indoor Bike Data)";
const BIKE_RHYTHM: &str = "Fitness Machine Service 1.0, section 4.9 (typically once per second)";
const STATUS: &str = "Fitness Machine Service 1.0.1, table 4.26 (Fitness Machine Status)";
const TRAINING: &str = "Fitness Machine Service 1.0, Training Status (2AD3)";
const SUPPLEMENT: &str = "GATT Specification Supplement, value of the characteristic";
const NO_CLAUSE: &str = "no clause; the standards set no rhythm for it";

/// Slower than this is not "about once per second"; our own reading of "typically".
const SLOWEST_MEDIAN_MS: f64 = 1500.0;
/// An interval of more medians than this is a gap (common practice).
const GAP_MEDIANS: f64 = 2.5;
/// More gaps than this share of all intervals is no rhythm; our own reading of "typically".
const MOST_GAPS: f64 = 0.05;
/// Below this many intervals nothing is said about a rhythm.
const FEWEST_INTERVALS: usize = 8;

type Oddities = fn(&[u8]) -> Result<Vec<Anomaly>, DecodeError>;

/// Identifier, clause, service, characteristic, and what is odd about a value.
const ROWS: &[(&str, &str, u16, Characteristic, Oddities)] = {
    const M: u16 = a::FITNESS_MACHINE_SERVICE;
    const P: u16 = a::CYCLING_POWER_SERVICE;
    &[
        (
            "ftms.bike-data",
            BIKE_DATA,
            M,
            a::INDOOR_BIKE_DATA,
            |bytes| IndoorBikeData::decode(bytes).map(|decoded| decoded.anomalies),
        ),
        (
            "ftms.training-status",
            TRAINING,
            M,
            a::TRAINING_STATUS,
            |bytes| TrainingStatus::decode(bytes).map(|decoded| decoded.anomalies),
        ),
        (
            "ftms.status",
            STATUS,
            M,
            a::FITNESS_MACHINE_STATUS,
            |bytes| Status::decode(bytes).map(|decoded| decoded.anomalies),
        ),
        (
            "cps.measurement",
            SUPPLEMENT,
            P,
            a::CYCLING_POWER_MEASUREMENT,
            |bytes| CyclingPowerMeasurement::decode(bytes).map(|decoded| decoded.anomalies),
        ),
        (
            "cps.vector",
            SUPPLEMENT,
            P,
            a::CYCLING_POWER_VECTOR,
            |bytes| CyclingPowerVector::decode(bytes).map(|decoded| decoded.anomalies),
        ),
        (
            "csc.measurement",
            SUPPLEMENT,
            a::SPEED_CADENCE_SERVICE,
            a::CSC_MEASUREMENT,
            |bytes| SpeedCadenceMeasurement::decode(bytes).map(|decoded| decoded.anomalies),
        ),
        (
            "hr.measurement",
            SUPPLEMENT,
            a::HEART_RATE_SERVICE,
            a::HEART_RATE_MEASUREMENT,
            |bytes| HeartRateMeasurement::decode(bytes).map(|decoded| decoded.anomalies),
        ),
        (
            "battery.level",
            SUPPLEMENT,
            a::BATTERY_SERVICE,
            a::BATTERY_LEVEL,
            |bytes| BatteryLevel::decode(bytes).map(|decoded| decoded.anomalies),
        ),
    ]
};

/// Streams that flow all the time.
const STEADY: &[Characteristic] = &[
    a::INDOOR_BIKE_DATA,
    a::CYCLING_POWER_MEASUREMENT,
    a::CSC_MEASUREMENT,
    a::HEART_RATE_MEASUREMENT,
];

/// Whether a characteristic speaks all the time.
pub(super) fn is_steady(characteristic: Characteristic) -> bool {
    STEADY.contains(&characteristic)
}

/// The rules about every stream that the device offers.
pub(super) fn rules(evidence: &Evidence) -> Vec<RuleFinding> {
    let mut findings = Vec::new();
    for &(id, clause, service, characteristic, oddities) in ROWS {
        let speaks = evidence
            .offered(service, characteristic)
            .is_some_and(|offered| speaks(offered.properties));
        if !speaks {
            continue;
        }
        let heard = evidence.heard(characteristic);
        form(id, clause, characteristic, oddities, heard, &mut findings);
        if is_steady(characteristic) {
            findings.push(rhythm(id, characteristic, heard));
        }
    }
    findings
}

fn speaks(properties: Properties) -> bool {
    properties.contains(Property::Notify) || properties.contains(Property::Indicate)
}

fn form(
    id: &str,
    clause: &'static str,
    characteristic: Characteristic,
    oddities: Oddities,
    heard: &[Heard],
    findings: &mut Vec<RuleFinding>,
) {
    let what = format!("{} ({characteristic})", name(characteristic));
    let rule = |part: &str, title: String| RuleFinding::new(format!("{id}.{part}"), title, clause);
    let mut length = rule(
        "length",
        format!("every {what} is as long as its flags promise"),
    );
    let mut reserved = rule("reserved", format!("no {what} uses what is reserved"));
    let mut fields = rule("fields", format!("every field of {what} is in its range"));
    if heard.is_empty() {
        findings.extend([length, reserved, fields].map(|one| one.unseen("it did not speak")));
        return;
    }
    let (mut bad_length, mut bad_bits, mut bad_fields) = (Fault::new(), Fault::new(), Fault::new());
    for one in heard {
        match oddities(&one.bytes) {
            Err(error @ DecodeError::TooShort { .. }) => bad_length.note(one, error.to_string()),
            Err(error) => bad_bits.note(one, error.to_string()),
            Ok(anomalies) => {
                let extended = anomalies.iter().any(is_reserved);
                for anomaly in anomalies.iter().filter(|anomaly| !is_tolerated(anomaly)) {
                    match anomaly {
                        // Octets after the last known field may belong to the reserved bits.
                        Anomaly::SurplusOctets { .. } if extended => {}
                        Anomaly::SurplusOctets { .. } | Anomaly::IncompleteSample => {
                            bad_length.note(one, anomaly.to_string());
                        }
                        anomaly if is_reserved(anomaly) => bad_bits.note(one, anomaly.to_string()),
                        anomaly => bad_fields.note(one, anomaly.to_string()),
                    }
                }
            }
        }
    }
    let all = heard.len();
    length = bad_length.settle(length, all, "all of the promised length");
    reserved = bad_bits.settle(reserved, all, "nothing reserved in any");
    fields = bad_fields.settle(fields, all, "all in range");
    findings.extend([length, reserved, fields]);
}

/// How often one thing was wrong, and the first examples.
pub(super) struct Fault {
    times: usize,
    words: String,
    examples: Vec<Vec<u8>>,
}

impl Fault {
    pub(super) fn new() -> Self {
        Self {
            times: 0,
            words: String::new(),
            examples: Vec::new(),
        }
    }

    pub(super) fn note(&mut self, heard: &Heard, words: String) {
        self.times += 1;
        if self.times == 1 {
            self.words = words;
        }
        if self.examples.len() < 4 {
            self.examples.push(heard.bytes.clone());
        }
    }

    pub(super) fn settle(self, finding: RuleFinding, all: usize, good: &str) -> RuleFinding {
        if self.times == 0 {
            return finding.kept(format!("{all} notifications, {good}"));
        }
        let words = format!(
            "{} times in {all} notifications: {}",
            self.times, self.words
        );
        let shown = self
            .examples
            .iter()
            .fold(finding, |finding, bytes| finding.received(bytes));
        shown.broken(words)
    }
}

/// When whole records came: of a record in parts only the closing part counts.
fn whole(characteristic: Characteristic, heard: &[Heard]) -> Vec<(Timestamp, u32)> {
    let closes = |one: &&Heard| {
        let more_data = one.bytes.first().is_some_and(|flags| flags & 1 == 1);
        characteristic != a::INDOOR_BIKE_DATA || !more_data
    };
    heard
        .iter()
        .filter(closes)
        .map(|one| (one.at, one.epoch))
        .collect()
}

fn intervals_ms(times: &[(Timestamp, u32)]) -> Vec<f64> {
    times
        .windows(2)
        .filter(|pair| pair[0].1 == pair[1].1)
        .map(|pair| (pair[1].0 - pair[0].0).as_secs_f64() * 1e3)
        .collect()
}

/// When the notifications of a characteristic came.
pub(super) fn figures(characteristic: Characteristic, heard: &[Heard]) -> StreamFigures {
    let intervals = intervals_ms(&whole(characteristic, heard));
    let usable = (intervals.len() >= 2).then(|| intervals.clone());
    let median_interval_ms = usable.and_then(median).filter(|&median| median > 0.0);
    let mean = |values: Vec<f64>| values.iter().sum::<f64>() / values.len().max(1) as f64;
    StreamFigures {
        characteristic,
        packets: heard.len(),
        median_interval_ms,
        jitter_ms: median_interval_ms.map(|median| {
            mean(
                intervals
                    .iter()
                    .map(|interval| (interval - median).abs())
                    .collect(),
            )
        }),
        longest_interval_ms: intervals.iter().copied().max_by(f64::total_cmp),
        missing: median_interval_ms.map_or(0, |median| {
            let lost = |interval: &f64| (interval / median).round() as usize - 1;
            intervals
                .iter()
                .filter(|&&one| one > GAP_MEDIANS * median)
                .map(lost)
                .sum()
        }),
    }
}

fn rhythm(id: &str, characteristic: Characteristic, heard: &[Heard]) -> RuleFinding {
    let is_bike_data = characteristic == a::INDOOR_BIKE_DATA;
    let title = if is_bike_data {
        "Indoor Bike Data (2AD2) come about once per second".to_owned()
    } else {
        format!(
            "{} ({characteristic}) come in a steady rhythm",
            name(characteristic)
        )
    };
    let clause = if is_bike_data { BIKE_RHYTHM } else { NO_CLAUSE };
    let finding = RuleFinding::new(format!("{id}.rhythm"), title, clause);
    let intervals = intervals_ms(&whole(characteristic, heard));
    let figures = figures(characteristic, heard);
    let (Some(median_ms), true) = (
        figures.median_interval_ms,
        intervals.len() >= FEWEST_INTERVALS,
    ) else {
        return finding.unseen(format!("{} notifications are too few", heard.len()));
    };
    let gaps = intervals
        .iter()
        .filter(|&&one| one > GAP_MEDIANS * median_ms)
        .count();
    let words = format!(
        "every {median_ms:.0} ms, give or take {:.0}; longest {:.0} ms; {} of {} seem to be missing",
        figures.jitter_ms.unwrap_or(0.0),
        figures.longest_interval_ms.unwrap_or(0.0),
        figures.missing,
        figures.missing + figures.packets,
    );
    let steady = gaps as f64 <= MOST_GAPS * intervals.len() as f64;
    match (is_bike_data, steady) {
        (false, _) => finding.unseen(words),
        (true, false) => finding.unseen(format!(
            "{words}; the air may have lost them, so repeat it nearer by"
        )),
        (true, true) if median_ms > SLOWEST_MEDIAN_MS => finding.broken(words),
        (true, true) => finding.kept(words),
    }
}
