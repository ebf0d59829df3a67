//! The examinations: one file or folder each, one shape for all.
//!
//! Every examination takes [`Given`], prepared once for all, and answers with an [`Outcome`]: a
//! result whose numbers carry their uncertainty, one plain sentence and the data of its plots – or
//! the reason why it was not made, in words that say what to ride. None of them aligns, gates or
//! corrects anything; that has happened before.

pub mod agreement;
pub mod anchors;
pub mod apportioning;
pub mod assurance;
pub mod best_means;
mod bins;
pub mod bursts;
pub mod coast_down;
pub mod comparison;
pub mod consistency;
pub mod dependence;
pub mod disturbance;
pub mod drop_out_rates;
pub mod echo;
pub mod energy;
pub mod given;
pub mod hysteresis;
pub mod inertia;
mod integral;
pub(crate) use integral::usual_interval_s;
pub mod level;
pub mod noise;
mod prepared;
pub mod radio;
pub mod repeatability;
pub mod response;
pub mod road;
pub mod slope;
pub mod smoothing;
pub mod stability;
pub mod static_check;
#[cfg(test)]
pub(crate) mod synthetic;
mod targets;
#[cfg(test)]
mod tests;
mod transitions;
pub mod virtual_speed;
mod visits;
pub mod warm_up;
pub(crate) mod words;

use crate::outcome::{NotTested, Outcome, not_tested};
pub use given::{
    BenchFacts, DropOut, DropOutKind, Flywheel, Given, SteadyWindow, StreamFacts, Tolerance,
    WindFactor,
};
pub use prepared::Prepared;

/// Everything that was examined in one session.
///
/// What needs more than one session ([`repeatability`], [`comparison`]) or numbers entered by hand
/// ([`static_check`], [`noise`]) is called on its own.
#[derive(Clone, Debug)]
pub struct Examinations {
    /// Offset and scale of the device, separated.
    pub level: Outcome<level::LevelDependence>,
    /// Whether it matters from which side a level is reached.
    pub hysteresis: Outcome<hysteresis::Hysteresis>,
    /// The same condition early, midway and late.
    pub anchors: Outcome<anchors::Anchors>,
    /// Dependence of the difference on cadence.
    pub cadence_dependence: Outcome<dependence::Dependence>,
    /// Dependence of the difference on flywheel speed.
    pub speed_dependence: Outcome<dependence::Dependence>,
    /// Drift of the difference while things get warm.
    pub warm_up: Outcome<warm_up::WarmUp>,
    /// Response to target changes.
    pub response: Outcome<response::Response>,
    /// Steadiness of held targets.
    pub stability: Outcome<stability::Stability>,
    /// What a change of cadence does to a held target.
    pub disturbance: Outcome<disturbance::Disturbance>,
    /// Delay and smoothing of what the device reports.
    pub smoothing: Outcome<smoothing::Smoothing>,
    /// Whether the device reports what it was told.
    pub echo: Outcome<echo::Echo>,
    /// Short hard efforts.
    pub bursts: Outcome<bursts::Bursts>,
    /// Rates of drop-outs.
    pub drop_outs: Outcome<drop_out_rates::DropOutRates>,
    /// Intervals between packets.
    pub radio: Outcome<radio::Radio>,
    /// Slope simulation.
    pub slope: Outcome<slope::Slope>,
    /// Whether the reported speed follows cadence and gear.
    pub virtual_speed: Outcome<virtual_speed::VirtualSpeed>,
    /// Spin-down and coast-down.
    pub coast_down: Outcome<coast_down::CoastDown>,
    /// Moving mass that the flywheel stands for.
    pub inertia: Outcome<inertia::Inertia>,
    /// Agreement of window means.
    pub agreement: Outcome<agreement::Agreement>,
    /// Work of the whole session.
    pub energy: Outcome<energy::Energy>,
    /// Best mean power per duration.
    pub best_means: Outcome<best_means::BestMeans>,
    /// Whether instruments agree within their uncertainty.
    pub consistency: Outcome<consistency::Consistency>,
    /// Own noise and bias of each of three instruments.
    pub apportioning: Outcome<apportioning::Apportioning>,
    /// Whether the reference itself held, and is independent of the device.
    pub assurance: Outcome<assurance::Assurance>,
}

/// Makes every examination of one session.
pub fn examine(given: &Given<'_>) -> Examinations {
    let given = &Prepared::new(*given);
    let echo = echo::echo(given);
    let echoes = echo
        .as_ref()
        .is_ok_and(|echo| echo.result.judgement == echo::EchoJudgement::Echoes);
    Examinations {
        level: level::level_dependence(given),
        hysteresis: hysteresis::hysteresis(given),
        anchors: anchors::anchors(given),
        cadence_dependence: dependence::dependence(given, dependence::Driver::Cadence),
        speed_dependence: dependence::dependence(given, dependence::Driver::FlywheelSpeed),
        warm_up: warm_up::warm_up(given),
        response: response::response(given),
        stability: stability::stability(given),
        disturbance: disturbance::disturbance(given),
        smoothing: unless(echoes, smoothing::NAME, given.smoothing().clone()),
        echo,
        bursts: bursts::bursts(given),
        drop_outs: drop_out_rates::drop_out_rates(given),
        radio: radio::radio(given),
        slope: slope::slope(given),
        virtual_speed: virtual_speed::virtual_speed(given),
        coast_down: coast_down::coast_down(given),
        inertia: unless(echoes, inertia::NAME, inertia::inertia(given)),
        agreement: agreement::agreement(given),
        energy: energy::energy(given),
        best_means: best_means::best_means(given),
        consistency: consistency::consistency(given),
        apportioning: apportioning::apportioning(given),
        assurance: assurance::assurance(given),
    }
}

impl Examinations {
    /// What was not tested, with the reason.
    pub fn not_tested(&self) -> Vec<&NotTested> {
        [
            self.level.as_ref().err(),
            self.hysteresis.as_ref().err(),
            self.anchors.as_ref().err(),
            self.cadence_dependence.as_ref().err(),
            self.speed_dependence.as_ref().err(),
            self.warm_up.as_ref().err(),
            self.response.as_ref().err(),
            self.stability.as_ref().err(),
            self.disturbance.as_ref().err(),
            self.smoothing.as_ref().err(),
            self.echo.as_ref().err(),
            self.bursts.as_ref().err(),
            self.drop_outs.as_ref().err(),
            self.radio.as_ref().err(),
            self.slope.as_ref().err(),
            self.virtual_speed.as_ref().err(),
            self.coast_down.as_ref().err(),
            self.inertia.as_ref().err(),
            self.agreement.as_ref().err(),
            self.energy.as_ref().err(),
            self.best_means.as_ref().err(),
            self.consistency.as_ref().err(),
            self.apportioning.as_ref().err(),
            self.assurance.as_ref().err(),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

/// What a device feels cannot be examined where it repeats what it was told.
fn unless<R>(echoes: bool, examination: &'static str, found: Outcome<R>) -> Outcome<R> {
    if echoes {
        return not_tested(
            examination,
            "the device repeats its target, so its word says nothing about this",
        );
    }
    found
}
