//! The bounds of every number in a script, by name. What is outside is a mistake, not a wish.
//!
//! The numbers are the project's own judgement of what a sane bench effort is; they are wide, and
//! the rider's ceiling and the device's range narrow them when the plan is ridden.

/// The bound of one sort of number.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bound {
    pub(super) what: &'static str,
    pub(super) min: f64,
    pub(super) max: f64,
    pub(super) unit: &'static str,
    /// A sensible number, for the message about a missing one.
    pub(super) example: f64,
}

const fn bound(
    what: &'static str,
    (min, max): (f64, f64),
    unit: &'static str,
    example: f64,
) -> Bound {
    Bound {
        what,
        min,
        max,
        unit,
        example,
    }
}

pub(super) const POWER: Bound = bound("a target power", (0.0, 1500.0), "W", 200.0);
pub(super) const EASY_POWER: Bound = bound("an easy power", (0.0, 200.0), "W", 80.0);
pub(super) const SECONDS: Bound = bound("a step", (1.0, 14_400.0), "s", 120.0);
pub(super) const SETTLE: Bound = bound("a settling time", (0.0, 600.0), "s", 30.0);
pub(super) const BURST_SECONDS: Bound = bound("a burst", (2.0, 60.0), "s", 8.0);
pub(super) const BURST_READY: Bound = bound("getting ready", (5.0, 120.0), "s", 15.0);
pub(super) const REST_SECONDS: Bound = bound("the rest after a burst", (30.0, 900.0), "s", 150.0);
pub(super) const LIMIT_SECONDS: Bound = bound("a time limit", (5.0, 14_400.0), "s", 300.0);
pub(super) const CADENCE: Bound = bound("a cadence", (40.0, 130.0), "rpm", 90.0);
pub(super) const SPEED: Bound = bound("a flywheel speed", (5.0, 80.0), "km/h", 30.0);
pub(super) const ROLLOUT: Bound = bound("a wheel's rollout", (1.5, 2.5), "m", 2.096);
pub(super) const TIMES: Bound = bound("a repetition", (1.0, 500.0), "times", 3.0);
pub(super) const LEVELS: Bound = bound("a staircase", (2.0, 40.0), "levels", 5.0);
pub(super) const RESISTANCE: Bound = bound("a resistance level", (0.0, 100.0), "", 40.0);
pub(super) const GRADE: Bound = bound("a grade", (-25.0, 30.0), "%", 4.0);
pub(super) const WIND: Bound = bound("a wind", (-30.0, 30.0), "m/s", 0.0);
pub(super) const CRR: Bound = bound("a rolling coefficient", (0.0, 0.0254), "", 0.004);
pub(super) const CW: Bound = bound("a wind coefficient", (0.0, 2.54), "kg/m", 0.51);
pub(super) const POINT_SECONDS: Bound = bound("a program's time", (0.0, 14_400.0), "s", 60.0);
pub(super) const POINT_METRES: Bound = bound("a program's distance", (0.0, 100_000.0), "m", 500.0);
pub(super) const SEED: Bound = bound("a seed", (0.0, 9_007_199_254_740_991.0), "", 1821.0);

/// How long a judged step settles when it does not say: settling takes 10 s after a change of
/// cadence or gear by common practice, 30 s leaves room for the brake's own control.
pub(super) const USUAL_SETTLE_SECONDS: f64 = 30.0;
/// The most steps a script may unfold into.
pub(super) const MOST_STEPS: usize = 20_000;
/// The deepest repeats and shuffles may nest.
pub(super) const DEEPEST: usize = 8;
/// The longest a script may be planned to last.
pub(super) const LONGEST_SECONDS: f64 = 12.0 * 3600.0;
/// The most characters of a title.
pub(super) const LONGEST_TITLE: usize = 120;
/// The most characters of a prompt or description.
pub(super) const LONGEST_TEXT: usize = 2000;
