//! An instrument made from its specification.

use super::schedule::Schedule;
use super::{Indications, Instrument, Kind};
use crate::cadence::CadenceSensor;
use crate::control::{Abilities, ControlPoint};
use crate::link::Link;
use crate::meter::Meter;
use crate::noise::Dice;
use crate::signal::Signal;
use crate::spec::{BrakeSpec, InstrumentSpec, KindSpec};
use crate::strap::Strap;
use crate::trainer::Trainer;
use crate::upsets::Upsets;
use sensor::assigned;
use units::{SourceId, Span, Timestamp};

impl Instrument {
    pub(crate) fn new(
        id: SourceId,
        spec: &InstrumentSpec,
        brake: &BrakeSpec,
        step_s: f64,
        seed: u64,
    ) -> Self {
        let dice = |use_no: u64| Dice::new(seed, u64::from(id.0) * 16 + use_no);
        let signal = Signal::new(spec.signal, dice(0), step_s);
        let mut phase = dice(4);
        let clock = 1.0 + spec.link.clock_ppm * 1e-6;
        let mut schedule = |characteristic, interval_ms: u32| {
            let interval_s = f64::from(interval_ms) / 1000.0 / clock;
            let share = phase.between(0.0, 1.0);
            let share = spec.link.phase.unwrap_or(share);
            Schedule {
                characteristic,
                interval: Span::from_secs_f64(interval_s),
                next: Timestamp::from_secs_f64(interval_s * share),
                before: None,
                last: Vec::new(),
            }
        };
        let (kind, schedules) = match &spec.kind {
            KindSpec::Trainer(trainer) => {
                let abilities = Abilities {
                    resistance_most: brake.resistance_most,
                    power_range_w: brake.power_range_w,
                    spin_down_kmh: trainer.spin_down_kmh,
                    answer_after: Span::from_millis(i64::from(trainer.answer_ms)),
                    lacks: trainer.lacks.clone(),
                };
                let mut schedules = vec![schedule(assigned::INDOOR_BIKE_DATA, trainer.report_ms)];
                if let Some(report_ms) = trainer.power_service_ms {
                    schedules.push(schedule(assigned::CYCLING_POWER_MEASUREMENT, report_ms));
                }
                let control = ControlPoint::new(abilities);
                let trainer = Trainer::new(trainer.clone(), signal, control, step_s, dice(1));
                (Kind::Trainer(Box::new(trainer)), schedules)
            }
            KindSpec::Meter(meter) => {
                let schedules = vec![schedule(
                    assigned::CYCLING_POWER_MEASUREMENT,
                    meter.report_ms,
                )];
                let ppm = spec.link.clock_ppm;
                let meter = Meter::new(meter.clone(), spec.place, signal, ppm, dice(1));
                (Kind::Meter(Box::new(meter)), schedules)
            }
            KindSpec::Cadence(sensor) => {
                let schedules = vec![schedule(assigned::CSC_MEASUREMENT, sensor.report_ms)];
                let sensor = CadenceSensor::new(*sensor, spec.link.clock_ppm);
                (Kind::Cadence(Box::new(sensor)), schedules)
            }
            KindSpec::HeartRate(strap) => {
                let schedules = vec![schedule(assigned::HEART_RATE_MEASUREMENT, strap.report_ms)];
                let strap = Strap::new(*strap, dice(1));
                (Kind::HeartRate(Box::new(strap)), schedules)
            }
        };
        let mut takeovers: Vec<Span> = match &spec.kind {
            KindSpec::Trainer(trainer) => trainer
                .taken_over
                .iter()
                .map(|after_s| Span::from_secs_f64(*after_s))
                .collect(),
            _ => Vec::new(),
        };
        takeovers.sort_by_key(|after| std::cmp::Reverse(*after));
        Self {
            id,
            kind,
            link: Link::new(spec.link.clone(), id, dice(2)),
            upsets: Upsets::new(&spec.upsets, dice(3)),
            indications: Indications::On,
            schedules,
            takeovers,
            outbox: Vec::new(),
            spec: spec.clone(),
        }
    }
}
