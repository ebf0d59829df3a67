//! The bench itself: it is told what happens, and says what to do and what to record.
//!
//! One rule makes a replay equal to the ride: before an input is taken, every deadline that lies
//! before it fires at its own moment. Whoever drives the bench may call as often or as late as it
//! likes; the same packets, commands, link news and replies give the same outputs.

use crate::command::Command;
use crate::happening::Happening;
use crate::input::{Input, Output};
use crate::instrument::Instrument;
use crate::judge::Judge;
use crate::model::{BrakeView, FlagView, InstrumentRole, NoticeView, ScriptView};
use crate::plan::{BenchPlan, Origin};
use crate::procedures::{Procedures, Writer};
use crate::record::RideRecord;
use crate::trace::Trace;
use crate::view::script::{script_on, steps_to_cap};
use protocol::{Fault, Lost, Runner};
use sensor::control::{ControlMode, Controller, Demand};
use std::collections::VecDeque;
use std::sync::Arc;
use units::{SourceId, Span, Timestamp};

/// What the session waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Awaiting {
    /// Somebody to begin.
    Start,
    /// Somebody to accept the cautions.
    Cautions,
    /// Somebody to acknowledge a prompt, or to do what it says.
    Acknowledgement,
    /// Somebody to resume.
    Resume,
    /// An answer to the offered cool-down.
    CoolDown,
}

/// What the device reported since a target was told that it has not confirmed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Evidence {
    pub(crate) target_w: f64,
    pub(crate) since: Timestamp,
    pub(crate) sum_w: f64,
    pub(crate) count: u32,
}

/// The composed machine.
#[derive(Debug)]
pub struct Bench {
    pub(crate) plan: BenchPlan,
    pub(crate) script: Arc<ScriptView>,
    pub(crate) instruments: Vec<Instrument>,
    pub(crate) runner: Runner,
    pub(crate) controller: Controller,
    /// What speaks for a target that was not confirmed.
    pub(crate) evidence: Option<Evidence>,
    pub(crate) judge: Judge,
    pub(crate) record: RideRecord,
    pub(crate) now: Timestamp,
    /// The last moment of which a recording knows: time that only passed is not recorded.
    pub(crate) last_recorded: Timestamp,
    pub(crate) outputs: VecDeque<Output>,
    pub(crate) target_w: Trace,
    pub(crate) flags: Arc<Vec<FlagView>>,
    pub(crate) notices: Arc<Vec<NoticeView>>,
    pub(crate) brake: BrakeView,
    pub(crate) ended: Option<String>,
    pub(crate) awaiting: Option<Awaiting>,
    /// What instruments carry out themselves at present.
    pub(crate) procedures: Procedures,
    /// Who wrote what the trainer has not acknowledged yet.
    pub(crate) writers: VecDeque<Writer>,
    /// Which instruments the runner was told are lost.
    pub(crate) lost: Vec<SourceId>,
    /// The release of the controller was asked for last, or a load.
    pub(crate) load_is_off: bool,
}

impl Bench {
    /// A bench with its instruments linked and nothing loaded.
    pub fn new(plan: BenchPlan) -> Self {
        let mut sources = plan.sources.clone();
        sources.sort_by_key(|source| match source.role {
            InstrumentRole::UnderTest => 0,
            InstrumentRole::PrimaryReference => 1,
            InstrumentRole::SecondReference => 2,
            InstrumentRole::Witness => 3,
        });
        Self {
            script: Arc::new(script_on(&plan)),
            instruments: sources.into_iter().map(Instrument::new).collect(),
            runner: Runner::new(plan.script.clone(), plan.runner.clone()),
            controller: Controller::new(ControlMode::Power { lowest_w: 0 }),
            evidence: None,
            judge: Judge::new(&plan),
            record: RideRecord::default(),
            now: Timestamp::ZERO,
            last_recorded: Timestamp::ZERO,
            outputs: VecDeque::new(),
            target_w: Trace::new(Span::MAX),
            flags: Arc::default(),
            notices: Arc::default(),
            brake: BrakeView {
                told: "nothing yet".to_owned(),
                answer: String::new(),
                confirmed: false,
                released: true,
            },
            ended: None,
            awaiting: Some(Awaiting::Start),
            procedures: Procedures::default(),
            writers: VecDeque::new(),
            lost: Vec::new(),
            load_is_off: true,
            plan,
        }
    }

    /// Lets time pass up to `now`, then takes one input. A `now` before the last one counts as the
    /// last one.
    pub fn handle(&mut self, now: Timestamp, input: Input) {
        let now = now.max(self.now);
        while let Some(due) = self.poll_timeout().filter(|due| *due <= now) {
            self.now = due.max(self.now);
            self.fire();
        }
        self.now = now;
        if !matches!(input, Input::Tick) {
            self.last_recorded = now;
        }
        self.take(input);
        self.settle();
    }

    /// The next thing to do or record.
    pub fn poll_output(&mut self) -> Option<Output> {
        self.outputs.pop_front()
    }

    /// When time alone will change something next.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        let instruments = self.instruments.iter().filter_map(Instrument::poll_timeout);
        let losses = self.instruments.iter().filter_map(|one| self.loss_due(one));
        instruments
            .chain(losses)
            .chain(self.runner.poll_timeout())
            .chain(self.controller.poll_timeout())
            .chain(self.judge.poll_timeout())
            .chain(self.procedures.poll_timeout())
            .min()
            .map(|due| due.max(self.now))
    }

    /// The present moment of the bench: that of its last input or deadline.
    pub fn now(&self) -> Timestamp {
        self.now
    }

    /// Whether the session is over and the brake is known to be released, or nobody is there to
    /// confirm it.
    pub fn is_over(&self) -> bool {
        self.ended.is_some() && (self.controller.state().released || !self.device_is_linked())
    }

    /// Why the session ended, if it did.
    pub fn end_reason(&self) -> Option<&str> {
        self.ended.as_deref()
    }

    /// What the session waits for, if it waits.
    pub fn awaiting(&self) -> Option<Awaiting> {
        self.awaiting
    }

    /// What the session was set up from.
    pub fn plan(&self) -> &BenchPlan {
        &self.plan
    }

    /// The instruments in the order of the screen.
    pub fn instruments(&self) -> &[Instrument] {
        &self.instruments
    }

    pub(crate) fn position(&self, role: InstrumentRole) -> Option<usize> {
        self.instruments
            .iter()
            .position(|one| one.plan().role == role)
    }

    pub(crate) fn event(&mut self, at: Timestamp, happening: Happening) {
        self.last_recorded = self.last_recorded.max(at);
        self.outputs.push_back(Output::Event { at, happening });
    }

    pub(crate) fn notice(&mut self, at: Timestamp, words: impl Into<String>) {
        let words = words.into();
        Arc::make_mut(&mut self.notices).push(NoticeView {
            at,
            words: words.clone(),
        });
        self.event(at, Happening::Notice { words });
    }

    fn device_is_linked(&self) -> bool {
        self.position(InstrumentRole::UnderTest)
            .is_some_and(|index| self.instruments[index].is_up())
    }

    /// Fires every deadline that lies at or before the present moment.
    fn fire(&mut self) {
        let now = self.now;
        for index in 0..self.instruments.len() {
            let readings = self.instruments[index].handle_time(now);
            self.pass_on(index, &readings);
        }
        self.watch_losses();
        self.judge_completed_seconds();
        self.controller.handle_time(now);
        self.runner.handle(now, protocol::Input::Tick);
        self.settle();
    }

    fn take(&mut self, input: Input) {
        let now = self.now;
        match input {
            Input::Tick => {}
            Input::Trouble { words } => self.notice(now, words),
            Input::Stalled => {
                self.notice(now, "the program was held up for more than two seconds");
                self.fault(Fault::BenchStalled);
            }
            Input::Packet(packet) => {
                let Some(index) = self
                    .instruments
                    .iter()
                    .position(|one| one.plan().id == packet.source)
                else {
                    return;
                };
                let (readings, oddities) = self.instruments[index].handle(&packet);
                for words in oddities {
                    self.odd(index, words);
                }
                if self.instruments[index].plan().role == InstrumentRole::UnderTest {
                    self.adopt_capabilities(index, &packet);
                    self.controller.handle_packet(&packet);
                    self.weigh_evidence(&readings);
                    self.hear_wish(&packet);
                }
                self.hear_procedures(&packet);
                self.pass_on(index, &readings);
                self.watch_losses();
            }
            Input::Command(command) => self.obey(command),
            Input::Link {
                source,
                up,
                epoch,
                words,
            } => self.link(source, up, epoch, &words),
            Input::WriteReply {
                source,
                characteristic,
                result,
            } => {
                if !self.hear_write_reply(source, characteristic, &result) {
                    self.controller.handle_write_result(now, &result);
                }
            }
            Input::RecordingFailed { words } => {
                self.notice(now, format!("the recording failed: {words}"));
                self.fault(Fault::RecordingFailed(words));
            }
        }
    }

    /// Lets runner and controller say everything they have to say.
    fn settle(&mut self) {
        loop {
            let spoke = self.drain_runner() | self.drain_controller();
            // What is to be said to the trainer about its load comes first.
            if !spoke && !self.advance_procedures() {
                return;
            }
        }
    }

    fn obey(&mut self, command: Command) {
        use protocol::Command as Ask;
        if self.calibrate(&command) {
            return;
        }
        if matches!(command, Command::Start | Command::Resume) && self.procedures.spins_down() {
            self.notice(
                self.now,
                "a spin-down is running: let it end, or release first",
            );
            return;
        }
        if command == Command::Start && !steps_to_cap(&self.plan).is_empty() {
            let steps: Vec<_> = self
                .script
                .beyond
                .iter()
                .map(|one| &one.words[..])
                .collect();
            let words = format!("not begun: {}", steps.join("; "));
            self.notice(self.now, words);
            return;
        }
        if command == Command::Start && self.plan.origin == Origin::Real {
            // Whatever somebody asked of a real brake before us is taken off it first.
            self.controller.want(self.now, Demand::Release);
        }
        if matches!(command, Command::Release | Command::Stop) {
            // Not by way of the runner: whatever state it is in, the load goes off now.
            self.release(self.now, "released by the operator");
        }
        let input = match command {
            Command::Start => protocol::Input::Start,
            Command::AcceptCautions => protocol::Input::Command(Ask::AcceptReadiness),
            Command::Pause | Command::Release => protocol::Input::Command(Ask::Pause),
            Command::Resume => protocol::Input::Command(Ask::Resume),
            Command::Skip => protocol::Input::Command(Ask::Skip),
            Command::Repeat => protocol::Input::Command(Ask::Repeat),
            Command::Extend(seconds) => {
                protocol::Input::Command(Ask::Extend(Span::from_secs(i64::from(seconds))))
            }
            Command::Acknowledge => protocol::Input::Command(Ask::Acknowledge),
            Command::Mark(words) => protocol::Input::Command(Ask::Mark(words)),
            Command::Stop => protocol::Input::Command(Ask::Stop),
            Command::CapSteps => {
                self.cap_steps();
                return;
            }
            Command::SpinDown
            | Command::ZeroOffset(_)
            | Command::ReadCrankLength(_)
            | Command::WriteCrankLength { .. } => return,
        };
        self.runner.handle(self.now, input);
    }

    /// Brings every step into the device's range, before the script has begun.
    fn cap_steps(&mut self) {
        if self.runner.status().phase != protocol::Phase::NotStarted {
            self.notice(self.now, "the script has begun: it is ridden as it is");
            return;
        }
        self.plan.script = self.plan.script.capped(&self.plan.runner.range);
        self.script = Arc::new(script_on(&self.plan));
        self.runner = Runner::new(self.plan.script.clone(), self.plan.runner.clone());
        self.notice(
            self.now,
            "the steps were brought into the range of the device",
        );
    }

    fn link(&mut self, source: SourceId, up: bool, epoch: u32, words: &str) {
        let now = self.now;
        let Some(index) = self
            .instruments
            .iter()
            .position(|one| one.plan().id == source)
        else {
            return;
        };
        self.instruments[index].handle_link(now, up, epoch);
        let name = self.instruments[index].plan().name.clone();
        let what = if up { "linked" } else { "link lost" };
        self.notice(now, format!("{name}: {what}, {words}"));
        match self.instruments[index].plan().role {
            InstrumentRole::UnderTest => {
                use sensor::control::Link;
                self.controller
                    .handle_link(now, if up { Link::Up } else { Link::Down });
                let input = if up {
                    protocol::Input::Back(Lost::Link)
                } else {
                    protocol::Input::Fault(Fault::Lost(Lost::Link))
                };
                self.runner.handle(now, input);
            }
            InstrumentRole::PrimaryReference if !up => self.lose(source, Lost::Reference),
            _ => {}
        }
        if self.instruments[index].plan().role == InstrumentRole::UnderTest {
            self.writers.clear();
        }
        if !up {
            self.procedures_lose_link(source);
        }
    }

    pub(crate) fn fault(&mut self, fault: Fault) {
        self.runner.handle(self.now, protocol::Input::Fault(fault));
    }

    fn odd(&mut self, index: usize, words: String) {
        let source = self.instruments[index].plan().id.0;
        self.event(self.now, Happening::Anomaly { source, words });
    }
}
