//! Small devices of our own: numbered values at a steady pace, and a control point that keeps the
//! fitness machine's rules of permission. For everything that pedals there is the rig.

use crate::gatt::table_of;
use crate::model::{Model, ModelEvent, Profile};
use std::collections::{BTreeSet, VecDeque};
use units::{Characteristic, Span, Timestamp};

const MACHINE_CONTROL: Characteristic = Characteristic(0x2AD9);
const MACHINE_STATUS: Characteristic = Characteristic(0x2ADA);
/// From the answer to a write to the indication.
const INDICATES_AFTER: Span = Span::from_millis(30);

/// A characteristic that sends a running number, a `u32` in little endian, at a steady pace for as
/// long as it is switched on. The number goes on through lost links.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stream {
    /// The characteristic.
    pub characteristic: Characteristic,
    /// From one value to the next.
    pub every: Span,
}

/// One small device.
#[derive(Clone, Debug)]
pub struct ScriptedDevice {
    profile: Profile,
    streams: Vec<(Stream, Timestamp, u32)>,
    linked: bool,
    on: BTreeSet<Characteristic>,
    permitted: bool,
    pending: Option<(Timestamp, Vec<u8>)>,
    /// Target power in force, W.
    target_w: Option<i16>,
}

impl ScriptedDevice {
    /// A device by its number, with these streams, and these characteristics besides. It
    /// advertises every service it offers.
    pub fn new(number: u8, name: &str, streams: &[Stream], others: &[Characteristic]) -> Self {
        let all: Vec<Characteristic> = streams
            .iter()
            .map(|stream| stream.characteristic)
            .chain(others.iter().copied())
            .collect();
        let table = table_of(&all);
        let profile = Profile {
            address: format!("C0:FF:EE:00:00:{number:02X}"),
            name: name.to_owned(),
            advertised: table.iter().map(|service| service.service).collect(),
            service_data: Vec::new(),
            rssi: -60,
            table,
        };
        let streams = streams
            .iter()
            .map(|stream| (*stream, Timestamp::MAX, 0))
            .collect();
        Self {
            profile,
            streams,
            linked: false,
            on: BTreeSet::new(),
            permitted: false,
            pending: None,
            target_w: None,
        }
    }

    fn control(&mut self, at: Timestamp, bytes: &[u8]) -> Result<(), u8> {
        if !self.on.contains(&MACHINE_CONTROL) {
            return Err(0xFD);
        }
        if self.pending.is_some() {
            return Err(0xFE);
        }
        let op = bytes.first().copied().unwrap_or(0xFF);
        let result = match (bytes, self.permitted) {
            ([0x00], _) => {
                self.permitted = true;
                0x01
            }
            ([0x05, low, high], true) => {
                self.target_w = Some(i16::from_le_bytes([*low, *high]));
                0x01
            }
            ([0x01], true) => {
                (self.permitted, self.target_w) = (false, None);
                0x01
            }
            (_, false) => 0x05,
            _ => 0x02,
        };
        self.pending = Some((at + INDICATES_AFTER, vec![0x80, op, result]));
        Ok(())
    }
}

/// Small devices side by side.
#[derive(Clone, Debug)]
pub struct ScriptedModel {
    devices: Vec<ScriptedDevice>,
    out: VecDeque<ModelEvent>,
}

impl ScriptedModel {
    /// These devices, in this order.
    pub fn new(devices: Vec<ScriptedDevice>) -> Self {
        Self {
            devices,
            out: VecDeque::new(),
        }
    }
}

impl Model for ScriptedModel {
    fn profiles(&self) -> Vec<Profile> {
        self.devices
            .iter()
            .map(|device| device.profile.clone())
            .collect()
    }

    fn advance(&mut self, to: Timestamp) {
        for (number, device) in self.devices.iter_mut().enumerate() {
            for (stream, due, count) in &mut device.streams {
                while *due <= to {
                    self.out.push_back(ModelEvent::Value {
                        device: number,
                        characteristic: stream.characteristic,
                        bytes: count.to_le_bytes().to_vec(),
                    });
                    *count += 1;
                    // Scheduled times are absolute, so that the pace does not drift.
                    *due += stream.every;
                }
            }
            if let Some((_, answer)) = device.pending.take_if(|(due, _)| *due <= to) {
                let echo = match (answer.as_slice(), device.target_w) {
                    ([0x80, 0x05, 0x01], Some(target_w)) => {
                        let [low, high] = target_w.to_le_bytes();
                        Some(vec![0x08, low, high])
                    }
                    _ => None,
                };
                let value = |characteristic, bytes| ModelEvent::Value {
                    device: number,
                    characteristic,
                    bytes,
                };
                self.out.push_back(value(MACHINE_CONTROL, answer));
                self.out
                    .extend(echo.map(|bytes| value(MACHINE_STATUS, bytes)));
            }
        }
    }

    fn poll(&mut self) -> Option<ModelEvent> {
        self.out.pop_front()
    }

    fn next_due(&self) -> Timestamp {
        let streams = self.devices.iter().flat_map(|device| &device.streams);
        let pending = self
            .devices
            .iter()
            .filter_map(|device| device.pending.as_ref());
        streams
            .map(|(_, due, _)| *due)
            .chain(pending.map(|(due, _)| *due))
            .min()
            .unwrap_or(Timestamp::MAX)
    }

    fn linked(&mut self, _: Timestamp, device: usize) {
        self.devices[device].linked = true;
    }

    fn dropped(&mut self, _: Timestamp, device: usize) {
        let device = &mut self.devices[device];
        device.linked = false;
        device.on.clear();
        device.permitted = false;
        device.pending = None;
        device.target_w = None;
        for (_, due, _) in &mut device.streams {
            *due = Timestamp::MAX;
        }
    }

    fn subscribed(&mut self, at: Timestamp, device: usize, characteristic: Characteristic) {
        let device = &mut self.devices[device];
        if device.on.insert(characteristic) {
            for (stream, due, _) in &mut device.streams {
                if stream.characteristic == characteristic {
                    *due = at + stream.every;
                }
            }
        }
    }

    fn unsubscribed(&mut self, _: Timestamp, device: usize, characteristic: Characteristic) {
        let device = &mut self.devices[device];
        device.on.remove(&characteristic);
        for (stream, due, _) in &mut device.streams {
            if stream.characteristic == characteristic {
                *due = Timestamp::MAX;
            }
        }
    }

    fn read(&mut self, _: Timestamp, _: usize, c: Characteristic) -> Result<Vec<u8>, u8> {
        Ok(match c.0 {
            0x2A29 => b"Invented Works".to_vec(),
            0x2A19 => vec![80],
            // A fitness machine that measures and sets power: bit 14 and bit 3.
            0x2ACC => [(1_u32 << 14).to_le_bytes(), (1_u32 << 3).to_le_bytes()].concat(),
            _ => vec![0; 4],
        })
    }

    fn write(
        &mut self,
        at: Timestamp,
        device: usize,
        characteristic: Characteristic,
        bytes: &[u8],
    ) -> Result<(), u8> {
        match characteristic {
            MACHINE_CONTROL => self.devices[device].control(at, bytes),
            _ => Err(0x03),
        }
    }
}
