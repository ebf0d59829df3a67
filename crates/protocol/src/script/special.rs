//! Procedures, free riding and prompts.

use super::draft::{draft, easily, standing};
use super::fields::Fields;
use super::limits;
use super::syntax::{CoastDown, FreeRide, Prompt, SpinDown, ZeroOffset};
use crate::feeds::Feeds;
use crate::load::{Brake, Cue, Pedalling};
use crate::step::{Ending, Length, Load, PlannedStep, Procedure, StepKind, ZeroOf};
use units::{MetresPerSecond, RevPerMin, Span, Watts};

pub(super) fn coast_down<'a>(
    file: &CoastDown<'a>,
    fields: &mut Fields<'_, 'a>,
) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::SpinDown);
    let from = fields.need(file.from_kmh, "from_kmh", &limits::SPEED);
    let to = fields.maybe(file.to_kmh, "to_kmh", &limits::SPEED);
    let limit = fields.or(
        file.limit_seconds,
        "limit_seconds",
        &limits::LIMIT_SECONDS,
        180.0,
    );
    if let Some(to) = to
        && to >= from
    {
        let what = format!("`to_kmh` is {to} km/h, not below `from_kmh` {from} km/h; lower it");
        fields
            .reader
            .report(file.to_kmh.0.unwrap_or(fields.at), what);
    }
    let speed = MetresPerSecond::from_kilometres_per_hour(from);
    let title = fields.title(file.title);
    let place = fields.place();
    let spin_up = PlannedStep {
        title: format!("bring the flywheel to {from}\u{a0}km/h"),
        length: Length::Open {
            expected: Span::from_secs(20),
            limit: Span::from_secs(180),
        },
        ending: Ending::SpeedReached(speed),
        cue: Cue {
            speed: Some(speed),
            text: format!("pedal up to {from}\u{a0}km/h"),
            ..easily()
        },
        ..draft(place, StepKind::SpinUp, Load::Free, Span::ZERO)
    };
    let run_down = PlannedStep {
        title: if title.is_empty() {
            "coast down".to_owned()
        } else {
            title
        },
        length: Length::Open {
            expected: Span::from_secs(45),
            limit: Span::from_secs_f64(limit),
        },
        ending: Ending::SpeedBelow {
            speed: to.map_or(
                MetresPerSecond(0.5),
                MetresPerSecond::from_kilometres_per_hour,
            ),
            at_least: Span::ZERO,
        },
        feeds,
        cue: Cue {
            pedalling: Pedalling::Stop,
            text: "stop pedalling and wait; keep hands and clothes away from the flywheel"
                .to_owned(),
            ..easily()
        },
        ..draft(place, StepKind::CoastDown, Load::Free, Span::ZERO)
    };
    vec![spin_up, run_down]
}

pub(super) fn spin_down<'a>(file: &SpinDown<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::SpinDown);
    let limit = fields.or(
        file.limit_seconds,
        "limit_seconds",
        &limits::LIMIT_SECONDS,
        300.0,
    );
    let text = "follow the device: pedal up to its speed, then stop and let it run down";
    let cue = Cue {
        text: text.to_owned(),
        ..easily()
    };
    let ending = Ending::ProcedureDone(Procedure::SpinDown);
    let title = fields.title(file.title);
    let title = if title.is_empty() {
        "spin-down".to_owned()
    } else {
        title
    };
    vec![procedure(
        fields,
        StepKind::SpinDown,
        title,
        (60.0, limit),
        ending,
        feeds,
        cue,
    )]
}

pub(super) fn zero_offset<'a>(
    file: &ZeroOffset<'a>,
    fields: &mut Fields<'_, 'a>,
) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Nothing);
    let limit = fields.or(
        file.limit_seconds,
        "limit_seconds",
        &limits::LIMIT_SECONDS,
        300.0,
    );
    let whose = [
        ("UnderTest", ZeroOf::UnderTest),
        ("References", ZeroOf::References),
        ("All", ZeroOf::All),
    ];
    let of = fields
        .choice(file.of, "of", &whose)
        .unwrap_or(ZeroOf::References);
    let cue = Cue {
        pedalling: Pedalling::Stop,
        text: "unclip both feet and hold the cranks still, as the maker's instructions say"
            .to_owned(),
        ..easily()
    };
    let ending = Ending::ProcedureDone(Procedure::ZeroOffset(of));
    let title = fields.title(file.title);
    let title = if title.is_empty() {
        "zero offset".to_owned()
    } else {
        title
    };
    vec![procedure(
        fields,
        StepKind::ZeroOffset,
        title,
        (30.0, limit),
        ending,
        feeds,
        cue,
    )]
}

fn procedure(
    fields: &Fields<'_, '_>,
    kind: StepKind,
    title: String,
    (expected, limit): (f64, f64),
    ending: Ending,
    feeds: Feeds,
    cue: Cue,
) -> PlannedStep {
    let length = Length::Open {
        expected: Span::from_secs_f64(f64::min(expected, limit)),
        limit: Span::from_secs_f64(limit),
    };
    let step = draft(fields.place(), kind, Load::Free, Span::ZERO);
    PlannedStep {
        title,
        length,
        ending,
        feeds,
        cue,
        ..step
    }
}

pub(super) fn free_ride<'a>(file: &FreeRide<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Nothing);
    let seconds = fields.maybe(file.seconds, "seconds", &limits::SECONDS);
    let brake = fields.brake(file.brake).unwrap_or(Brake::Free);
    let length = match (seconds, file.seconds.0) {
        (None, None) => Length::Open {
            expected: Span::from_secs(1200),
            limit: Span::from_secs_f64(limits::SECONDS.max),
        },
        (seconds, _) => Length::Fixed(Span::from_secs_f64(seconds.unwrap_or(1.0))),
    };
    let cadence = fields.maybe(file.cadence_rpm, "cadence_rpm", &limits::CADENCE);
    let effort = fields
        .maybe(file.effort_w, "effort_w", &limits::POWER)
        .map(Watts);
    let cue = Cue {
        cadence: cadence.map(RevPerMin),
        effort,
        text: "ride as you like".to_owned(),
        ..easily()
    };
    let step = draft(
        fields.place(),
        StepKind::FreeRide,
        standing(brake),
        Span::ZERO,
    );
    let title = fields.title(file.title);
    let title = if title.is_empty() {
        "free ride".to_owned()
    } else {
        title
    };
    vec![PlannedStep {
        title,
        length,
        feeds,
        cue,
        ..step
    }]
}

pub(super) fn prompt<'a>(file: &Prompt<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Nothing);
    let text = fields.need_text(file.text, "text", limits::LONGEST_TEXT);
    let answers = [
        ("Acknowledge", Ending::Acknowledged),
        ("Pedal", Ending::PedallingResumes),
    ];
    let ending = fields
        .choice(file.answer, "answer", &answers)
        .unwrap_or(Ending::PedallingResumes);
    let limit = fields.or(
        file.limit_seconds,
        "limit_seconds",
        &limits::LIMIT_SECONDS,
        1800.0,
    );
    let length = Length::Open {
        expected: Span::from_secs_f64(f64::min(20.0, limit)),
        limit: Span::from_secs_f64(limit),
    };
    let pedalling = if ending == Ending::PedallingResumes {
        Pedalling::Stop
    } else {
        Pedalling::Easily
    };
    let cue = Cue {
        pedalling,
        text,
        ..easily()
    };
    let step = draft(fields.place(), StepKind::Prompt, Load::Free, Span::ZERO);
    let title = fields.title(file.title);
    let title = if title.is_empty() {
        "prompt".to_owned()
    } else {
        title
    };
    vec![PlannedStep {
        title,
        length,
        ending,
        feeds,
        cue,
        ..step
    }]
}
