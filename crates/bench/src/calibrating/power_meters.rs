//! Zero offset and crank length: questions to a power meter, one after the other.

use super::telling::News;
use crate::machine::Bench;
use crate::procedures::{AskedBy, CRANK_LENGTH, Meter, Need, Running, Stage, ZERO_OFFSET};
use analysis::evidence::ZeroOffset;
use sensor::assigned;
use sensor::control::{PowerMeterEvent, PowerMeterProcedure, PowerMeterTransaction};
use sensor::cycling_power::control::OffsetUnit;
use sensor::cycling_power::feature::{CyclingPowerFeature, PowerFeature};
use std::collections::VecDeque;
use units::{SourceId, Timestamp};

impl Bench {
    fn power_features(&self, source: SourceId) -> Option<CyclingPowerFeature> {
        self.instruments
            .iter()
            .find(|one| one.plan().id == source)?
            .capabilities()
            .cycling_power()
            .copied()
    }

    pub(super) fn begin_zero_offset(
        &mut self,
        at: Timestamp,
        source: SourceId,
        asked_by: AskedBy,
        need: Need,
    ) {
        self.procedures.running.push(Running {
            source,
            asked_by,
            stage: Stage::stand_still(at, need),
        });
    }

    pub(super) fn stands_still(&self, source: SourceId) -> bool {
        self.instruments
            .iter()
            .find(|one| one.plan().id == source)
            .is_some_and(|one| one.stands_still(self.now))
    }

    /// The cranks stand still: the meter is asked for its zero, if it offers that.
    pub(super) fn ask_for_zero(&mut self, one: &Running, need: Need) {
        let source = one.source;
        let features = self.power_features(source);
        let has = |feature| features.is_some_and(|features| features.contains(feature));
        if !has(PowerFeature::OffsetCompensation) {
            if need == Need::Must {
                self.procedure_failed(one, "it does not offer a zero offset".to_owned());
            }
            return;
        }
        let unit = features.map_or(OffsetUnit::Newtons, CyclingPowerFeature::offset_unit);
        let mut then = VecDeque::from([PowerMeterProcedure::ZeroOffset]);
        // A force becomes a torque by the length of the crank.
        let length_known = self.procedures.crank_mm.contains_key(&source);
        if unit == OffsetUnit::Newtons && has(PowerFeature::CrankLength) && !length_known {
            then.push_front(PowerMeterProcedure::ReadCrankLength);
        }
        let meter = Meter {
            unit,
            then,
            expected_mm: None,
            called: ZERO_OFFSET,
        };
        self.ask_meter(source, one.asked_by, meter);
    }

    pub(super) fn begin_crank_length(&mut self, source: SourceId, write_mm: Option<f64>) {
        let features = self.power_features(source);
        let mut then = VecDeque::from([PowerMeterProcedure::ReadCrankLength]);
        if let Some(length_mm) = write_mm {
            then.push_front(PowerMeterProcedure::WriteCrankLength { length_mm });
        }
        let meter = Meter {
            unit: features.map_or(OffsetUnit::Newtons, CyclingPowerFeature::offset_unit),
            then,
            expected_mm: write_mm,
            called: CRANK_LENGTH,
        };
        if features.is_some_and(|features| features.contains(PowerFeature::CrankLength)) {
            self.ask_meter(source, AskedBy::Operator, meter);
        } else {
            let words = "it does not tell its crank length and takes none".to_owned();
            self.tell_of(source, &News::plain(CRANK_LENGTH, "failed", words));
        }
    }

    /// Puts the next question to a power meter.
    fn ask_meter(&mut self, source: SourceId, asked_by: AskedBy, mut meter: Meter) {
        let Some(question) = meter.then.pop_front() else {
            return;
        };
        let (transaction, bytes) = PowerMeterTransaction::start(self.now, question, meter.unit);
        if question == PowerMeterProcedure::ZeroOffset {
            let called = meter.called;
            let words = "asked to find its zero".to_owned();
            self.tell_of(source, &News::plain(called, "begun", words));
        }
        self.procedures.running.push(Running {
            source,
            asked_by,
            stage: Stage::Meter(transaction, meter),
        });
        self.write(source, assigned::CYCLING_POWER_CONTROL_POINT, bytes);
    }

    /// What a power meter answers; puts the next question if there is one.
    pub(super) fn hear_meter(&mut self, one: Running, event: PowerMeterEvent) {
        let now = self.now;
        let (source, asked_by) = (one.source, one.asked_by);
        let Stage::Meter(transaction, meter) = &one.stage else {
            return;
        };
        let on_the_way = !meter.then.is_empty();
        match event {
            PowerMeterEvent::ZeroOffset { value, unit } => {
                let crank_mm = self.procedures.crank_mm.get(&source).copied();
                let torque_nm = value.and_then(|value| match unit {
                    OffsetUnit::NewtonMetres => Some(value),
                    OffsetUnit::Newtons => crank_mm.map(|length_mm| value * length_mm / 1000.0),
                });
                if let Some(torque_nm) = torque_nm
                    && let Some(instrument) = self
                        .instruments
                        .iter_mut()
                        .find(|instrument| instrument.plan().id == source)
                {
                    instrument.note_zero(ZeroOffset { at: now, torque_nm });
                }
                let symbol = unit.symbol();
                let words = match (value, torque_nm) {
                    (Some(value), Some(_)) => format!("found, {value:.2}\u{a0}{symbol}"),
                    (Some(value), None) => format!(
                        "found, {value:.0}\u{a0}{symbol}; without a crank length it is no torque"
                    ),
                    (None, _) => "found, but its value is not told".to_owned(),
                };
                let news = News {
                    value,
                    unit: value.map(|_| symbol),
                    ..News::plain(meter.called, "succeeded", words)
                };
                self.tell_of(source, &news);
            }
            PowerMeterEvent::CrankLength { length_mm } => {
                if let Some(length_mm) = length_mm {
                    self.procedures.crank_mm.insert(source, length_mm);
                }
                let written = matches!(
                    transaction.procedure(),
                    PowerMeterProcedure::WriteCrankLength { .. }
                );
                if !(written && on_the_way) {
                    if let (Some(expected), Some(told)) = (meter.expected_mm, length_mm)
                        && (expected - told).abs() > 0.26
                    {
                        let words = format!(
                            "{expected:.1}\u{a0}mm were written, but it tells {told:.1}\u{a0}mm"
                        );
                        self.procedure_failed(&one, words);
                        return;
                    }
                    let words = length_mm.map_or("not told".to_owned(), |length_mm| {
                        format!("{length_mm:.1}\u{a0}mm")
                    });
                    let news = News {
                        value: length_mm,
                        unit: Some("mm"),
                        ..News::plain(CRANK_LENGTH, "succeeded", words)
                    };
                    self.tell_of(source, &news);
                }
            }
            PowerMeterEvent::Failed { reason } => {
                let only_helps = meter.called == ZERO_OFFSET
                    && transaction.procedure() != PowerMeterProcedure::ZeroOffset;
                if !only_helps {
                    self.procedure_failed(&one, reason);
                    return;
                }
            }
        }
        let meter = meter.clone();
        if on_the_way {
            self.ask_meter(source, asked_by, meter);
        } else {
            self.procedure_is_over();
        }
    }
}
