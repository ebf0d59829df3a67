//! The simulated bench as the devices behind the stand-in.
//!
//! The rig links to its instruments by itself; what of it reaches the bus is decided by the
//! stand-in's links. A link that the rig's own plan takes down takes the stand-in's down with it,
//! and one that is lost on the bus ends control and load on the rig.

use crate::gatt::table_of;
use crate::model::{Model, ModelEvent, Profile};
use rig::{Indications, Instruction, LinkState, Rig, RigPlan};
use std::collections::{BTreeMap, VecDeque};
use units::{AttError, Characteristic, SourceId, Span, Timestamp, Write};

const FITNESS_MACHINE: u16 = 0x1826;
const CONTROL_POINTS: [Characteristic; 2] = [Characteristic(0x2AD9), Characteristic(0x2A66)];
/// By then the rig has answered every read.
const ALL_READ: Timestamp = Timestamp::from_secs(5);

/// A rig, its instruments in the order of the rig file.
#[derive(Clone, Debug)]
pub struct RigModel {
    rig: Rig,
    pace: i64,
    sources: Vec<SourceId>,
    /// What a read brings.
    values: BTreeMap<(usize, Characteristic), Vec<u8>>,
    instructions: VecDeque<(Timestamp, Instruction)>,
    out: VecDeque<ModelEvent>,
}

impl RigModel {
    /// A rig whose time begins with the stand-in's and runs `pace` times as fast.
    pub fn new(plan: RigPlan, seed: u64, pace: u32) -> Self {
        let mut rig = Rig::new(plan, seed);
        let sources: Vec<SourceId> = rig.sources().into_iter().map(|source| source.id).collect();
        let values = values_of(rig.clone(), &sources);
        for source in &sources {
            rig.set_indications(*source, Indications::Off);
        }
        rig.connect(Timestamp::ZERO);
        // The first links are not news: nobody has had one before.
        while rig.poll_link_change().is_some() {}
        Self {
            rig,
            pace: i64::from(pace.max(1)),
            sources,
            values,
            instructions: VecDeque::new(),
            out: VecDeque::new(),
        }
    }

    /// What the rider is told when, on the rig's clock, in order of time.
    pub fn with_instructions(mut self, instructions: Vec<(Timestamp, Instruction)>) -> Self {
        self.instructions = instructions.into();
        self
    }

    /// The rig, for its truth.
    pub const fn rig(&self) -> &Rig {
        &self.rig
    }

    fn rig_time(&self, at: Timestamp) -> Timestamp {
        Timestamp::from_nanos(at.as_nanos().saturating_mul(self.pace))
    }

    fn device(&self, source: SourceId) -> Option<usize> {
        self.sources.iter().position(|known| *known == source)
    }
}

/// Every value that can be read, asked of a copy of the rig.
fn values_of(mut rig: Rig, sources: &[SourceId]) -> BTreeMap<(usize, Characteristic), Vec<u8>> {
    rig.connect(Timestamp::ZERO);
    rig.advance(ALL_READ);
    let mut values = BTreeMap::new();
    while let Some(packet) = rig.poll_packet() {
        if let Some(device) = sources.iter().position(|known| *known == packet.source) {
            values
                .entry((device, packet.characteristic))
                .or_insert(packet.bytes);
        }
    }
    values
}

impl Model for RigModel {
    fn profiles(&self) -> Vec<Profile> {
        self.rig
            .sources()
            .into_iter()
            .zip(1_u8..)
            .map(|(source, number)| Profile {
                address: format!("C0:FF:EE:00:00:{number:02X}"),
                // A fitness machine says that it is there (bit 0) and an indoor bike (bit 5).
                service_data: source
                    .services
                    .contains(&FITNESS_MACHINE)
                    .then(|| (FITNESS_MACHINE, vec![0x01, 0x20, 0x00]))
                    .into_iter()
                    .collect(),
                name: source.name,
                advertised: source.services,
                rssi: -60 - i16::from(number),
                table: table_of(&source.characteristics),
            })
            .collect()
    }

    fn advance(&mut self, to: Timestamp) {
        let to = self.rig_time(to);
        while let Some((at, instruction)) = self.instructions.pop_front_if(|(at, _)| *at <= to) {
            self.rig.instruct(at, instruction);
        }
        self.rig.advance(to);
        while let Some(packet) = self.rig.poll_packet() {
            if let Some(device) = self.device(packet.source) {
                let (characteristic, bytes) = (packet.characteristic, packet.bytes);
                self.out.push_back(ModelEvent::Value {
                    device,
                    characteristic,
                    bytes,
                });
            }
        }
        while let Some(change) = self.rig.poll_link_change() {
            let Some(device) = self.device(change.source) else {
                continue;
            };
            self.out.push_back(match change.state {
                LinkState::Down => ModelEvent::Gone { device },
                LinkState::Up { .. } => ModelEvent::Back { device },
            });
        }
    }

    fn poll(&mut self) -> Option<ModelEvent> {
        self.out.pop_front()
    }

    fn next_due(&self) -> Timestamp {
        let told = self
            .instructions
            .front()
            .map_or(Timestamp::MAX, |(at, _)| *at);
        let due = self.rig.poll_timeout().min(told).as_nanos();
        // Rounded up, so that the rig is not asked before its moment.
        let pace = self.pace;
        Timestamp::from_nanos(due.saturating_add(pace - 1) / pace)
    }

    fn linked(&mut self, _: Timestamp, _: usize) {}

    fn dropped(&mut self, at: Timestamp, device: usize) {
        let (at, source) = (self.rig_time(at), self.sources[device]);
        self.rig.set_indications(source, Indications::Off);
        self.rig.cut(at, source);
    }

    fn subscribed(&mut self, _: Timestamp, device: usize, characteristic: Characteristic) {
        if CONTROL_POINTS.contains(&characteristic) {
            self.rig
                .set_indications(self.sources[device], Indications::On);
        }
    }

    fn unsubscribed(&mut self, _: Timestamp, device: usize, characteristic: Characteristic) {
        if CONTROL_POINTS.contains(&characteristic) {
            self.rig
                .set_indications(self.sources[device], Indications::Off);
        }
    }

    fn taken_over(&mut self, at: Timestamp, _: usize) {
        // There is one trainer on a rig.
        self.rig.take_control(self.rig_time(at));
    }

    fn restarted(&mut self, at: Timestamp, device: usize, lasting: Span) {
        let (at, until) = (self.rig_time(at), self.rig_time(at + lasting));
        self.rig.restart(at, self.sources[device], until - at);
    }

    fn read(&mut self, _: Timestamp, device: usize, which: Characteristic) -> Result<Vec<u8>, u8> {
        self.values.get(&(device, which)).cloned().ok_or(0x02)
    }

    fn write(
        &mut self,
        at: Timestamp,
        device: usize,
        characteristic: Characteristic,
        bytes: &[u8],
    ) -> Result<(), u8> {
        let at = self.rig_time(at);
        let write = Write {
            source: self.sources[device],
            characteristic,
            bytes: bytes.to_vec(),
        };
        match self.rig.handle_write(at, &write) {
            Ok(()) => Ok(()),
            Err(AttError::Code(code)) => Err(code),
            // The rig makes its link again within a step: busy, in the words of the protocol.
            Err(AttError::NotConnected | AttError::Other(_)) => Err(0x0E),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const POWER: Characteristic = Characteristic(0x2A63);
    const CONTROL: Characteristic = Characteristic(0x2AD9);

    fn run(model: &mut RigModel, to: Timestamp) -> Vec<ModelEvent> {
        let mut events = Vec::new();
        while model.next_due() <= to {
            let due = model.next_due();
            model.advance(due);
            events.extend(std::iter::from_fn(|| model.poll()));
        }
        model.advance(to);
        events.extend(std::iter::from_fn(|| model.poll()));
        events
    }

    #[test]
    fn the_instruments_of_the_rig_show_their_services_and_answer_reads() {
        let mut model = RigModel::new(rig::built_in("workshop").unwrap(), 1, 1);
        let profiles = model.profiles();
        assert!(profiles.len() >= 2);
        for (device, profile) in profiles.iter().enumerate() {
            for service in &profile.table {
                assert!(
                    profile.advertised.contains(&service.service),
                    "{profile:#?}"
                );
                for spec in &service.characteristics {
                    if spec.flags.contains(&"read") {
                        let which = spec.characteristic;
                        assert!(
                            model.read(Timestamp::ZERO, device, which).is_ok(),
                            "{which}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_rig_ten_times_as_fast_says_ten_times_as_much() {
        let count = |pace| {
            let mut model = RigModel::new(rig::built_in("honest").unwrap(), 1, pace);
            run(&mut model, Timestamp::from_secs(6))
                .iter()
                .filter(|event| {
                    matches!(
                        event,
                        ModelEvent::Value {
                            characteristic: POWER,
                            ..
                        }
                    )
                })
                .count()
        };
        let (slow, fast) = (count(1), count(10));
        assert!(slow >= 5);
        assert!((9 * slow..=11 * slow).contains(&fast), "{slow} {fast}");
    }

    #[test]
    fn a_link_that_is_lost_on_the_bus_ends_control_and_load() {
        let mut model = RigModel::new(rig::built_in("honest").unwrap(), 1, 1);
        let trainer = model
            .profiles()
            .iter()
            .position(|profile| profile.advertised.contains(&FITNESS_MACHINE))
            .unwrap();
        run(&mut model, Timestamp::from_secs(2));
        assert_eq!(
            model.write(Timestamp::from_secs(2), trainer, CONTROL, &[0]),
            Err(0xFD)
        );
        model.subscribed(Timestamp::from_secs(2), trainer, CONTROL);
        for (second, bytes) in [(3, vec![0x00]), (4, vec![0x05, 200, 0])] {
            let at = Timestamp::from_secs(second);
            run(&mut model, at);
            assert_eq!(model.write(at, trainer, CONTROL, &bytes), Ok(()));
        }
        run(&mut model, Timestamp::from_secs(5));
        assert_ne!(model.rig().commanded_load(), rig::Load::Released);
        model.dropped(Timestamp::from_secs(5), trainer);
        assert_eq!(model.rig().commanded_load(), rig::Load::Released);
        let events = run(&mut model, Timestamp::from_secs(5) + Span::from_millis(100));
        assert!(events.contains(&ModelEvent::Back { device: trainer }));
    }
}
