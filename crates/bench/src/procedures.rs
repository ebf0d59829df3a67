//! What instruments carry out themselves, and where each of it stands: spin-down of the trainer,
//! zero offset and crank length of power meters.
//!
//! The transactions on the wire are those of the crate `sensor`; here is who runs them, for whom,
//! and what has to be so before the first write: a trainer that is released and ours to control,
//! cranks that stand still.

pub use analysis::before::{SPIN_DOWN, ZERO_OFFSET};
use protocol::Procedure;
use sensor::control::{PowerMeterProcedure, PowerMeterTransaction, SpinDown};
use sensor::cycling_power::control::OffsetUnit;
use std::collections::{BTreeMap, VecDeque};
use units::{SourceId, Span, Timestamp};

/// How long a spin-down waits for the trainer to confirm that it is released.
pub const RELEASED_WITHIN: Span = Span::from_secs(10);

/// How long after the rider was told to hold still a zero offset begins at the earliest.
pub const STILL_AFTER: Span = Span::from_secs(5);

/// How long a zero offset waits for cranks that stand still.
pub const STILL_WITHIN: Span = Span::from_secs(60);

/// How often the cranks are looked at.
const LOOK_EVERY: Span = Span::from_secs(1);

/// What the record calls a crank length that is read or written.
pub const CRANK_LENGTH: &str = "crank length";

/// Who asked for a procedure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum AskedBy {
    /// The step being ridden, which waits for the end.
    Script,
    /// The operator.
    Operator,
}

/// One procedure of one instrument.
#[derive(Debug)]
pub(crate) struct Running {
    pub(crate) source: SourceId,
    pub(crate) asked_by: AskedBy,
    pub(crate) stage: Stage,
}

/// Whether an instrument that does not offer a procedure is a failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Need {
    /// It is; it was asked for by name or role.
    Must,
    /// It is left out; all that offer it were asked for.
    IfOffered,
}

/// Where a procedure stands.
#[derive(Debug)]
pub(crate) enum Stage {
    /// A spin-down waits until the trainer is released and nothing is said to it.
    Release { since: Timestamp },
    /// Control was asked for, which a spin-down needs.
    Control { asked: Timestamp },
    /// The spin-down itself.
    SpinDown(SpinDown),
    /// A zero offset waits for still cranks, and until the meter has said what it can do.
    StandStill {
        since: Timestamp,
        look_at: Timestamp,
        need: Need,
    },
    /// A conversation with a power meter.
    Meter(PowerMeterTransaction, Meter),
}

/// What is asked of a power meter, one thing after the other.
#[derive(Clone, Debug)]
pub(crate) struct Meter {
    pub(crate) unit: OffsetUnit,
    /// What is asked after the present question.
    pub(crate) then: VecDeque<PowerMeterProcedure>,
    /// The crank length that was written and is now read back, mm.
    pub(crate) expected_mm: Option<f64>,
    /// What the whole is called in the record.
    pub(crate) called: &'static str,
}

/// What the present step waits for.
#[derive(Debug)]
pub(crate) struct Asked {
    pub(crate) procedure: Procedure,
    pub(crate) failures: Vec<String>,
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

/// Everything that runs.
#[derive(Debug, Default)]
pub(crate) struct Procedures {
    pub(crate) running: Vec<Running>,
    pub(crate) asked: Option<Asked>,
    /// What the rider is told meanwhile.
    pub(crate) words: Option<String>,
    /// When the last one ended: silence before that is no loss, because cranks stood still.
    pub(crate) ended: Option<Timestamp>,
    /// Crank lengths that were told, mm.
    pub(crate) crank_mm: BTreeMap<SourceId, f64>,
}

impl Running {
    /// What it is called in the record.
    pub(crate) fn called(&self) -> &'static str {
        match &self.stage {
            Stage::Release { .. } | Stage::Control { .. } | Stage::SpinDown(_) => SPIN_DOWN,
            Stage::StandStill { .. } => ZERO_OFFSET,
            Stage::Meter(_, meter) => meter.called,
        }
    }

    /// Whether the trainer may be in the middle of it, so that it has to be told to leave off.
    pub(crate) fn has_begun_spin_down(&self) -> bool {
        matches!(&self.stage, Stage::SpinDown(run) if !run.is_over())
    }

    fn poll_timeout(&self) -> Option<Timestamp> {
        match &self.stage {
            Stage::Release { since } => Some(*since + RELEASED_WITHIN),
            Stage::Control { asked } => Some(*asked + sensor::control::spin_down::ANSWER_WITHIN),
            Stage::SpinDown(run) => run.poll_timeout(),
            Stage::StandStill { look_at, .. } => Some(*look_at),
            Stage::Meter(transaction, _) => transaction.poll_timeout(),
        }
    }
}

impl Stage {
    /// A zero offset that was just asked for.
    pub(crate) fn stand_still(now: Timestamp, need: Need) -> Self {
        Self::StandStill {
            since: now,
            look_at: now + STILL_AFTER,
            need,
        }
    }

    /// The same, looked at again a little later.
    pub(crate) fn look_again(since: Timestamp, now: Timestamp, need: Need) -> Self {
        Self::StandStill {
            since,
            look_at: now + LOOK_EVERY,
            need,
        }
    }
}

impl Procedures {
    /// When something falls due.
    pub(crate) fn poll_timeout(&self) -> Option<Timestamp> {
        self.running.iter().filter_map(Running::poll_timeout).min()
    }

    /// Whether cranks stand still on purpose, so that an instrument that is silent is not lost.
    pub(crate) fn holds_still(&self) -> bool {
        self.running.iter().any(|one| one.called() != CRANK_LENGTH)
    }

    /// Whether a spin-down runs or is about to.
    pub(crate) fn spins_down(&self) -> bool {
        self.running.iter().any(|one| one.called() == SPIN_DOWN)
    }

    /// Whether an instrument is busy with a procedure.
    pub(crate) fn occupies(&self, source: SourceId) -> bool {
        self.running.iter().any(|one| one.source == source)
    }
}
