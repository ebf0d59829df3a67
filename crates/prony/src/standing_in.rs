//! Somebody who agrees to everything, for sessions that a simulated rider rides.

use crate::engine::Audience;
use bench::{Awaiting, Bench, Command};
use units::Timestamp;

/// Answers the questions of a session in place of a person. Only for simulated riders.
#[derive(Default)]
pub struct StandIn {
    answered: Option<(Awaiting, Timestamp)>,
}

impl Audience for StandIn {
    fn show(&mut self, _bench: &Bench) {}

    fn answer(&mut self, bench: &Bench) -> Option<Command> {
        let awaiting = bench.awaiting()?;
        // Once per question: an answer that changes nothing must not be repeated for ever.
        if self
            .answered
            .is_some_and(|(question, at)| question == awaiting && at == bench.now())
        {
            return None;
        }
        self.answered = Some((awaiting, bench.now()));
        Some(match awaiting {
            Awaiting::Start => Command::Start,
            Awaiting::Cautions => Command::AcceptCautions,
            Awaiting::Acknowledgement | Awaiting::CoolDown => Command::Acknowledge,
            Awaiting::Resume => Command::Resume,
        })
    }
}
