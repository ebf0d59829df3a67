//! What the device says it can do, and which steps of a plan ask for more.

use crate::load::Target;
use crate::plan::Plan;
use crate::step::{Load, PlannedStep, SlopePoint};
use std::fmt;
use units::Watts;

/// From the least to the most, both reachable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// The least.
    pub min: f64,
    /// The most.
    pub max: f64,
}

impl Interval {
    /// An interval, or `None` if the numbers are not finite or in the wrong order.
    pub fn new(min: f64, max: f64) -> Option<Self> {
        (min.is_finite() && max.is_finite() && min <= max).then_some(Self { min, max })
    }

    /// The nearest number inside.
    pub fn nearest(&self, value: f64) -> f64 {
        value.clamp(self.min, self.max)
    }

    /// Whether the number is inside.
    pub fn holds(&self, value: f64) -> bool {
        value >= self.min && value <= self.max
    }

    /// The distance between the ends.
    pub fn width(&self) -> f64 {
        self.max - self.min
    }
}

/// The ranges a device advertises. A missing range means the device does not offer that mode.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DeviceRange {
    /// Target power in watts.
    pub power_w: Option<Interval>,
    /// Resistance level, unitless.
    pub resistance: Option<Interval>,
    /// Grade in percent.
    pub grade_pct: Option<Interval>,
}

impl DeviceRange {
    /// A range that offers every mode widely; for planning without a device.
    pub const WIDE: Self = Self {
        power_w: Some(Interval {
            min: 0.0,
            max: 2000.0,
        }),
        resistance: Some(Interval {
            min: 0.0,
            max: 100.0,
        }),
        grade_pct: Some(Interval {
            min: -10.0,
            max: 20.0,
        }),
    };

    /// The same range with target power limited to what this rider wants to be asked for.
    pub fn with_ceiling(mut self, ceiling: Watts) -> Self {
        if let Some(power) = &mut self.power_w {
            power.max = power.max.min(ceiling.get());
            power.min = power.min.min(power.max);
        }
        self
    }

    /// The part of a target the device can do, or `None` if it does not offer the mode.
    pub fn cap(&self, target: Target) -> Option<Target> {
        match target {
            Target::Power(power) => self
                .power_w
                .map(|range| Target::Power(Watts(range.nearest(power.get())))),
            Target::Resistance(level) => self
                .resistance
                .map(|range| Target::Resistance(range.nearest(level))),
            Target::Slope(mut slope) => self.grade_pct.map(|range| {
                slope.grade_pct = range.nearest(slope.grade_pct);
                Target::Slope(slope)
            }),
            Target::Free => Some(Target::Free),
        }
    }
}

/// One step that asks for more, or less, than the device offers.
#[derive(Clone, Debug, PartialEq)]
pub struct Beyond {
    /// Position in the plan.
    pub index: usize,
    /// The step's title.
    pub title: String,
    /// What it asks for.
    pub asked: Target,
    /// The nearest the device can do; `None` if it does not offer the mode at all.
    pub nearest: Option<Target>,
}

impl fmt::Display for Beyond {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "step {} ({}) asks for {}",
            self.index + 1,
            self.title,
            self.asked
        )?;
        match self.nearest {
            Some(nearest) => write!(f, ", but the limit is {nearest}; cap it or change the step"),
            None => f.write_str(", but the device does not offer this mode; skip or change it"),
        }
    }
}

impl Plan {
    /// The steps that ask for what the range does not hold, in order; empty if all is well.
    pub fn check_against(&self, range: &DeviceRange) -> Vec<Beyond> {
        self.steps
            .iter()
            .filter_map(|step| beyond(step, range))
            .collect()
    }

    /// The same plan with every step brought into the range. Steps whose mode the device does not
    /// offer are left as they are: [`Plan::check_against`] still names them, and the runner rides
    /// them without load.
    pub fn capped(&self, range: &DeviceRange) -> Plan {
        let mut plan = self.clone();
        for step in &mut plan.steps {
            step.load = capped(&step.load, range);
        }
        plan
    }
}

fn beyond(step: &PlannedStep, range: &DeviceRange) -> Option<Beyond> {
    extremes(&step.load).into_iter().find_map(|asked| {
        let nearest = range.cap(asked);
        (nearest != Some(asked)).then(|| Beyond {
            index: step.index,
            title: step.title.clone(),
            asked,
            nearest,
        })
    })
}

/// The targets between which a step's load stays, the largest first.
fn extremes(load: &Load) -> Vec<Target> {
    match load {
        Load::Free => vec![],
        Load::Power { from, to } => {
            vec![Target::Power(from.max(*to)), Target::Power(from.min(*to))]
        }
        Load::Resistance(level) => vec![Target::Resistance(*level)],
        Load::Slope { base, points, .. } => {
            let grade =
                |pick: fn(f64, f64) -> f64| points.iter().map(|point| point.grade_pct).reduce(pick);
            [grade(f64::max), grade(f64::min)]
                .into_iter()
                .flatten()
                .map(|grade_pct| Target::Slope(crate::SlopeLoad { grade_pct, ..*base }))
                .collect()
        }
    }
}

fn capped(load: &Load, range: &DeviceRange) -> Load {
    match load {
        Load::Free => Load::Free,
        Load::Power { from, to } => match range.power_w {
            Some(power) => Load::Power {
                from: Watts(power.nearest(from.get())),
                to: Watts(power.nearest(to.get())),
            },
            None => load.clone(),
        },
        Load::Resistance(level) => Load::Resistance(
            range
                .resistance
                .map_or(*level, |range| range.nearest(*level)),
        ),
        Load::Slope {
            base,
            axis,
            shape,
            points,
        } => match range.grade_pct {
            Some(grade) => Load::Slope {
                base: *base,
                axis: *axis,
                shape: *shape,
                points: points
                    .iter()
                    .map(|point| SlopePoint {
                        at: point.at,
                        grade_pct: grade.nearest(point.grade_pct),
                    })
                    .collect(),
            },
            None => load.clone(),
        },
    }
}
