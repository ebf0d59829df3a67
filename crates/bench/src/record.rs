//! What was ridden, as the analysis wants it: steps, commands and spans that may not be judged.

use analysis::evidence::{Command, Feeds, InvalidSpan, Load, StepSpan};
use protocol::PlannedStep;
use units::Timestamp;

/// The running record of the ride.
#[derive(Clone, Debug, Default)]
pub struct RideRecord {
    steps: Vec<StepSpan>,
    commands: Vec<Command>,
    invalid: Vec<InvalidSpan>,
    step_is_open: Open,
    invalid_since: Option<(Timestamp, String)>,
    released_since: Option<(Timestamp, String)>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Open {
    Yes,
    #[default]
    No,
}

impl RideRecord {
    /// A step begins; whatever was open ends here.
    pub fn begin_step(&mut self, at: Timestamp, planned: &PlannedStep, attempt: u32) {
        self.end_step(at);
        self.steps.push(StepSpan {
            index: planned.index,
            attempt,
            title: planned.title.clone(),
            feeds: feeds(planned.feeds),
            from: at,
            to: at,
            settle: planned.settle,
            target_w: planned.constant_power().map(units::Watts::get),
            cadence_rpm: planned.cadence().map(units::RevPerMin::get),
            gear: planned.cue.gear.map(|gear| gear.development_m),
        });
        self.step_is_open = Open::Yes;
    }

    /// The open step ends.
    pub fn end_step(&mut self, at: Timestamp) {
        if self.step_is_open == Open::Yes
            && let Some(step) = self.steps.last_mut()
        {
            step.to = at;
        }
        self.step_is_open = Open::No;
    }

    /// The load asked for changes. A release ends nothing by itself, but from here on until the
    /// next load nothing may be judged.
    pub fn command(&mut self, at: Timestamp, load: Load) {
        if load != Load::Released
            && let Some((from, reason)) = self.released_since.take()
        {
            self.invalid.push(InvalidSpan {
                from,
                to: at,
                reason,
            });
        }
        self.commands.push(Command {
            at,
            confirmed_at: None,
            load,
        });
    }

    /// The brake is released, and why.
    pub fn released(&mut self, at: Timestamp, reason: String) {
        self.command(at, Load::Released);
        if self.step_is_open == Open::Yes {
            self.released_since.get_or_insert((at, reason));
        }
    }

    /// The device confirmed its newest load.
    pub fn confirmed(&mut self, at: Timestamp) {
        if let Some(command) = self.commands.last_mut() {
            command.confirmed_at.get_or_insert(at);
        }
    }

    /// From here on nothing may be judged.
    pub fn invalid_from(&mut self, at: Timestamp, reason: String) {
        self.invalid_since.get_or_insert((at, reason));
    }

    /// It may again.
    pub fn valid_again(&mut self, at: Timestamp) {
        if let Some((from, reason)) = self.invalid_since.take() {
            self.invalid.push(InvalidSpan {
                from,
                to: at,
                reason,
            });
        }
    }

    /// The step that is being ridden.
    pub fn open_step(&self) -> Option<&StepSpan> {
        (self.step_is_open == Open::Yes)
            .then(|| self.steps.last())
            .flatten()
    }

    /// Running number of the open step's attempt.
    pub fn visit(&self) -> Option<usize> {
        self.open_step().map(|_| self.steps.len() - 1)
    }

    /// Whether the present moment may not be judged.
    pub fn is_invalid_now(&self) -> Option<&str> {
        self.invalid_since
            .as_ref()
            .or(self.released_since.as_ref())
            .map(|(_, why)| why.as_str())
    }

    /// Steps, commands and invalid spans up to `end`; what is open ends there.
    pub fn until(&self, end: Timestamp) -> (Vec<StepSpan>, Vec<Command>, Vec<InvalidSpan>) {
        let mut closed = self.clone();
        closed.end_step(end);
        closed.valid_again(end);
        if let Some((from, reason)) = closed.released_since.take() {
            closed.invalid.push(InvalidSpan {
                from,
                to: end,
                reason,
            });
        }
        closed.invalid.sort_by_key(|span| span.from);
        (closed.steps, closed.commands, closed.invalid)
    }
}

fn feeds(feeds: protocol::Feeds) -> Feeds {
    match feeds {
        protocol::Feeds::Steady => Feeds::Steady,
        protocol::Feeds::Response => Feeds::Response,
        protocol::Feeds::Drift => Feeds::Drift,
        protocol::Feeds::Burst => Feeds::Burst,
        protocol::Feeds::Slope => Feeds::Slope,
        protocol::Feeds::DropOut => Feeds::DropOut,
        protocol::Feeds::Cadence => Feeds::Cadence,
        protocol::Feeds::FlywheelSpeed => Feeds::FlywheelSpeed,
        protocol::Feeds::SpinDown => Feeds::CoastDown,
        protocol::Feeds::Warmup | protocol::Feeds::Nothing => Feeds::Nothing,
    }
}
