//! Simulated slopes and resistance levels.

use super::draft::{constant_slope, draft, evenly};
use super::fields::Fields;
use super::limits;
use super::raw::Raw;
use super::syntax::{Resistance, SlopeProgram, SlopeSteps};
use crate::feeds::Feeds;
use crate::load::{Cue, SlopeLoad};
use crate::step::{
    Ending, Length, Load, PlannedStep, ProgramAxis, ProgramShape, SlopePoint, StepKind,
};
use units::{MetresPerSecond, Span, Watts};

/// The speed assumed for totals of a program by distance: 25 km/h.
const ASSUMED_M_PER_S: f64 = 25.0 / 3.6;

pub(super) fn program<'a>(
    file: &SlopeProgram<'a>,
    fields: &mut Fields<'_, 'a>,
) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Slope);
    let axes = [
        ("Time", ProgramAxis::Seconds),
        ("Distance", ProgramAxis::Metres),
    ];
    let axis = fields
        .choice(file.by, "by", &axes)
        .unwrap_or(ProgramAxis::Seconds);
    let shapes = [
        ("Stepped", ProgramShape::Stepped),
        ("Linear", ProgramShape::Linear),
    ];
    let shape = fields
        .choice(file.shape, "shape", &shapes)
        .unwrap_or(ProgramShape::Stepped);
    let base = fields.slope(file.wind_m_per_s, file.crr, file.cw_kg_per_m);
    let points = points(file.points, axis, fields);
    let end = points.last().map_or(1.0, |point| point.at).max(1.0);
    let expected = match axis {
        ProgramAxis::Seconds => end,
        ProgramAxis::Metres => end / ASSUMED_M_PER_S,
    };
    let limit = fields.or(
        file.limit_seconds,
        "limit_seconds",
        &limits::LIMIT_SECONDS,
        3.0 * expected,
    );
    let cadence = fields.maybe(file.cadence_rpm, "cadence_rpm", &limits::CADENCE);
    let effort = fields
        .maybe(file.effort_w, "effort_w", &limits::POWER)
        .map(Watts);
    let gear = fields.gear(file.gear, "gear");
    let cue = Cue {
        cadence: cadence.map(units::RevPerMin),
        effort,
        ..evenly(fields.reader.cadence, gear)
    };
    let expected = Span::from_secs_f64(expected);
    let (length, ending) = match axis {
        ProgramAxis::Seconds => (Length::Fixed(expected), Ending::Time),
        ProgramAxis::Metres => {
            let limit = Span::from_secs_f64(limit);
            let expected = if expected > limit { limit } else { expected };
            (
                Length::Open { expected, limit },
                Ending::Distance { metres: end },
            )
        }
    };
    let load = Load::Slope {
        base,
        axis,
        shape,
        points,
    };
    let step = draft(fields.place(), StepKind::Slope, load, expected);
    vec![PlannedStep {
        title: fields.title(file.title),
        length,
        ending,
        feeds,
        cue,
        ..step
    }]
}

/// The points of a program: the first at 0, the positions strictly rising.
fn points<'a>(raw: Raw<'a>, axis: ProgramAxis, fields: &mut Fields<'_, 'a>) -> Vec<SlopePoint> {
    let Some(part) = raw.0 else {
        let what = "`SlopeProgram` needs `points`; add for example `points: [(0, 0.0), (60, 4.0)]`";
        fields.reader.report(fields.at, what.to_owned());
        return Vec::new();
    };
    let bound = match axis {
        ProgramAxis::Seconds => limits::POINT_SECONDS,
        ProgramAxis::Metres => limits::POINT_METRES,
    };
    let pairs: Vec<(Raw<'a>, Raw<'a>)> = fields.reader.parse(part).unwrap_or_default();
    let mut points: Vec<SlopePoint> = Vec::new();
    for (at, grade) in pairs {
        let place = at.0.unwrap_or(part);
        let (Some(at), Some(grade_pct)) = (
            fields.maybe(at, "points", &bound),
            fields.maybe(grade, "points", &limits::GRADE),
        ) else {
            continue;
        };
        match points.last() {
            None if at != 0.0 => {
                let what = format!("the first point is at {at}; a program begins at 0");
                fields.reader.report(place, what);
            }
            Some(last) if at <= last.at => {
                let what = format!(
                    "the point at {at} does not come after the one at {}; put them in order",
                    last.at
                );
                fields.reader.report(place, what);
            }
            _ => {}
        }
        points.push(SlopePoint { at, grade_pct });
    }
    if points.len() < 2 && fields.reader.problems.is_empty() {
        let what = "a slope program needs at least two points, the last of which is its end";
        fields.reader.report(part, what.to_owned());
    }
    points
}

pub(super) fn steps<'a>(file: &SlopeSteps<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Slope);
    let base = fields.slope(file.wind_m_per_s, file.crr, file.cw_kg_per_m);
    let (length, settle) = fields.length(file.seconds, file.settle_seconds, feeds);
    let speed = fields.maybe(file.speed_kmh, "speed_kmh", &limits::SPEED);
    let effort = fields
        .maybe(file.effort_w, "effort_w", &limits::POWER)
        .map(Watts);
    let cadence = fields.cadence(file.cadence_rpm);
    let gear = fields.gear(file.gear, "gear");
    let cue = Cue {
        speed: speed.map(MetresPerSecond::from_kilometres_per_hour),
        effort,
        ..evenly(cadence, gear)
    };
    let title = fields.title(file.title);
    let place = fields.place();
    let grades = fields.list(file.grades_pct, "grades_pct", &limits::GRADE, 1);
    let step = |grade_pct: f64| PlannedStep {
        title: if title.is_empty() {
            String::new()
        } else {
            format!("{title}, {grade_pct}\u{a0}%")
        },
        settle,
        feeds,
        cue: cue.clone(),
        ..draft(
            place,
            StepKind::Slope,
            constant_slope(SlopeLoad { grade_pct, ..base }),
            length,
        )
    };
    grades.into_iter().map(step).collect()
}

pub(super) fn resistance<'a>(
    file: &Resistance<'a>,
    fields: &mut Fields<'_, 'a>,
) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Steady);
    let level = fields.need(file.level, "level", &limits::RESISTANCE);
    let (length, settle) = fields.length(file.seconds, file.settle_seconds, feeds);
    let effort = fields
        .maybe(file.effort_w, "effort_w", &limits::POWER)
        .map(Watts);
    let cadence = fields.cadence(file.cadence_rpm);
    let gear = fields.gear(file.gear, "gear");
    let cue = Cue {
        effort,
        ..evenly(cadence, gear)
    };
    let step = draft(
        fields.place(),
        StepKind::Resistance,
        Load::Resistance(level),
        length,
    );
    vec![PlannedStep {
        title: fields.title(file.title),
        settle,
        feeds,
        cue,
        ..step
    }]
}
