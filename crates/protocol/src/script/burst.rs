//! Short hard efforts, in resistance or slope mode only, each with a rest gate.

use super::draft::{constant, draft, easily, standing};
use super::fields::Fields;
use super::limits;
use super::syntax::Burst;
use crate::feeds::Feeds;
use crate::load::{Brake, Cue, Pedalling};
use crate::step::{Ending, Length, PlannedStep, StepKind};
use units::{MetresPerSecond, Span, Watts};

/// How much longer than planned a rest may take until power has come down.
const MOST_EXTRA_REST: Span = Span::from_secs(300);
/// How long the flywheel may take to stand still before a standing start.
const MOST_EXTRA_READY: Span = Span::from_secs(90);
/// What counts as standing still.
const STANDSTILL: MetresPerSecond = MetresPerSecond(0.5);

pub(super) fn burst<'a>(file: &Burst<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Burst);
    if file.brake.0.is_none() {
        let what = "`Burst` needs `brake`; add for example `brake: Slope(3)`".to_owned();
        fields.reader.report(fields.at, what);
    }
    let brake = fields.brake(file.brake).unwrap_or(Brake::Free);
    let from_standstill = fields
        .choice(
            file.start,
            "start",
            &[("Rolling", false), ("Standing", true)],
        )
        .unwrap_or(false);
    let seconds = fields.need(file.seconds, "seconds", &limits::BURST_SECONDS);
    let times = fields.count(file.times, "times", &limits::TIMES);
    let ready = fields.or(
        file.ready_seconds,
        "ready_seconds",
        &limits::BURST_READY,
        15.0,
    );
    let rest = fields.or(
        file.rest_seconds,
        "rest_seconds",
        &limits::REST_SECONDS,
        150.0,
    );
    let resting = Watts(fields.or(file.rest_w, "rest_w", &limits::EASY_POWER, 80.0));
    let effort = fields
        .maybe(file.effort_w, "effort_w", &limits::POWER)
        .map(Watts);
    let gear = fields.gear(file.gear, "gear");
    let title = fields.title(file.title);
    let name = if title.is_empty() {
        "burst".to_owned()
    } else {
        title
    };
    let place = fields.place();
    let (ready, rest) = (Span::from_secs_f64(ready), Span::from_secs_f64(rest));

    let get_ready = PlannedStep {
        title: format!("{name}: get ready"),
        length: if from_standstill {
            Length::Open {
                expected: ready,
                limit: ready + MOST_EXTRA_READY,
            }
        } else {
            Length::Fixed(ready)
        },
        ending: if from_standstill {
            Ending::SpeedBelow {
                speed: STANDSTILL,
                at_least: ready,
            }
        } else {
            Ending::Time
        },
        cue: Cue {
            pedalling: if from_standstill {
                Pedalling::Stop
            } else {
                Pedalling::Easily
            },
            gear,
            text: if from_standstill {
                "stop pedalling and let the flywheel come to rest".to_owned()
            } else {
                "roll easily; the effort comes next".to_owned()
            },
            ..easily()
        },
        ..draft(place, StepKind::BurstReady, standing(brake), ready)
    };
    let go = PlannedStep {
        title: name.clone(),
        feeds,
        cue: Cue {
            pedalling: if from_standstill {
                Pedalling::AllOutFromStandstill
            } else {
                Pedalling::AllOut
            },
            gear,
            effort,
            text: format!("as hard as you can for {seconds}\u{a0}s"),
            ..easily()
        },
        ..draft(
            place,
            StepKind::Burst,
            standing(brake),
            Span::from_secs_f64(seconds),
        )
    };
    let recover = PlannedStep {
        title: format!("{name}: rest"),
        length: Length::Open {
            expected: rest,
            limit: rest + MOST_EXTRA_REST,
        },
        ending: Ending::Rested {
            at_least: rest,
            resting,
        },
        cue: Cue {
            text: "keep the legs turning, easily".to_owned(),
            ..easily()
        },
        ..draft(place, StepKind::BurstRest, constant(resting), rest)
    };
    fields
        .reader
        .multiplied(&[get_ready, go, recover], times, fields.at)
}
