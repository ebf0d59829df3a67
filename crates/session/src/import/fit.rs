//! FIT activities, read by the crate `fitparser`.
//!
//! The stream is followed object by object, so that a file that breaks off still gives what came
//! before, and several activities in one file follow each other.

use super::error::ImportError;
use super::moment::Began;
use super::recording::{Format, Recording, Row};
use crate::row::Identity;
use chrono::{DateTime, Utc};
use fitparser::de::{DecodeOption, FitObject, FitStreamProcessor};
use fitparser::profile::MesgNum;
use fitparser::{FitDataRecord, Value};

/// A broken file with fewer records than this is not worth keeping.
const FEWEST_RECORDS: usize = 60;
const KMH_PER_M_PER_S: f64 = 3.6;

#[derive(Default)]
struct Found {
    rows: Vec<Row>,
    began: Option<DateTime<Utc>>,
    identity: Identity,
    activities: usize,
    developer_power: usize,
    remarks: Vec<String>,
}

pub(super) fn read(bytes: &[u8], name: &str) -> Result<Recording, ImportError> {
    let mut found = Found::default();
    let outcome = follow(bytes, &mut found);
    if let Err((at, reason)) = outcome {
        if found.rows.len() < FEWEST_RECORDS {
            return Err(ImportError::Unreadable {
                name: name.to_owned(),
                place: format!("byte {at} of {}", bytes.len()),
                reason,
                remedy: "export the activity again as FIT",
            });
        }
        found.remarks.push(format!(
            "the file breaks off at byte {at} of {} ({reason}); {} records before it were kept",
            bytes.len(),
            found.rows.len()
        ));
    }
    if found.activities > 1 {
        found.remarks.push(format!(
            "{} activities follow each other in the file and were joined",
            found.activities
        ));
    }
    if found.developer_power > 0 {
        found.remarks.push(format!(
            "power of {} records comes from a developer field, the standard one is empty",
            found.developer_power
        ));
    }
    let began = found.began.map_or(Began::Unknown, Began::Utc);
    let mut recording = Recording::from_rows(name, Format::Fit, began, &found.rows, found.remarks)?;
    recording.identity = found.identity;
    Ok(recording)
}

fn follow(mut input: &[u8], found: &mut Found) -> Result<(), (usize, String)> {
    let length = input.len();
    let mut processor = FitStreamProcessor::new();
    // Check sums are compared here, so that a wrong one is a remark and not the end.
    processor.add_option(DecodeOption::SkipHeaderCrcValidation);
    processor.add_option(DecodeOption::SkipDataCrcValidation);
    let mut begin = input;
    while !input.is_empty() {
        let at = length - input.len();
        let (rest, object) = processor
            .deserialize_next(input)
            .map_err(|error| (at, error.to_string()))?;
        match object {
            FitObject::Header(_) => {
                begin = input;
                found.activities += 1;
            }
            FitObject::Crc(stated) => {
                let content = &begin[..begin.len() - input.len()];
                if stated != check_sum(content) {
                    found.remarks.push(format!(
                        "the check sum at byte {at} is wrong: the file was altered or damaged, \
                         and values in it may be wrong"
                    ));
                }
                processor.reset();
            }
            FitObject::DataMessage(message) => match processor.decode_message(message) {
                Ok(message) => found.take(&message),
                Err(error) => found.remarks.push(format!(
                    "the message at byte {at} cannot be decoded: {error}"
                )),
            },
            FitObject::DefinitionMessage(_) => {}
        }
        // A reader that stands still would never end.
        if rest.len() >= input.len() {
            return Err((at, "nothing more can be read".to_owned()));
        }
        input = rest;
    }
    Ok(())
}

impl Found {
    fn take(&mut self, message: &FitDataRecord) {
        match message.kind() {
            MesgNum::Record => self.record(message),
            MesgNum::FileId => {
                let text = |field| text(message, field);
                self.identity.maker = self.identity.maker.take().or(text("manufacturer"));
                self.identity.serial = self.identity.serial.take().or(text("serial_number"));
            }
            MesgNum::FileCreator => {
                let version = text(message, "software_version");
                self.identity.software = self.identity.software.take().or(version);
            }
            _ => {}
        }
    }

    fn record(&mut self, message: &FitDataRecord) {
        let Some(at) = timestamp(message) else {
            return;
        };
        let at_ns = at.timestamp_nanos_opt().unwrap_or_default();
        self.began.get_or_insert(at);
        let number = |name: &str| {
            let mut named = message.fields().iter().filter(|field| field.name() == name);
            named.find_map(|field| number_of(field.value()))
        };
        let mut power_w = number("power");
        if power_w.is_none() {
            power_w = message
                .fields()
                .iter()
                .filter(|field| {
                    // Fields of the standard, such as accumulated_power, are other quantities.
                    field.name().to_lowercase().contains("power")
                        && !field.name().contains('_')
                        && matches!(
                            field.units().to_lowercase().as_str(),
                            "w" | "watt" | "watts"
                        )
                })
                .find_map(|field| number_of(field.value()));
            self.developer_power += usize::from(power_w.is_some());
        }
        let speed = number("enhanced_speed").or_else(|| number("speed"));
        self.rows.push(Row {
            at_ns,
            power_w,
            cadence_rpm: number("cadence"),
            speed_kmh: speed.map(|speed| speed * KMH_PER_M_PER_S),
        });
    }
}

fn timestamp(message: &FitDataRecord) -> Option<DateTime<Utc>> {
    let field = message
        .fields()
        .iter()
        .find(|field| field.name() == "timestamp")?;
    match field.value() {
        Value::Timestamp(moment) => Some(moment.to_utc()),
        _ => None,
    }
}

fn text(message: &FitDataRecord, name: &str) -> Option<String> {
    let field = message.fields().iter().find(|field| field.name() == name)?;
    let text = field.value().to_string();
    (!text.is_empty()).then_some(text)
}

fn number_of(value: &Value) -> Option<f64> {
    match *value {
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

/// The check sum of the FIT protocol (FIT SDK, "CRC"): CRC-16 with polynomial 0xA001, nibble by
/// nibble.
fn check_sum(bytes: &[u8]) -> u16 {
    const TABLE: [u16; 16] = [
        0x0000, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401, 0xA001, 0x6C00, 0x7800,
        0xB401, 0x5000, 0x9C01, 0x8801, 0x4400,
    ];
    bytes.iter().fold(0, |mut crc: u16, byte| {
        for nibble in [byte & 0xF, byte >> 4] {
            let low = TABLE[usize::from(crc & 0xF)];
            crc = ((crc >> 4) & 0x0FFF) ^ low ^ TABLE[usize::from(nibble)];
        }
        crc
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CRC-16/ARC of "123456789" is BB3D (the usual check value of CRC catalogues).
    #[test]
    fn the_check_sum_is_crc_16() {
        assert_eq!(check_sum(b"123456789"), 0xBB3D);
    }
}
