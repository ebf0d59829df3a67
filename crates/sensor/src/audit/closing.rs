//! The release at the end of an audit: the same controller that releases the brake in a ride.

use super::evidence::Evidence;
use super::machine_steps::release_mode;
use crate::control::{ControlOutput, Controller, Demand, Link};
use units::{AttError, Packet, Span, Timestamp};

/// So long a release is tried before the audit ends without it.
const LIMIT: Span = Span::from_secs(30);
/// So long a lost link is waited for, because the load may still be on.
const LINK_LIMIT: Span = Span::from_secs(120);

#[derive(Debug)]
pub(super) struct Closing {
    controller: Controller,
    until: Timestamp,
    linked: bool,
}

impl Closing {
    pub(super) fn new(now: Timestamp, evidence: &Evidence, linked: bool) -> Self {
        let mut controller = Controller::new(release_mode(evidence));
        if !linked {
            controller.handle_link(now, Link::Down);
        }
        controller.want(now, Demand::Release);
        let limit = if linked { LIMIT } else { LINK_LIMIT };
        Self {
            controller,
            until: now + limit,
            linked,
        }
    }

    /// Whether the machine confirmed the release.
    pub(super) fn is_released(&self) -> bool {
        let state = self.controller.state();
        state.told == Some(Demand::Release) && state.confirmed
    }

    pub(super) fn is_over(&self, now: Timestamp) -> bool {
        self.is_released() || now >= self.until
    }

    pub(super) fn poll_timeout(&self) -> Option<Timestamp> {
        self.controller
            .poll_timeout()
            .into_iter()
            .chain([self.until])
            .min()
    }

    /// What is to be written next.
    pub(super) fn poll_write(&mut self) -> Option<Vec<u8>> {
        while let Some(output) = self.controller.poll_output() {
            if let ControlOutput::Write(bytes) = output {
                return Some(bytes);
            }
        }
        None
    }

    pub(super) fn handle_time(&mut self, now: Timestamp) {
        self.controller.handle_time(now);
    }

    pub(super) fn handle_packet(&mut self, packet: &Packet) {
        self.controller.handle_packet(packet);
    }

    pub(super) fn handle_write_result(&mut self, now: Timestamp, result: &Result<(), AttError>) {
        self.controller.handle_write_result(now, result);
    }

    pub(super) fn handle_link(&mut self, now: Timestamp, link: Link) {
        self.controller.handle_link(now, link);
        let linked = link == Link::Up;
        if linked && !self.linked {
            self.until = now + LIMIT;
        }
        self.linked = linked;
    }
}
