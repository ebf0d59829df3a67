//! What an instrument sends: answers that are due, then the notifications of its reports.

use super::{Instrument, Kind};
use crate::link::Air;
use crate::load::Load;
use crate::spec::UpsetKind;
use crate::wire;
use sensor::assigned;
use units::{Characteristic, Timestamp};

impl Instrument {
    /// Sends what is due by `now`: answers first, then reports.
    pub(crate) fn send(&mut self, now: Timestamp, load: Load, air: &mut Air) {
        let mut index = 0;
        while index < self.outbox.len() {
            if self.outbox[index].0 <= now {
                let (_, characteristic, bytes) = self.outbox.remove(index);
                self.link.answer(now, characteristic, bytes, air);
            } else {
                index += 1;
            }
        }
        for index in 0..self.schedules.len() {
            let Some(since_s) = self.schedules[index].due(now) else {
                continue;
            };
            let frozen = self.upsets.active() == Some(UpsetKind::Frozen);
            if !frozen || self.schedules[index].last.is_empty() {
                let characteristic = self.schedules[index].characteristic;
                self.schedules[index].last = self.records(characteristic, since_s, load);
            }
            if self.upsets.active() == Some(UpsetKind::Silent) {
                continue;
            }
            let schedule = &self.schedules[index];
            for bytes in &schedule.last {
                self.link
                    .notify(now, schedule.characteristic, bytes.clone(), air);
            }
        }
    }

    /// The notifications of one report.
    fn records(
        &mut self,
        characteristic: Characteristic,
        since_s: f64,
        load: Load,
    ) -> Vec<Vec<u8>> {
        let upset = self.upsets.active();
        let shown = |power_w: f64| {
            if upset == Some(UpsetKind::Zero) {
                0.0
            } else {
                power_w
            }
        };
        match &mut self.kind {
            Kind::Trainer(trainer) => {
                let mut record = trainer.record(since_s, load);
                record.power_w = shown(record.power_w);
                if characteristic == assigned::CYCLING_POWER_MEASUREMENT {
                    return vec![wire::bare_power(record.power_w)];
                }
                wire::bike_data(&record, trainer.spec().records)
            }
            Kind::Meter(meter) => {
                let averaged_w = meter.signal.averaged_w();
                let power_w = shown(meter.signal.report(averaged_w, since_s));
                vec![wire::power_measurement(power_w, &meter.record())]
            }
            Kind::Cadence(sensor) => vec![sensor.record()],
            Kind::HeartRate(strap) => vec![strap.record()],
        }
    }
}
