//! Instruments that are needed and silent: when they count as lost, and when they are back.

use crate::instrument::Instrument;
use crate::machine::Bench;
use crate::model::InstrumentRole;
use protocol::{Fault, Lost};
use units::{SourceId, Span, Timestamp};

/// An instrument that is needed and silent for this long is lost: long enough for a few lost
/// packets at 1 Hz, short enough that nobody pedals long against a load that nothing watches.
const LOST_AFTER: Span = Span::from_secs(5);
/// The device under test may be silent for longer before the ride stops: its drop-outs are what
/// is being looked for, and the reference still watches the load.
const DEVICE_LOST_AFTER: Span = Span::from_secs(12);

impl Bench {
    /// When an instrument that is needed will have been silent for too long.
    pub(crate) fn loss_due(&self, instrument: &Instrument) -> Option<Timestamp> {
        let limit = silence_limit(instrument.plan().role)?;
        if self.procedures.holds_still() {
            return None;
        }
        let due = self.silent_since(instrument.last_packet()?) + limit;
        let told = self.lost.contains(&instrument.plan().id);
        (!told && self.record.open_step().is_some()).then_some(due.max(self.now))
    }

    pub(crate) fn watch_losses(&mut self) {
        if self.procedures.holds_still() {
            return;
        }
        for index in 0..self.instruments.len() {
            let plan = self.instruments[index].plan();
            let (id, role) = (plan.id, plan.role);
            let Some(limit) = silence_limit(role) else {
                continue;
            };
            let what = match role {
                InstrumentRole::UnderTest => Lost::Link,
                _ => Lost::Reference,
            };
            let silent = self.instruments[index]
                .last_packet()
                .is_some_and(|last| self.now - self.silent_since(last) >= limit);
            if silent && self.record.open_step().is_some() {
                self.lose(id, what);
            } else if !silent && self.instruments[index].is_up() {
                self.regain(id, what);
            }
        }
    }

    pub(crate) fn lose(&mut self, source: SourceId, what: Lost) {
        if !self.lost.contains(&source) {
            self.lost.push(source);
            self.fault(Fault::Lost(what));
        }
    }

    fn regain(&mut self, source: SourceId, what: Lost) {
        if let Some(index) = self.lost.iter().position(|lost| *lost == source) {
            self.lost.swap_remove(index);
            self.runner.handle(self.now, protocol::Input::Back(what));
        }
    }
}

fn silence_limit(role: InstrumentRole) -> Option<Span> {
    match role {
        InstrumentRole::UnderTest => Some(DEVICE_LOST_AFTER),
        InstrumentRole::PrimaryReference => Some(LOST_AFTER),
        InstrumentRole::SecondReference | InstrumentRole::Witness => None,
    }
}
