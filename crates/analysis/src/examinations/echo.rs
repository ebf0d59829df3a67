//! Target echo: whether the device reports what it was told rather than what it feels.

use super::given::Given;
use crate::outcome::Outcome;

/// Name of the examination.
pub const NAME: &str = "target echo";

/// What the indicated power follows.
#[derive(Clone, Debug, PartialEq)]
pub struct Echo {
    /// The judgement.
    pub judgement: EchoJudgement,
    /// Share of the remaining variation that the reference explains once the target is known.
    pub partial_r2_reference: f64,
    /// 95 % interval of it.
    pub reference_interval: [f64; 2],
    /// Share of the remaining variation that the target explains once the reference is known.
    pub partial_r2_target: f64,
    /// 95 % interval of it.
    pub target_interval: [f64; 2],
    /// Standard deviation of the reference about the target, W: how much there was to feel.
    pub disturbance_w: f64,
    /// Means compared.
    pub means: usize,
}

/// Judgement about an echo.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EchoJudgement {
    /// Follows the reference.
    Measures,
    /// Follows the target and ignores the reference.
    Echoes,
    /// Neither is shown.
    Undecided,
}

/// Examines whether indicated power follows the target or the reference.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn echo(_given: &Given<'_>) -> Outcome<Echo> {
    super::not_tested(NAME, "this examination is not written yet")
}
