//! Who asks for a procedure, and of which instruments: a step of the script, or the operator while
//! nobody is loaded.

use crate::command::Command;
use crate::machine::Bench;
use crate::model::InstrumentRole;
use crate::procedures::{Asked, AskedBy, Need, Which};
use protocol::{Pedalling, Phase, Procedure, Target, ZeroOf};
use units::{SourceId, Timestamp};

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
}
