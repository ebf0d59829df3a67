//! Drives a rig as the program does: advance to the next moment, take the packets, write.

#![allow(
    dead_code,
    missing_docs,
    reason = "each test file uses its own part of it"
)]

use rig::{Instruction, Rig, built_in};
use units::{AttError, Characteristic, Packet, SourceId, Span, Timestamp, Write};

pub const BIKE_DATA: Characteristic = Characteristic(0x2AD2);
pub const POWER: Characteristic = Characteristic(0x2A63);
pub const CONTROL: Characteristic = Characteristic(0x2AD9);
pub const METER_CONTROL: Characteristic = Characteristic(0x2A66);
pub const STATUS: Characteristic = Characteristic(0x2ADA);

pub const TRAINER: SourceId = SourceId(1);
pub const CRANK: SourceId = SourceId(2);
pub const PEDALS: SourceId = SourceId(3);

/// A rig that is driven in time, and everything it sent.
pub struct Bench {
    pub rig: Rig,
    pub now: Timestamp,
    pub packets: Vec<Packet>,
}

impl Bench {
    pub fn new(name: &str, seed: u64) -> Self {
        Self::of(Rig::new(built_in(name).unwrap(), seed))
    }

    pub fn of(mut rig: Rig) -> Self {
        rig.connect(Timestamp::ZERO);
        Self {
            rig,
            now: Timestamp::ZERO,
            packets: Vec::new(),
        }
    }

    /// From the moments the rig itself asks for, no others.
    pub fn run(&mut self, seconds: f64) {
        let end = self.now + Span::from_secs_f64(seconds);
        loop {
            let next = self.rig.poll_timeout();
            assert!(
                next > self.now || next == Timestamp::MAX,
                "the rig asks for the past"
            );
            self.now = next.min(end);
            self.rig.advance(self.now);
            self.packets
                .extend(std::iter::from_fn(|| self.rig.poll_packet()));
            if self.now == end {
                return;
            }
        }
    }

    pub fn write(
        &mut self,
        source: SourceId,
        to: Characteristic,
        bytes: &[u8],
    ) -> Result<(), AttError> {
        let write = Write {
            source,
            characteristic: to,
            bytes: bytes.to_vec(),
        };
        self.rig.handle_write(self.now, &write)
    }

    /// Writes to the trainer's control point and waits for the indication.
    pub fn control(&mut self, bytes: &[u8]) -> Vec<u8> {
        let before = self.packets.len();
        self.write(TRAINER, CONTROL, bytes).unwrap();
        self.run(0.2);
        let answer = self.packets[before..]
            .iter()
            .find(|p| p.characteristic == CONTROL);
        answer.expect("an indication within 0.2 s").bytes.clone()
    }

    pub fn target_w(&mut self, power_w: i16) {
        let [low, high] = power_w.to_le_bytes();
        assert_eq!(self.control(&[0x05, low, high]), [0x80, 0x05, 0x01]);
    }

    pub fn instruct(&mut self, instruction: Instruction) {
        self.rig.instruct(self.now, instruction);
    }

    /// Power of a source's notifications of `characteristic` within a span, W.
    pub fn powers(
        &self,
        source: SourceId,
        characteristic: Characteristic,
        from: Timestamp,
        to: Timestamp,
    ) -> Vec<(Timestamp, f64)> {
        self.packets
            .iter()
            .filter(|p| p.source == source && p.characteristic == characteristic)
            .filter(|p| (from..to).contains(&p.at))
            .map(|p| (p.at, power_w(p)))
            .collect()
    }

    pub fn mean_power(
        &self,
        source: SourceId,
        characteristic: Characteristic,
        from: Timestamp,
        to: Timestamp,
    ) -> f64 {
        let powers = self.powers(source, characteristic, from, to);
        assert!(!powers.is_empty());
        powers.iter().map(|&(_, power_w)| power_w).sum::<f64>() / powers.len() as f64
    }
}

/// The power of a whole indoor bike record with speed and cadence before it (flags 0x0044), or
/// of a cycling power measurement.
pub fn power_w(packet: &Packet) -> f64 {
    let at = match packet.characteristic {
        BIKE_DATA => {
            assert_eq!(packet.bytes[..2], [0x44, 0x00]);
            6
        }
        _ => 2,
    };
    f64::from(i16::from_le_bytes([packet.bytes[at], packet.bytes[at + 1]]))
}

pub fn secs(secs: f64) -> Timestamp {
    Timestamp::from_secs_f64(secs)
}
