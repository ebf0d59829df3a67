//! What begins and ends with a link: reads after connecting, control and answers that are lost with
//! it.

use super::{Instrument, Kind};
use crate::identity;
use crate::link::{Air, LinkChange};
use crate::spec::BrakeSpec;
use crate::truth::Fault;
use units::{Span, Timestamp};

/// From one read to the next after connecting.
const READ_TAKES: Span = Span::from_millis(30);

impl Instrument {
    /// Makes the link and reads everything there is to read.
    pub(crate) fn connect(
        &mut self,
        now: Timestamp,
        brake: &BrakeSpec,
        air: &mut Air,
    ) -> LinkChange {
        let change = self.link.connect(now);
        self.after_connect(now, brake, air);
        change
    }

    fn after_connect(&mut self, now: Timestamp, brake: &BrakeSpec, air: &mut Air) {
        let mut at = now;
        for (characteristic, bytes) in identity::reads(&self.spec, brake) {
            at += READ_TAKES;
            self.link.answer(at, characteristic, bytes, air);
        }
        for schedule in &mut self.schedules {
            schedule.skip_to(now);
        }
    }

    /// Follows the link over one step; everything that ends with a link ends here.
    pub(crate) fn step_link(
        &mut self,
        now: Timestamp,
        step_s: f64,
        brake: &BrakeSpec,
        air: &mut Air,
        faults: &mut Vec<Fault>,
    ) -> Option<LinkChange> {
        let change = self.link.step(now, step_s, air)?;
        if self.link.is_up() {
            self.after_connect(now, brake, air);
        } else {
            self.end_link();
        }
        if self.link.take_restart() {
            self.restart(now);
            faults.push(Fault::Restart {
                source: self.id,
                at: now,
            });
        }
        Some(change)
    }

    /// Ends the link from outside; it is made again with the first step from `back_at` on.
    pub(crate) fn cut(
        &mut self,
        now: Timestamp,
        back_at: Timestamp,
        air: &mut Air,
    ) -> Option<LinkChange> {
        if !self.link.is_up() {
            return None;
        }
        self.end_link();
        Some(self.link.lose(now, back_at, air))
    }

    fn end_link(&mut self) {
        self.outbox.clear();
        match &mut self.kind {
            Kind::Trainer(trainer) => trainer.control.link_lost(),
            Kind::Meter(meter) => meter.link_lost(),
            Kind::Cadence(_) | Kind::HeartRate(_) => {}
        }
    }
}
