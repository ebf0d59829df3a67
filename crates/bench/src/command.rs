//! What the operator can ask of the bench. Every command is recorded, so that a replay is complete.

use serde::{Deserialize, Serialize};

/// One request of the operator, from the desk, a key or the command line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Command {
    /// The cautions and the readiness questions were read and answered.
    AcceptCautions,
    /// Bring the steps that ask for more than the device offers into its range; before the start.
    CapSteps,
    /// Begin the script.
    Start,
    /// Take the load off and wait.
    Pause,
    /// Go on after a pause, from low load.
    Resume,
    /// Leave the present step.
    Skip,
    /// Ride the present step again.
    Repeat,
    /// Ride the present step for longer, seconds.
    Extend(u32),
    /// A prompt was read.
    Acknowledge,
    /// Remember this moment, with a remark.
    Mark(String),
    /// Begin a spin-down of the device under test; not while a step is ridden.
    SpinDown,
    /// Have the power meter with this source number find its zero; not while anything is loaded.
    ZeroOffset(u16),
    /// Ask the power meter with this source number for the crank length it computes with.
    ReadCrankLength(u16),
    /// Tell a power meter the length of its crank; it is read back.
    WriteCrankLength {
        /// Source number of the meter.
        source: u16,
        /// Length, tenths of a millimetre.
        tenth_mm: u16,
    },
    /// Take the load off at once and stay off until told otherwise.
    Release,
    /// End the session.
    Stop,
}
