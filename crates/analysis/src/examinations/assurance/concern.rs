//! What weakens or blocks a verdict.

/// Something that weakens or blocks a verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct Concern {
    /// What it is.
    pub kind: ConcernKind,
    /// Whether no verdict may be given while it stands.
    pub blocks: bool,
    /// In words with numbers.
    pub words: String,
}

/// Kinds of concern.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ConcernKind {
    /// The zero was not read before and after.
    ZeroNotChecked,
    /// The zero moved by more than the gate.
    ZeroMoved,
    /// One side only, doubled.
    OneSided,
    /// The zero seems to have been set anew during the ride.
    AutomaticZero,
    /// The device seems to be steered by the reference, or to report its values.
    Circular,
}

pub(super) fn concern(kind: ConcernKind, words: String) -> Concern {
    Concern {
        kind,
        blocks: false,
        words,
    }
}
