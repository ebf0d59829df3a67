//! Between the bench and what the instruments carry out themselves: who is asked, what is written,
//! what the answers mean, and that nobody is loaded meanwhile.
//!
//! The brake is never loaded from here. What is written to a trainer is a request for control, the
//! start of its spin-down, and a reset when a spin-down is broken off.

use crate::command::Command;
use crate::happening::Happening;
use crate::input::Output;
use crate::machine::Bench;
use crate::model::{InstrumentRole, NoticeView};
use crate::procedures::{
    Asked, AskedBy, CRANK_LENGTH, Meter, Need, RELEASED_WITHIN, Running, SPIN_DOWN, STILL_WITHIN,
    Stage, ZERO_OFFSET,
};
use analysis::evidence::ZeroOffset;
use protocol::{Cue, Input, Pedalling, Phase, Procedure, Target, ZeroOf};
use sensor::assigned;
use sensor::control::{
    PowerMeterEvent, PowerMeterProcedure, PowerMeterTransaction, SpinDown, SpinDownEvent,
};
use sensor::cycling_power::control::OffsetUnit;
use sensor::cycling_power::feature::{CyclingPowerFeature, PowerFeature};
use sensor::fitness_machine::control::{Request, Response, ResultCode, op_code};
use sensor::fitness_machine::status::{SpinDownStatus, Status};
use std::collections::VecDeque;
use std::sync::Arc;
use units::{AttError, Characteristic, MetresPerSecond, Packet, SourceId, Span, Timestamp};

/// How far above the trainer's higher speed the rider is asked to go, so that it is surely passed.
const ABOVE_HIGH: f64 = 1.08;

/// What is told about a procedure, for the record and the screen.
struct News<'a> {
    called: &'a str,
    state: &'a str,
    value: Option<f64>,
    unit: Option<&'a str>,
    words: String,
}

impl Bench {
    /// Begins what a step asks for; the runner hears of the end.
    pub(crate) fn start_procedure(&mut self, at: Timestamp, procedure: Procedure) {
        self.break_off(at, Which::OfStep, "it was asked for anew");
        let sources = match procedure {
            Procedure::SpinDown => self.with_roles(&[InstrumentRole::UnderTest]),
            Procedure::ZeroOffset(ZeroOf::UnderTest) => {
                self.with_roles(&[InstrumentRole::UnderTest])
            }
            Procedure::ZeroOffset(ZeroOf::References) => self.with_roles(&[
                InstrumentRole::PrimaryReference,
                InstrumentRole::SecondReference,
            ]),
            Procedure::ZeroOffset(ZeroOf::All) => {
                self.instruments.iter().map(|one| one.plan().id).collect()
            }
        };
        let need = match procedure {
            Procedure::ZeroOffset(ZeroOf::All) => Need::IfOffered,
            _ => Need::Must,
        };
        self.procedures.asked = Some(Asked {
            procedure,
            failures: Vec::new(),
        });
        if sources.is_empty() {
            self.failed_for_script("no instrument on this bench does that".to_owned());
        }
        for source in sources {
            match procedure {
                Procedure::SpinDown => self.begin_spin_down(at, source, AskedBy::Script),
                Procedure::ZeroOffset(_) => {
                    self.begin_zero_offset(at, source, AskedBy::Script, need);
                }
            }
        }
        self.tell_runner();
    }

    /// Begins what the operator asks for, if nobody is loaded. Gives whether the command was one
    /// of these.
    pub(crate) fn calibrate(&mut self, command: &Command) -> bool {
        let (source, needs_idle_rider) = match command {
            Command::SpinDown => {
                let device = self.with_roles(&[InstrumentRole::UnderTest]);
                (device.first().copied(), true)
            }
            Command::ZeroOffset(source)
            | Command::ReadCrankLength(source)
            | Command::WriteCrankLength { source, .. } => (Some(SourceId(*source)), false),
            _ => return false,
        };
        let now = self.now;
        let Some(source) = source.filter(|source| self.name_of(*source).is_some()) else {
            self.notice(now, "there is no such instrument on this bench");
            return true;
        };
        let status = self.runner.status();
        let loaded = !matches!(status.target, None | Some(Target::Free));
        if loaded || (needs_idle_rider && status.phase == Phase::Riding) {
            self.notice(now, "not while a step is being ridden: pause first");
            return true;
        }
        if self.procedures.occupies(source) {
            self.notice(
                now,
                "the instrument is still busy with what it was asked before",
            );
            return true;
        }
        let by = AskedBy::Operator;
        match command {
            Command::SpinDown => self.begin_spin_down(now, source, by),
            Command::ZeroOffset(_) => {
                let words = "unclip both feet and hold the cranks still";
                self.cue_rider(now, Pedalling::Stop, None, words);
                self.begin_zero_offset(now, source, by, Need::Must);
            }
            Command::ReadCrankLength(_) => self.begin_crank_length(source, None),
            Command::WriteCrankLength { tenth_mm, .. } => {
                let length_mm = f64::from(*tenth_mm) / 10.0;
                self.begin_crank_length(source, Some(length_mm));
            }
            _ => {}
        }
        true
    }

    fn with_roles(&self, roles: &[InstrumentRole]) -> Vec<SourceId> {
        self.instruments
            .iter()
            .filter(|one| roles.contains(&one.plan().role))
            .map(|one| one.plan().id)
            .collect()
    }

    fn name_of(&self, source: SourceId) -> Option<String> {
        self.instruments
            .iter()
            .find(|one| one.plan().id == source)
            .map(|one| one.plan().name.clone())
    }

    fn power_features(&self, source: SourceId) -> Option<CyclingPowerFeature> {
        self.instruments
            .iter()
            .find(|one| one.plan().id == source)?
            .capabilities()
            .cycling_power()
            .copied()
    }

    fn begin_spin_down(&mut self, at: Timestamp, source: SourceId, asked_by: AskedBy) {
        let running = Running {
            source,
            asked_by,
            stage: Stage::Release { since: at },
        };
        let offered = self
            .instruments
            .iter()
            .find(|one| one.plan().id == source)
            .is_some_and(|one| one.capabilities().can_spin_down());
        if !offered {
            self.procedure_failed(&running, "it does not offer a spin-down".to_owned());
            return;
        }
        if asked_by == AskedBy::Operator {
            self.controller.want(at, sensor::control::Demand::Release);
        }
        self.procedures.running.push(running);
    }

    fn begin_zero_offset(
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

    /// The cranks stand still: the meter is asked for its zero, if it offers that.
    fn ask_for_zero(&mut self, one: &Running, need: Need) {
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

    fn begin_crank_length(&mut self, source: SourceId, write_mm: Option<f64>) {
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

    fn write_to_trainer(&mut self, source: SourceId, request: &Request) {
        self.writers.push_back(Writer::Procedure);
        let point = assigned::FITNESS_MACHINE_CONTROL_POINT;
        self.write(source, point, request.encode());
    }

    /// Lets every procedure do what is possible or due now. Gives whether one did anything.
    pub(crate) fn advance_procedures(&mut self) -> bool {
        let now = self.now;
        let mut did = false;
        for _ in 0..self.procedures.running.len() {
            let mut one = self.procedures.running.remove(0);
            match one.stage {
                Stage::Release { since } => {
                    let released = self.controller.is_idle() && self.controller.state().released;
                    if released && self.controller.state().has_control {
                        one.stage = Stage::SpinDown(self.start_spin_down(one.source));
                        did = true;
                    } else if released {
                        self.write_to_trainer(one.source, &Request::RequestControl);
                        one.stage = Stage::Control { asked: now };
                        did = true;
                    } else if now >= since + RELEASED_WITHIN {
                        let words = "it does not confirm that it is released".to_owned();
                        self.procedure_failed(&one, words);
                        did = true;
                        continue;
                    }
                }
                Stage::Control { asked } => {
                    if now >= asked + sensor::control::spin_down::ANSWER_WITHIN {
                        let words = "it does not answer the request for control".to_owned();
                        self.procedure_failed(&one, words);
                        did = true;
                        continue;
                    }
                }
                Stage::SpinDown(ref mut run) => {
                    if let Some(event) = run.handle_time(now) {
                        did = true;
                        // It may still be in the middle of it.
                        self.write_to_trainer(one.source, &Request::Reset);
                        if !self.hear_spin_down(&one, event) {
                            continue;
                        }
                    }
                }
                Stage::StandStill {
                    since,
                    look_at,
                    need,
                } => {
                    if now >= look_at && self.stands_still(one.source) {
                        did = true;
                        self.ask_for_zero(&one, need);
                        continue;
                    } else if now >= since + STILL_WITHIN {
                        did = true;
                        let words = "the cranks did not come to rest within a minute".to_owned();
                        self.procedure_failed(&one, words);
                        continue;
                    } else if now >= look_at {
                        one.stage = Stage::look_again(since, now, need);
                    }
                }
                Stage::Meter(ref mut transaction, _) => {
                    if let Some(event) = transaction.handle_time(now) {
                        did = true;
                        self.hear_meter(one, event);
                        continue;
                    }
                }
            }
            self.procedures.running.push(one);
        }
        if did {
            self.tell_runner();
        }
        did
    }

    fn start_spin_down(&mut self, source: SourceId) -> SpinDown {
        let (run, bytes) = SpinDown::start(self.now);
        let words = "asked to begin".to_owned();
        self.tell_of(source, &News::plain(SPIN_DOWN, "begun", words));
        self.writers.push_back(Writer::Procedure);
        self.write(source, assigned::FITNESS_MACHINE_CONTROL_POINT, bytes);
        run
    }

    fn stands_still(&self, source: SourceId) -> bool {
        self.instruments
            .iter()
            .find(|one| one.plan().id == source)
            .is_some_and(|one| one.stands_still(self.now))
    }

    /// Takes a packet that a procedure may be waiting for.
    pub(crate) fn hear_procedures(&mut self, packet: &Packet) {
        let mut position = 0;
        while position < self.procedures.running.len() {
            if self.procedures.running[position].source != packet.source {
                position += 1;
                continue;
            }
            let mut one = self.procedures.running.remove(position);
            let goes_on = match &mut one.stage {
                Stage::Control { .. } => match control_answer(packet) {
                    None => true,
                    Some(ResultCode::Success) => {
                        one.stage = Stage::SpinDown(self.start_spin_down(one.source));
                        true
                    }
                    Some(result) => {
                        self.procedure_failed(&one, format!("it refuses control: {result}"));
                        false
                    }
                },
                Stage::SpinDown(run) => match run.handle_packet(packet) {
                    Some(event) => self.hear_spin_down(&one, event),
                    None => true,
                },
                Stage::Meter(transaction, _) => match transaction.handle_packet(packet) {
                    Some(event) => {
                        self.hear_meter(one, event);
                        continue;
                    }
                    None => true,
                },
                Stage::Release { .. } | Stage::StandStill { .. } => true,
            };
            if goes_on {
                self.procedures.running.insert(position, one);
                position += 1;
            }
        }
        self.tell_runner();
    }

    /// A trainer may ask for a spin-down by itself; whether it gets one is the operator's choice.
    pub(crate) fn hear_wish(&mut self, packet: &Packet) {
        if packet.characteristic != assigned::FITNESS_MACHINE_STATUS {
            return;
        }
        let wishes = Status::decode(&packet.bytes)
            .is_ok_and(|status| status.value == Status::SpinDown(SpinDownStatus::Requested));
        if wishes && !self.procedures.spins_down() {
            let words = "asks for a spin-down".to_owned();
            self.tell_of(packet.source, &News::plain(SPIN_DOWN, "wanted", words));
        }
    }

    /// Takes the answer to a write, if a procedure wrote it. Gives whether one did.
    pub(crate) fn hear_write_reply(
        &mut self,
        source: SourceId,
        characteristic: Characteristic,
        result: &Result<(), AttError>,
    ) -> bool {
        let to_trainer = characteristic == assigned::FITNESS_MACHINE_CONTROL_POINT;
        if to_trainer && self.writers.pop_front() != Some(Writer::Procedure) {
            return false;
        }
        if !to_trainer && characteristic != assigned::CYCLING_POWER_CONTROL_POINT {
            return false;
        }
        let fits = |one: &Running| {
            one.source == source
                && match one.stage {
                    Stage::Control { .. } | Stage::SpinDown(_) => to_trainer,
                    Stage::Meter(..) => !to_trainer,
                    Stage::Release { .. } | Stage::StandStill { .. } => false,
                }
        };
        if let Some(position) = self.procedures.running.iter().position(fits) {
            let mut one = self.procedures.running.remove(position);
            let goes_on = match (&mut one.stage, result) {
                (Stage::Control { .. }, Err(error)) => {
                    self.procedure_failed(&one, format!("control could not be asked for: {error}"));
                    false
                }
                (Stage::SpinDown(run), result) => match run.handle_write_result(result) {
                    Some(event) => self.hear_spin_down(&one, event),
                    None => true,
                },
                (Stage::Meter(transaction, _), result) => {
                    match transaction.handle_write_result(result) {
                        Some(event) => {
                            self.hear_meter(one, event);
                            self.tell_runner();
                            return true;
                        }
                        None => true,
                    }
                }
                _ => true,
            };
            if goes_on {
                self.procedures.running.insert(position, one);
            }
            self.tell_runner();
        }
        true
    }

    /// The link to an instrument is gone, and every procedure with it.
    pub(crate) fn procedures_lose_link(&mut self, source: SourceId) {
        while let Some(position) = self
            .procedures
            .running
            .iter()
            .position(|one| one.source == source)
        {
            let one = self.procedures.running.remove(position);
            self.procedure_failed(&one, "the link was lost".to_owned());
        }
        self.tell_runner();
    }

    /// Ends what runs, without telling the runner, which ended it or will begin it anew.
    pub(crate) fn break_off(&mut self, at: Timestamp, which: Which, why: &str) {
        self.procedures.asked = None;
        for one in std::mem::take(&mut self.procedures.running) {
            if which == Which::OfStep && one.asked_by != AskedBy::Script {
                self.procedures.running.push(one);
                continue;
            }
            let words = format!("broken off: {why}");
            self.tell_of_at(
                at,
                one.source,
                &News::plain(one.called(), "broken off", words),
            );
            if one.has_begun_spin_down() {
                self.write_to_trainer(one.source, &Request::Reset);
            }
            self.procedure_is_over();
        }
    }

    /// What a spin-down says. Gives whether it goes on.
    fn hear_spin_down(&mut self, one: &Running, event: SpinDownEvent) -> bool {
        let now = self.now;
        match event {
            SpinDownEvent::Speeds { low_kmh, high_kmh } => {
                let words = match (low_kmh, high_kmh) {
                    (Some(low), Some(high)) => format!(
                        "pedal up above {high:.1}\u{a0}km/h; when told to, stop and let it run \
                         down to {low:.1}\u{a0}km/h"
                    ),
                    _ => "pedal up until told to stop, then let it run down".to_owned(),
                };
                for (state, speed) in [("low speed", low_kmh), ("high speed", high_kmh)] {
                    if speed.is_some() {
                        let news = News {
                            value: speed,
                            unit: Some("km/h"),
                            ..News::plain(SPIN_DOWN, state, words.clone())
                        };
                        self.record_of(now, one.source, &news);
                    }
                }
                self.tell_of(
                    one.source,
                    &News::plain(SPIN_DOWN, "accelerate", words.clone()),
                );
                let speed = high_kmh
                    .map(|high| MetresPerSecond::from_kilometres_per_hour(high * ABOVE_HIGH));
                self.cue_rider(now, Pedalling::Easily, speed, &words);
                true
            }
            SpinDownEvent::StopPedalling => {
                let words = "stop pedalling and let it run down; keep clear of the flywheel";
                let news = News::plain(SPIN_DOWN, "stop pedalling", words.to_owned());
                self.tell_of(one.source, &news);
                self.cue_rider(now, Pedalling::Stop, None, words);
                true
            }
            SpinDownEvent::Succeeded => {
                let words = "succeeded".to_owned();
                self.tell_of(one.source, &News::plain(SPIN_DOWN, "succeeded", words));
                self.procedure_is_over();
                false
            }
            SpinDownEvent::Failed { reason } => {
                self.procedure_failed(one, reason);
                false
            }
        }
    }

    /// What a power meter answers; puts the next question if there is one.
    fn hear_meter(&mut self, one: Running, event: PowerMeterEvent) {
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

    fn procedure_failed(&mut self, one: &Running, reason: String) {
        let called = one.called();
        self.tell_of(one.source, &News::plain(called, "failed", reason.clone()));
        if one.asked_by == AskedBy::Script {
            let name = self.name_of(one.source).unwrap_or_default();
            self.failed_for_script(format!("{name}: {reason}"));
        }
        self.procedure_is_over();
    }

    fn failed_for_script(&mut self, words: String) {
        if let Some(asked) = &mut self.procedures.asked {
            asked.failures.push(words);
        }
    }

    fn procedure_is_over(&mut self) {
        self.procedures.ended = Some(self.now);
        self.procedures.words = None;
    }

    /// Tells the runner that what the step waits for is over. A paused run is not told: it begins
    /// the procedure anew when it is resumed.
    fn tell_runner(&mut self) {
        let open = |one: &Running| one.asked_by == AskedBy::Script;
        if self.procedures.running.iter().any(open) {
            return;
        }
        let Some(asked) = self.procedures.asked.take() else {
            return;
        };
        if self.runner.status().phase != Phase::Riding {
            return;
        }
        let outcome = if asked.failures.is_empty() {
            Ok(())
        } else {
            Err(asked.failures.join("; "))
        };
        let procedure = asked.procedure;
        self.runner
            .handle(self.now, Input::ProcedureEnded { procedure, outcome });
    }

    fn cue_rider(
        &mut self,
        at: Timestamp,
        pedalling: Pedalling,
        speed: Option<MetresPerSecond>,
        words: &str,
    ) {
        self.procedures.words = Some(words.to_owned());
        self.event(
            at,
            Happening::Cue {
                words: words.to_owned(),
            },
        );
        self.outputs.push_back(Output::Cue(Cue {
            pedalling,
            cadence: None,
            gear: None,
            speed,
            effort: None,
            text: words.to_owned(),
        }));
    }

    fn tell_of(&mut self, source: SourceId, news: &News<'_>) {
        self.tell_of_at(self.now, source, news);
    }

    /// Into the record and onto the screen.
    fn tell_of_at(&mut self, at: Timestamp, source: SourceId, news: &News<'_>) {
        self.record_of(at, source, news);
        let name = self.name_of(source).unwrap_or_default();
        let words = format!("{name}: {}: {}", news.called, news.words);
        Arc::make_mut(&mut self.notices).push(NoticeView { at, words });
    }

    fn record_of(&mut self, at: Timestamp, source: SourceId, news: &News<'_>) {
        self.event(
            at,
            Happening::Calibration {
                source: source.0,
                procedure: news.called.to_owned(),
                state: news.state.to_owned(),
                value: news.value,
                unit: news.unit.map(str::to_owned),
                words: news.words.clone(),
            },
        );
    }

    /// Since when silence of an instrument counts: cranks that stood still on purpose are none.
    pub(crate) fn silent_since(&self, last_packet: Timestamp) -> Timestamp {
        self.procedures
            .ended
            .map_or(last_packet, |ended| ended.max(last_packet))
    }
}

impl<'a> News<'a> {
    fn plain(called: &'a str, state: &'a str, words: String) -> Self {
        Self {
            called,
            state,
            value: None,
            unit: None,
            words,
        }
    }
}

/// What is broken off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Which {
    /// What a step asked for.
    OfStep,
    /// Everything.
    All,
}

/// Who wrote to the trainer's control point; the answers come in the order of the writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Writer {
    /// The one voice that controls the load.
    Controller,
    /// A procedure.
    Procedure,
}

fn control_answer(packet: &Packet) -> Option<ResultCode> {
    if packet.characteristic != assigned::FITNESS_MACHINE_CONTROL_POINT {
        return None;
    }
    let response = Response::decode(&packet.bytes).ok()?.value;
    (response.request_op == op_code::REQUEST_CONTROL).then_some(response.result)
}

/// The longest any of it takes by itself; the limits of a step are the script's.
const _: () = assert!(STILL_WITHIN.as_nanos() < Span::from_secs(300).as_nanos());
