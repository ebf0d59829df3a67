//! One power at several flywheel speeds, or at several cadences.

use super::draft::{constant, draft, evenly};
use super::fields::Fields;
use super::limits;
use super::syntax::{CadenceLadder, FlywheelLadder};
use crate::feeds::Feeds;
use crate::load::{Cue, GearCue, Pedalling};
use crate::step::{Ending, Length, PlannedStep, StepKind};
use units::{MetresPerSecond, RevPerMin, Span, Watts};

/// What the brake holds while the rider changes gear, unless the script says otherwise.
const USUAL_CHANGE_W: f64 = 100.0;

pub(super) fn flywheel<'a>(
    file: &FlywheelLadder<'a>,
    fields: &mut Fields<'_, 'a>,
) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::FlywheelSpeed);
    let power = fields.power(file.power_w, "power_w");
    let cadence = fields.cadence(file.cadence_rpm);
    let (length, settle) = fields.length(file.seconds, file.settle_seconds, feeds);
    let change = fields.or(
        file.change_w,
        "change_w",
        &limits::EASY_POWER,
        USUAL_CHANGE_W,
    );
    let limit = fields.or(
        file.change_limit_seconds,
        "change_limit_seconds",
        &limits::LIMIT_SECONDS,
        90.0,
    );
    let title = fields.title(file.title);
    let place = fields.place();

    let mut steps = Vec::new();
    let mut previous_m = None;
    for gear in gears(file, fields, cadence) {
        let speed = MetresPerSecond(gear.development_m * cadence.get() / 60.0);
        let kmh = speed.to_kilometres_per_hour();
        let cue = Cue {
            speed: Some(speed),
            ..evenly(cadence, Some(gear))
        };
        let ready = Watts(change).min(power);
        steps.push(PlannedStep {
            title: format!("change gear to {gear}"),
            length: Length::Open {
                expected: Span::from_secs(20),
                limit: Span::from_secs_f64(limit),
            },
            ending: Ending::GearSeen { previous_m },
            cue: Cue {
                pedalling: Pedalling::Easily,
                text: format!("change to {gear}: {kmh:.0}\u{a0}km/h at {cadence:.0}"),
                ..cue.clone()
            },
            ..draft(place, StepKind::GearChange, constant(ready), Span::ZERO)
        });
        steps.push(PlannedStep {
            title: if title.is_empty() {
                String::new()
            } else {
                format!("{title}, {kmh:.0}\u{a0}km/h")
            },
            settle,
            feeds,
            cue,
            ..draft(place, StepKind::FlywheelRung, constant(power), length)
        });
        previous_m = Some(gear.development_m);
    }
    steps
}

/// The gears of the rungs: named by their teeth, or by the speed they give at the cadence.
fn gears<'a>(
    file: &FlywheelLadder<'a>,
    fields: &mut Fields<'_, 'a>,
    cadence: RevPerMin,
) -> Vec<GearCue> {
    match (file.speeds_kmh.0, file.gears.0) {
        (Some(_), None) => fields
            .list(file.speeds_kmh, "speeds_kmh", &limits::SPEED, 2)
            .into_iter()
            .map(|kmh| {
                let speed = MetresPerSecond::from_kilometres_per_hour(kmh);
                GearCue {
                    teeth: None,
                    development_m: speed.get() * 60.0 / cadence.get(),
                }
            })
            .collect(),
        (None, Some(part)) => {
            let items = fields.reader.parse::<Vec<_>>(part).unwrap_or_default();
            items
                .into_iter()
                .filter_map(|item| fields.gear(item, "gears"))
                .collect()
        }
        (Some(part), Some(_)) => {
            let what = "`speeds_kmh` and `gears` exclude each other; keep one".to_owned();
            fields.reader.report(part, what);
            Vec::new()
        }
        (None, None) => {
            let what = "`FlywheelLadder` needs rungs; add `speeds_kmh: [14, 26, 40]` or \
                        `gears: [\"34x28\", \"39x17\"]`";
            fields.reader.report(fields.at, what.to_owned());
            Vec::new()
        }
    }
}

pub(super) fn cadence<'a>(
    file: &CadenceLadder<'a>,
    fields: &mut Fields<'_, 'a>,
) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Cadence);
    let power = fields.power(file.power_w, "power_w");
    let (length, settle) = fields.length(file.seconds, file.settle_seconds, feeds);
    let gear = fields.gear(file.gear, "gear");
    let cadences = fields.list(file.cadences_rpm, "cadences_rpm", &limits::CADENCE, 2);
    let title = fields.title(file.title);
    let place = fields.place();
    let rung = |rpm: f64| PlannedStep {
        title: if title.is_empty() {
            String::new()
        } else {
            format!("{title}, {rpm}\u{a0}rpm")
        },
        settle,
        feeds,
        cue: evenly(RevPerMin(rpm), gear),
        ..draft(place, StepKind::CadenceRung, constant(power), length)
    };
    cadences.into_iter().map(rung).collect()
}
