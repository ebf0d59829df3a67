//! What was ridden at each commanded grade: force and speed once settled, and how long the force took
//! to get there.

use crate::evidence::{Feeds, Load};
use crate::examinations::bins::Paired;
use crate::examinations::integral::{Integral, secs};
use crate::examinations::prepared::Prepared;
use crate::outcome::{Estimate, NotTested};
use crate::stats::order::exceeds;
use crate::stats::step_shape::StepResponse;
use crate::stats::two_samples::Summary;

/// Time after a command that is left to settle, and the shortest stretch after that, s.
const SETTLE_S: f64 = 8.0;
const LEAST_S: f64 = 10.0;
/// Slowest speed at which force is power over speed, m/s.
const LEAST_SPEED: f64 = 1.0;

/// One steady stretch at one grade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlopePoint {
    /// Commanded grade, %.
    pub grade_pct: f64,
    /// Speed, m/s.
    pub speed_m_per_s: f64,
    /// Force at the road, flywheel energy taken out, N.
    pub force_n: f64,
    /// Its standard uncertainty, N.
    pub u_n: f64,
    /// Whether the point lies beyond the ceiling and was left out of the fit.
    pub beyond_ceiling: bool,
}

/// One command with what it asked for.
#[derive(Clone, Copy)]
pub(super) struct Commanded {
    pub(super) from_s: f64,
    pub(super) to_s: f64,
    pub(super) grade_pct: f64,
    pub(super) wind_m_per_s: f64,
    pub(super) crr: f64,
    pub(super) cw_kg_per_m: f64,
}

/// Slope commands in steps ridden for them, each until the next command or the end of the step.
pub(super) fn commands(given: &Prepared<'_>) -> Vec<Commanded> {
    let all = &given.evidence.commands;
    let spans: Vec<[f64; 2]> = given
        .steps(Feeds::Slope)
        .map(|(_, step)| [secs(step.from), secs(step.to)])
        .collect();
    let end_of_recording = secs(given.evidence.end);
    let mut found: Vec<Commanded> = Vec::new();
    for (index, command) in all.iter().enumerate() {
        let Load::Slope {
            grade_pct,
            wind_m_per_s,
            crr,
            cw_kg_per_m,
        } = command.load
        else {
            continue;
        };
        let from_s = secs(command.at);
        let next_s = all
            .get(index + 1)
            .map_or(end_of_recording, |next| secs(next.at));
        let step = spans
            .iter()
            .find(|span| span[0] - 1.0 <= from_s && from_s < span[1]);
        let to_s = match step {
            Some(span) => next_s.min(span[1]),
            None if given.evidence.steps.is_empty() => next_s,
            None => continue,
        };
        if let Some(last) = found.last_mut()
            && last.grade_pct == grade_pct
            && (last.to_s - from_s).abs() < 1e-6
        {
            last.to_s = to_s;
            continue;
        }
        found.push(Commanded {
            from_s,
            to_s,
            grade_pct,
            wind_m_per_s,
            crr,
            cw_kg_per_m,
        });
    }
    found
}

/// Power at the hub by the reference, and speed.
pub(super) struct Bench<'p> {
    paired: Paired<'p>,
    speed_kmh: &'p Integral,
    efficiency: Estimate,
    stored_kg: f64,
}

impl<'p> Bench<'p> {
    pub(super) fn new(given: &'p Prepared<'_>, name: &'static str) -> Result<Self, NotTested> {
        let paired = Paired::new(given, name)?;
        let (under_test, reference) = (given.under_test(name)?, given.reference(name)?);
        let Some(speed_kmh) = given.speed() else {
            return Err(NotTested {
                examination: name,
                reason: "no speed was received; use a device that reports it or add a speed \
                         sensor"
                    .into(),
            });
        };
        Ok(Self {
            paired,
            speed_kmh,
            efficiency: given.efficiency_between(reference.stream.place, under_test.stream.place),
            stored_kg: given.bench.flywheel.map_or(0.0, |f| f.equivalent_mass_kg()),
        })
    }

    fn speed(&self, from_s: f64, to_s: f64) -> Option<f64> {
        Some(self.speed_kmh.mean(from_s, to_s, 0.8)? / 3.6)
    }

    pub(super) fn point(&self, command: &Commanded) -> Option<SlopePoint> {
        let (from_s, to_s) = (command.from_s + SETTLE_S, command.to_s);
        if to_s - from_s < LEAST_S {
            return None;
        }
        let forces: Vec<f64> = self
            .paired
            .bins(from_s, to_s, 2.0)
            .iter()
            .filter_map(|bin| {
                let speed = self.speed(bin.from_s, bin.to_s)?;
                (speed > LEAST_SPEED).then(|| self.efficiency.value * bin.reference_w / speed)
            })
            .collect();
        let summary = Summary::of(&forces)?;
        let speed_m_per_s = self.speed(from_s, to_s)?;
        // What went into or came out of the flywheel between the two ends.
        let ends = [
            self.speed(from_s - 1.0, from_s + 1.0)?,
            self.speed(to_s - 2.0, to_s)?,
        ];
        let acceleration = (ends[1] - ends[0]) / (to_s - from_s);
        let force_n = summary.mean - self.stored_kg * acceleration;
        let scatter = summary.variance / summary.n * 2.0;
        let drivetrain = summary.mean * self.efficiency.u / self.efficiency.value;
        Some(SlopePoint {
            grade_pct: command.grade_pct,
            speed_m_per_s,
            force_n,
            // Without a stated flywheel its share stays unknown; ten kilograms are plausible.
            u_n: (scatter + drivetrain * drivetrain + (10.0 * acceleration).powi(2))
                .sqrt()
                .max(0.05),
            beyond_ceiling: false,
        })
    }

    /// Time to 63 % of the change of force, over all changes of grade.
    pub(super) fn response(&self, commands: &[Commanded]) -> Option<Estimate> {
        let times: Vec<f64> = commands
            .windows(2)
            .filter(|pair| {
                (pair[1].grade_pct - pair[0].grade_pct).abs() >= 1.0
                    && (pair[0].to_s - pair[1].from_s).abs() < 0.5
                    && pair[1].to_s - pair[1].from_s >= 20.0
                    && pair[0].to_s - pair[0].from_s >= 10.0
            })
            .filter_map(|pair| self.time_of_change(pair[1].from_s))
            .collect();
        let s = Summary::of(&times)?;
        Some(Estimate {
            value: s.mean,
            u: (s.variance / s.n).sqrt(),
            dof: s.n - 1.0,
        })
    }

    fn time_of_change(&self, at_s: f64) -> Option<f64> {
        let force = |from_s: f64, to_s: f64| {
            let speed = self
                .speed(from_s, to_s)
                .filter(|speed| *speed > LEAST_SPEED)?;
            Some(self.paired.reference.mean(from_s, to_s, 0.8)? / speed)
        };
        let before = force(at_s - 8.0, at_s)?;
        let after = force(at_s + 12.0, at_s + 20.0)?;
        if !exceeds((after - before).abs(), 3.0) {
            return None;
        }
        let t: Vec<f64> = (0..40).map(|i| 0.5 * f64::from(i)).collect();
        let y: Vec<f64> = t
            .iter()
            .map(|t| {
                let now = force(at_s + t - 1.0, at_s + t + 1.0)?;
                Some((now - before) / (after - before))
            })
            .collect::<Option<_>>()?;
        StepResponse { t: &t, y: &y }.crossing(1.0 - (-1f64).exp())
    }
}
