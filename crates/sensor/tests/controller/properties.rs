//! Properties over random interleavings: whatever caller, trainer and air do.

use proptest::collection::vec;
use proptest::prelude::*;
use sensor::assigned;
use sensor::control::{ControlEvent, ControlMode, ControlOutput, Controller, Demand, Link};
use sensor::fitness_machine::control::{Request, Response, ResultCode};
use sensor::fitness_machine::simulation::SimulationParameters;
use sensor::fitness_machine::status::Status;
use units::{AttError, Characteristic, Packet, SourceId, Span, Timestamp, Watts};

const CASES: u32 = 20_000;

/// One thing that happens to the controller.
#[derive(Clone, Debug)]
enum Input {
    Want(Demand),
    Answer(u8, ResultCode),
    /// The right answer to whatever was written last.
    RightAnswer(ResultCode),
    Status(Status),
    Noise(Vec<u8>),
    Acknowledge(Option<u8>),
    Link(Link),
    Evidence(Demand),
    Mode(ControlMode),
    /// Time passes, with a driver that calls at every deadline.
    Pass(i64),
    /// Time passes, with a driver that was held up.
    Jump(i64),
}

fn demands() -> impl Strategy<Value = Demand> {
    prop_oneof![
        4 => Just(Demand::Release),
        4 => (0..8u8).prop_map(|step| Demand::Power(Watts(100.0 + 50.0 * f64::from(step)))),
        1 => (0..4u8).prop_map(|level| Demand::ResistanceLevel(5.0 + f64::from(level))),
        1 => (0..4u8).prop_map(|grade| Demand::Slope {
            grade_pct: 1.0 + f64::from(grade),
            wind_m_per_s: 0.0,
            crr: 0.004,
            cw_kg_per_m: 0.5,
        }),
        1 => Just(Demand::Power(Watts(f64::NAN))),
    ]
}

fn results() -> impl Strategy<Value = ResultCode> {
    prop_oneof![
        6 => Just(ResultCode::Success),
        3 => (2..7u8).prop_map(ResultCode::from_number),
    ]
}

fn modes() -> impl Strategy<Value = ControlMode> {
    prop_oneof![
        3 => Just(ControlMode::Power { lowest_w: 0 }),
        1 => Just(ControlMode::Power { lowest_w: 40 }),
        1 => Just(ControlMode::Power { lowest_w: 300 }),
        1 => Just(ControlMode::Resistance { lowest: 1.0, highest: 25.0 }),
        1 => Just(ControlMode::Slope),
    ]
}

fn inputs() -> impl Strategy<Value = Input> {
    let statuses = prop_oneof![
        Just(Status::ControlPermissionLost),
        Just(Status::StoppedBySafetyKey),
        Just(Status::Reset),
        (0..8i16).prop_map(|step| Status::TargetPowerChanged { power_w: 50 * step }),
        Just(Status::SimulationChanged(SimulationParameters::default())),
    ];
    prop_oneof![
        6 => demands().prop_map(Input::Want),
        8 => results().prop_map(Input::RightAnswer),
        2 => (0..0x14u8, results()).prop_map(|(op, result)| Input::Answer(op, result)),
        2 => statuses.prop_map(Input::Status),
        1 => vec(any::<u8>(), 0..6).prop_map(Input::Noise),
        5 => Just(Input::Acknowledge(None)),
        2 => prop_oneof![Just(0xFE), Just(0xFD), Just(0x80), Just(0x0E)]
            .prop_map(|code| Input::Acknowledge(Some(code))),
        1 => Just(Input::Link(Link::Down)),
        2 => Just(Input::Link(Link::Up)),
        1 => demands().prop_map(Input::Evidence),
        1 => modes().prop_map(Input::Mode),
        6 => (1..400i64).prop_map(Input::Pass),
        2 => (400..40_000i64).prop_map(Input::Pass),
        1 => (1..90_000i64).prop_map(Input::Jump),
    ]
}

/// A controller, its driver, and what the rules say about what it writes.
struct Watched {
    controller: Controller,
    mode: ControlMode,
    now: Timestamp,
    linked: bool,
    /// A load was explicitly asked for since the last link loss, control loss or release.
    may_load: bool,
    last_op: Option<u8>,
    /// Since when there is something unanswered; a release that is repeated counts from its first.
    open_since: Option<Timestamp>,
    last_was_for_release: bool,
    /// Something came that may or may not have ended what is unanswered.
    unsure: bool,
    newest: Option<Demand>,
    writes: usize,
    outputs: usize,
}

impl Watched {
    fn new(mode: ControlMode) -> Self {
        Self {
            controller: Controller::new(mode),
            mode,
            now: Timestamp::ZERO,
            linked: true,
            may_load: false,
            last_op: None,
            open_since: None,
            last_was_for_release: false,
            unsure: false,
            newest: None,
            writes: 0,
            outputs: 0,
        }
    }

    fn apply(&mut self, input: &Input) -> Result<(), TestCaseError> {
        let now = self.now;
        match input {
            Input::Want(demand) => {
                self.newest = Some(*demand);
                self.may_load = self.linked && *demand != Demand::Release;
                self.controller.want(now, *demand);
            }
            Input::RightAnswer(result) => {
                if let Some(op) = self.last_op {
                    self.answer(op, *result);
                }
            }
            Input::Answer(op, result) => self.answer(*op, *result),
            Input::Status(status) => {
                let packet = self.packet(assigned::FITNESS_MACHINE_STATUS, status.encode());
                self.controller.handle_packet(&packet);
            }
            Input::Noise(bytes) => {
                let point = assigned::FITNESS_MACHINE_CONTROL_POINT;
                let packet = self.packet(point, bytes.clone());
                self.unsure = true;
                self.controller.handle_packet(&packet);
            }
            Input::Acknowledge(code) => {
                let result = code.map_or(Ok(()), |code| Err(AttError::Code(code)));
                self.unsure |= code.is_some();
                self.controller.handle_write_result(now, &result);
            }
            Input::Link(link) => {
                self.linked = *link == Link::Up;
                self.may_load = false;
                self.open_since = None;
                self.controller.handle_link(now, *link);
            }
            Input::Evidence(demand) => {
                self.controller.handle_evidence(now, *demand);
            }
            Input::Mode(mode) => {
                self.mode = *mode;
                self.controller.set_mode(*mode);
            }
            Input::Pass(millis) => {
                self.pass(Span::from_millis(*millis))?;
            }
            Input::Jump(millis) => {
                self.now += Span::from_millis(*millis);
                self.controller.handle_time(self.now);
            }
        }
        self.drain()?;
        self.sleeps_until_later()
    }

    /// Calls at every deadline, as the bench does.
    fn pass(&mut self, span: Span) -> Result<(), TestCaseError> {
        let end = self.now + span;
        let mut calls = 0;
        while let Some(due) = self.controller.poll_timeout().filter(|due| *due <= end) {
            self.now = due;
            self.controller.handle_time(due);
            self.drain()?;
            self.sleeps_until_later()?;
            calls += 1;
            // The shortest wait of the machine is a quarter of a second.
            prop_assert!(
                calls <= 10 + 5 * span.as_nanos() / 1_000_000_000,
                "it spins"
            );
        }
        self.now = end;
        self.controller.handle_time(end);
        Ok(())
    }

    fn sleeps_until_later(&self) -> Result<(), TestCaseError> {
        let due = self.controller.poll_timeout();
        prop_assert!(
            due.is_none_or(|due| due > self.now),
            "{due:?} is not after {:?}",
            self.now
        );
        Ok(())
    }

    fn answer(&mut self, op: u8, result: ResultCode) {
        let point = assigned::FITNESS_MACHINE_CONTROL_POINT;
        let packet = self.packet(point, Response::new(op, result).encode());
        self.unsure |= self.last_op == Some(op);
        self.controller.handle_packet(&packet);
    }

    fn packet(&self, characteristic: Characteristic, bytes: Vec<u8>) -> Packet {
        Packet {
            at: self.now,
            source: SourceId(1),
            epoch: 1,
            characteristic,
            bytes,
        }
    }

    fn drain(&mut self) -> Result<(), TestCaseError> {
        let mut at_once = 0;
        while let Some(output) = self.controller.poll_output() {
            at_once += 1;
            prop_assert!(at_once <= 6, "too much at once");
            self.outputs += 1;
            match output {
                ControlOutput::Event(event) => {
                    if matches!(event, ControlEvent::Lost { .. } | ControlEvent::TimedOut) {
                        self.may_load = false;
                    }
                    // Whatever the trainer reports as an echo ends the procedure.
                    if matches!(event, ControlEvent::Confirmed { .. }) {
                        self.open_since = None;
                    }
                    if matches!(event, ControlEvent::Lost { .. }) {
                        self.open_since = None;
                    }
                }
                ControlOutput::Write(bytes) => self.judge(&bytes)?,
            }
        }
        Ok(())
    }

    /// The rules about a write.
    fn judge(&mut self, bytes: &[u8]) -> Result<(), TestCaseError> {
        prop_assert!(self.linked, "written without a link");
        self.writes += 1;
        let request = Request::decode(bytes)
            .expect("its own bytes are readable")
            .value;
        let harmless = request == Request::RequestControl || self.is_release(&request);
        prop_assert!(harmless || self.may_load, "{request:?} was not asked for");
        let releasing = self.controller.state().told == Some(Demand::Release);
        if let Some(since) = self.open_since.filter(|_| !self.unsure) {
            let waited = self.now - since;
            prop_assert!(
                releasing || waited >= Span::from_secs(3),
                "{request:?} after {waited} while something is pending"
            );
        }
        if !(releasing && self.last_was_for_release && self.open_since.is_some()) {
            self.open_since = Some(self.now);
        }
        self.last_was_for_release = releasing;
        self.unsure = false;
        self.last_op = bytes.first().copied();
        Ok(())
    }

    fn is_release(&self, request: &Request) -> bool {
        match request {
            Request::Reset => true,
            Request::SetTargetPower { power_w } => *power_w <= 40,
            Request::SetTargetResistance { level, .. } => *level <= 1.0,
            Request::SetSimulation(road) => *road == SimulationParameters::default(),
            _ => false,
        }
    }
}

/// How a trainer with a memory of its own answers.
struct Trainer {
    controlled: bool,
    load_w: i16,
    /// Every second message is not heard.
    deaf_to_every_second: bool,
    heard: usize,
    answer_after: Span,
    /// The procedure under way and when it is answered.
    busy: Option<(Timestamp, Response)>,
}

impl Trainer {
    fn write(&mut self, now: Timestamp, bytes: &[u8]) -> Result<(), AttError> {
        self.heard += 1;
        if self.deaf_to_every_second && self.heard.is_multiple_of(2) {
            return Ok(());
        }
        if self.busy.is_some() {
            return Err(AttError::Code(0xFE));
        }
        let request = Request::decode(bytes).expect("readable").value;
        let op = request.op_code();
        let result = match request {
            Request::RequestControl => {
                self.controlled = true;
                ResultCode::Success
            }
            _ if !self.controlled => ResultCode::ControlNotPermitted,
            Request::SetTargetPower { power_w } => {
                self.load_w = power_w;
                ResultCode::Success
            }
            Request::StartOrResume => ResultCode::OperationFailed,
            _ => ResultCode::OpCodeNotSupported,
        };
        self.busy = Some((now + self.answer_after, Response::new(op, result)));
        Ok(())
    }
}

/// Controller and trainer joined by an air without loss.
struct Joined {
    watched: Watched,
    trainer: Trainer,
}

impl Joined {
    /// Runs until `end` or until the controller believes that the load is off.
    fn run_until(&mut self, end: Timestamp, until_released: bool) {
        loop {
            while let Some(output) = self.watched.controller.poll_output() {
                if let ControlOutput::Write(bytes) = output {
                    let result = self.trainer.write(self.watched.now, &bytes);
                    self.watched
                        .controller
                        .handle_write_result(self.watched.now, &result);
                }
            }
            if until_released && self.watched.controller.state().released {
                return;
            }
            let answer = self.trainer.busy.as_ref().map(|(at, _)| *at);
            let due = self.watched.controller.poll_timeout();
            let Some(next) = answer
                .into_iter()
                .chain(due)
                .min()
                .filter(|next| *next <= end)
            else {
                self.watched.now = end;
                return;
            };
            self.watched.now = next;
            if answer == Some(next)
                && let Some((_, response)) = self.trainer.busy.take()
            {
                self.watched.answer(response.request_op, response.result);
            }
            self.watched.controller.handle_time(next);
        }
    }
}

fn joined(deaf: bool, answer_after: Span) -> Joined {
    Joined {
        watched: Watched::new(ControlMode::Power { lowest_w: 0 }),
        trainer: Trainer {
            controlled: false,
            load_w: 0,
            deaf_to_every_second: deaf,
            heard: 0,
            answer_after,
            busy: None,
        },
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: CASES, ..ProptestConfig::default() })]

    /// Rules 1, 3 and 4: no load comes back by itself, nothing spins or floods, and a procedure is
    /// overtaken only by a release or when it is unconfirmed.
    #[test]
    fn whatever_happens_the_rules_hold(mode in modes(), inputs in vec(inputs(), 1..40)) {
        let mut watched = Watched::new(mode);
        // A mode that changes under a load would make its release look like another's.
        for input in &inputs {
            watched.apply(input)?;
        }
        let state = watched.controller.state();
        prop_assert!(!(state.confirmed && state.told == Some(Demand::Release) && !state.released));
    }

    /// Rule 2: a release is confirmed in time by a trainer that is there.
    #[test]
    fn a_release_is_confirmed_in_time(
        deaf in any::<bool>(),
        answer_after_ms in 1..150i64,
        steps in vec((demands(), 1..1500i64), 0..6),
    ) {
        let mut bench = joined(deaf, Span::from_millis(answer_after_ms));
        for (demand, wait_ms) in &steps {
            bench.watched.controller.want(bench.watched.now, *demand);
            let end = bench.watched.now + Span::from_millis(*wait_ms);
            bench.run_until(end, false);
        }
        let asked = bench.watched.now;
        bench.watched.controller.want(asked, Demand::Release);
        let limit = if deaf { Span::from_secs(10) } else { Span::from_secs(1) };
        bench.run_until(asked + limit, true);
        let state = bench.watched.controller.state();
        prop_assert!(state.released, "not released within {limit}");
        if bench.watched.writes > 0 {
            prop_assert!(state.confirmed);
        }
        prop_assert_eq!(bench.trainer.load_w, 0, "believed released, but loaded");
    }

    /// The same through a link loss, a control loss and a peer that was loaded before.
    #[test]
    fn after_a_loss_the_load_goes_and_stays_off(
        watts in 100..400i16,
        permission in any::<bool>(),
        away_ms in 0..60_000i64,
    ) {
        let mut bench = joined(false, Span::from_millis(50));
        bench.watched.controller.want(Timestamp::ZERO, Demand::Power(Watts(f64::from(watts))));
        bench.run_until(Timestamp::from_secs(2), false);
        prop_assert_eq!(bench.trainer.load_w, watts);
        bench.trainer.controlled = false;
        if permission {
            let status = Status::ControlPermissionLost.encode();
            let packet = bench.watched.packet(assigned::FITNESS_MACHINE_STATUS, status);
            bench.watched.controller.handle_packet(&packet);
        } else {
            bench.trainer.busy = None;
            bench.watched.controller.handle_link(bench.watched.now, Link::Down);
            bench.run_until(bench.watched.now + Span::from_millis(away_ms), false);
            bench.watched.controller.handle_link(bench.watched.now, Link::Up);
        }
        let back = bench.watched.now;
        bench.run_until(back + Span::from_secs(1), false);
        prop_assert!(bench.watched.controller.state().released);
        prop_assert_eq!(bench.trainer.load_w, 0);
        let heard = bench.trainer.heard;
        bench.run_until(back + Span::from_secs(600), false);
        prop_assert_eq!(bench.trainer.heard, heard, "something was written by itself");
    }
}
