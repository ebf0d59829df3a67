//! What the operator can ask of the bench. Every command is recorded, so that a replay is complete.

use serde::{Deserialize, Serialize};

/// One request of the operator, from the desk, a key or the command line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Command {
    /// The cautions and the readiness questions were read and answered.
    AcceptCautions,
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
    /// Take the load off at once and stay off until told otherwise.
    Release,
    /// End the session.
    Stop,
}
