//! Making one planned step, and saying in words what the rider is asked for.

use super::place::Place;
use crate::feeds::Feeds;
use crate::load::{Brake, Cue, GearCue, Pedalling, SlopeLoad};
use crate::step::{
    Ending, Length, Load, PlannedStep, ProgramAxis, ProgramShape, SlopePoint, StepKind,
};
use std::fmt::Write;
use units::{RevPerMin, Span, Watts};

/// A step that ends by time, feeds nothing and asks for easy pedalling; the caller changes the rest.
pub(super) fn draft(place: Place, kind: StepKind, load: Load, length: Span) -> PlannedStep {
    PlannedStep {
        index: 0,
        title: String::new(),
        kind,
        load,
        length: Length::Fixed(length),
        ending: Ending::Time,
        settle: Span::ZERO,
        feeds: Feeds::Nothing,
        cue: easily(),
        place,
    }
}

/// Easy pedalling, nothing asked for.
pub(super) fn easily() -> Cue {
    Cue {
        pedalling: Pedalling::Easily,
        cadence: None,
        gear: None,
        speed: None,
        effort: None,
        text: String::new(),
    }
}

/// Even pedalling at a cadence, in a gear if one is asked for.
pub(super) fn evenly(cadence: RevPerMin, gear: Option<GearCue>) -> Cue {
    Cue {
        pedalling: Pedalling::Evenly,
        cadence: Some(cadence),
        gear,
        ..easily()
    }
}

/// The same power from beginning to end.
pub(super) fn constant(power: Watts) -> Load {
    Load::Power {
        from: power,
        to: power,
    }
}

/// The load of a brake that does not follow the clock.
pub(super) fn standing(brake: Brake) -> Load {
    match brake {
        Brake::Free => Load::Free,
        Brake::Resistance(level) => Load::Resistance(level),
        Brake::Slope(slope) => constant_slope(slope),
    }
}

/// The same grade from beginning to end.
pub(super) fn constant_slope(slope: SlopeLoad) -> Load {
    Load::Slope {
        base: slope,
        axis: ProgramAxis::Seconds,
        shape: ProgramShape::Stepped,
        points: vec![SlopePoint {
            at: 0.0,
            grade_pct: slope.grade_pct,
        }],
    }
}

/// Completes the words of a step where nobody wrote any.
pub(super) fn put_into_words(step: &mut PlannedStep) {
    if step.cue.text.is_empty() {
        step.cue.text = words(step);
    }
    if step.title.is_empty() {
        step.title = step.cue.text.clone();
    }
}

fn words(step: &PlannedStep) -> String {
    let mut text = match &step.load {
        Load::Free => "no load".to_owned(),
        Load::Power { from, to } if from == to => format!("{from:.0}"),
        Load::Power { from, to } => format!("{from:.0} to {to:.0}"),
        Load::Resistance(level) => format!("resistance {level}"),
        Load::Slope { points, .. } => match points.as_slice() {
            [only] => format!("slope {}\u{a0}%", only.grade_pct),
            _ => "changing slope".to_owned(),
        },
    };
    let cue = &step.cue;
    // Writing to a String cannot fail.
    if let Some(cadence) = cue.cadence {
        let _ = write!(text, " at {cadence:.0}");
    }
    if let Some(gear) = cue.gear {
        let _ = write!(text, " in {gear}");
    }
    if let Some(speed) = cue.speed {
        let _ = write!(text, ", {:.0}\u{a0}km/h", speed.to_kilometres_per_hour());
    }
    if let Some(effort) = cue.effort {
        let _ = write!(text, ", aim at {effort:.0}");
    }
    text
}
