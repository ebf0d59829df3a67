//! In every ready script, on the simulated bench with its real delays: a rider who stops in the
//! middle of the hardest hold, a chain that falls off, a link that is lost and a reference that
//! falls silent each end at low load within the times that SCRIPTS.md states, and no load comes
//! back by itself.
//!
//! The times are on the virtual clock, from the event to the write that takes the load off.

use bench::{Bench, Command};
use crossbeam_channel::bounded;
use prony::clock::{Pace, SessionClock};
use prony::engine::{Audience, Engine};
use prony::instruments::{Instruments, News};
use prony::simulated::Simulated;
use prony::standing_in::StandIn;
use protocol::{Load, PlannedStep, Script};
use rig::{Instruction, Rig};
use std::cell::Cell;
use std::rc::Rc;
use units::{SourceId, Span, Timestamp, Write};

/// What nobody has to be relieved of, W.
const LOW_W: i16 = 100;
/// How long after the event the session is watched.
const WATCHED: Span = Span::from_secs(40);

/// What happens to the rider.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Upset {
    StopsPedalling,
    DropsTheChain,
    LosesTheLink,
    LosesTheReference,
}

/// The stated times, as SCRIPTS.md has them.
fn stated(upset: Upset, step: &PlannedStep) -> Span {
    let power_mode = matches!(step.load, Load::Power { .. });
    match (upset, power_mode) {
        (Upset::LosesTheLink, _) => Span::from_secs(1),
        (Upset::LosesTheReference, _) => Span::from_secs(6),
        (_, true) => Span::from_secs(8),
        // Where the load falls with the speed by itself, there is more time.
        (_, false) => Span::from_secs(16),
    }
}

/// The simulated bench, to which something happens at a moment that the audience chooses.
struct Upsetting {
    inner: Simulated,
    upset: Upset,
    at: Rc<Cell<Option<Timestamp>>>,
    happened: bool,
    writes: Vec<(Timestamp, Write)>,
}

impl Instruments for Upsetting {
    fn due(&self) -> Option<Timestamp> {
        self.inner.due()
    }

    fn poll(&mut self, now: Timestamp) -> Option<News> {
        if self.at.get().is_some() && !self.happened {
            self.happened = true;
            let rig = self.inner.rig_mut();
            match self.upset {
                Upset::StopsPedalling => rig.instruct(now, Instruction::StopPedalling),
                Upset::DropsTheChain => rig.drop_chain(now),
                Upset::LosesTheLink => rig.cut(now, SourceId(1)),
                Upset::LosesTheReference => {}
            }
        }
        let deaf = self.happened && self.upset == Upset::LosesTheReference;
        loop {
            match self.inner.poll(now)? {
                News::Packet(packet) if deaf && packet.source == SourceId(2) => {}
                news => return Some(news),
            }
        }
    }

    fn write(&mut self, now: Timestamp, write: Write) {
        self.writes.push((now, write.clone()));
        self.inner.write(now, write);
    }

    fn cue(&mut self, now: Timestamp, cue: &protocol::Cue) {
        self.inner.cue(now, cue);
    }
}

/// Skips to a step, lets something happen in its middle, and afterwards agrees to nothing.
struct Watcher {
    stand_in: StandIn,
    step: usize,
    half: Span,
    at: Rc<Cell<Option<Timestamp>>>,
}

impl Audience for Watcher {
    fn show(&mut self, _bench: &Bench) {}

    fn answer(&mut self, bench: &Bench) -> Option<Command> {
        if let Some(at) = self.at.get() {
            return (bench.now() > at + WATCHED).then_some(Command::Stop);
        }
        let step = bench.model().step;
        match step {
            Some(step) if step.index < self.step => Some(Command::Skip),
            Some(step) if step.index == self.step && step.elapsed >= self.half => {
                self.at.set(Some(bench.now()));
                None
            }
            _ => self.stand_in.answer(bench),
        }
    }
}

/// The hardest step of a script that loads a pedalling rider, in power mode and, where there is
/// one, on a slope or at a resistance level.
fn hard_steps(script: &Script) -> Vec<&PlannedStep> {
    let hardness = |step: &&PlannedStep| {
        step.planned_power()
            .map_or(0.0, |(from, to)| from.max(to).get())
    };
    let long_enough = |step: &&PlannedStep| step.length.expected() >= Span::from_secs(20);
    let of = |in_power_mode: bool| {
        script
            .plan()
            .steps
            .iter()
            .filter(long_enough)
            .filter(|step| match step.load {
                Load::Power { .. } => in_power_mode && !step.kind.allows_standing_still(),
                Load::Slope { .. } | Load::Resistance(_) => {
                    !in_power_mode && !step.kind.allows_standing_still()
                }
                Load::Free => false,
            })
            .max_by(|a, b| hardness(a).total_cmp(&hardness(b)))
    };
    of(true).into_iter().chain(of(false)).collect()
}

/// Rides to the step and lets it happen; gives how long the load stayed and the worst write after.
fn upset(script: &Script, step: &PlannedStep, upset: Upset) -> (Option<Span>, Vec<u8>) {
    let rig_plan = rig::built_in("honest").expect("a built-in rig");
    let machine = Rig::new(rig_plan.clone(), 5);
    let settings = analysis::settings::Settings::default();
    let setup = prony::setup::on_rig(script, &rig_plan, "", &machine, settings).expect("a set-up");
    let at = Rc::new(Cell::new(None));
    let instruments = Upsetting {
        inner: Simulated::new(machine),
        upset,
        at: Rc::clone(&at),
        happened: false,
        writes: Vec::new(),
    };
    let mut watcher = Watcher {
        stand_in: StandIn::default(),
        step: step.index,
        half: (step.length.expected() / 2).min(Span::from_secs(60)),
        at: Rc::clone(&at),
    };
    let (_ask, commands) = bounded(1);
    let clock = SessionClock::start(Pace::Virtual);
    let (_, ridden) = Engine::new(instruments, Bench::new(setup.plan), None, clock, commands)
        .run(&mut watcher)
        .expect("a rehearsal without a file cannot fail");
    let at = at.get().expect("the step is reached");
    let mut low_since = None;
    let mut last = Vec::new();
    for (when, write) in ridden.writes {
        // A request for control or a start says nothing about the load.
        let low = match write.bytes.as_slice() {
            [0x01] => true,
            [0x05, low, high] => i16::from_le_bytes([*low, *high]) <= LOW_W,
            [0x04 | 0x11, ..] => false,
            _ => continue,
        };
        if when > at + stated(upset, step) && !low {
            last = write.bytes;
        }
        match (low, low_since) {
            (true, None) => low_since = Some(when),
            (true, Some(_)) => {}
            (false, _) => low_since = None,
        }
    }
    (low_since.map(|since| (since - at).max(Span::ZERO)), last)
}

#[test]
fn every_ready_script_brings_a_rider_in_trouble_to_low_load_in_the_stated_time() {
    for kind in [
        Upset::StopsPedalling,
        Upset::DropsTheChain,
        Upset::LosesTheLink,
        Upset::LosesTheReference,
    ] {
        let mut slowest = [Span::ZERO; 2];
        for ready in protocol::ready_scripts() {
            let script = ready.load().expect("it loads");
            let steps = hard_steps(&script);
            assert!(!steps.is_empty(), "{}: nothing hard in it", ready.name);
            for step in steps {
                let (took, came_back) = upset(&script, step, kind);
                let place = format!(
                    "{kind:?} in {}, step {} ({})",
                    ready.name, step.index, step.title
                );
                assert!(
                    came_back.is_empty(),
                    "{place}: {came_back:02x?} was written"
                );
                let limit = stated(kind, step);
                assert!(
                    took.is_some_and(|took| took <= limit),
                    "{place}: {took:?}, stated {limit}"
                );
                let mode = usize::from(!matches!(step.load, Load::Power { .. }));
                slowest[mode] = slowest[mode].max(took.unwrap_or(Span::MAX));
            }
        }
        let [power, slope] = slowest;
        std::io::Write::write_all(
            &mut std::io::stdout(),
            format!("{kind:?}: low after at most {power} in power mode, {slope} otherwise\n")
                .as_bytes(),
        )
        .expect("a line");
    }
}
