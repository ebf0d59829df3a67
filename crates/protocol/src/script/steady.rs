//! Steps in power mode: hold, ramp, staircase, alternation, hold until, rest, cool-down.

use super::draft::{constant, draft, easily, evenly};
use super::fields::Fields;
use super::limits;
use super::raw::Raw;
use super::syntax::{Alternate, CoolDown, Hold, HoldUntil, Ramp, Rest, Staircase};
use crate::feeds::Feeds;
use crate::load::Cue;
use crate::step::{Ending, Length, Load, PlannedStep, StepKind};
use units::{Span, Watts};

pub(super) fn hold<'a>(file: &Hold<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Steady);
    let power = fields.power(file.power_w, "power_w");
    let (length, settle) = fields.length(file.seconds, file.settle_seconds, feeds);
    let cue = cue(fields, file.cadence_rpm, file.gear);
    let step = draft(fields.place(), StepKind::Hold, constant(power), length);
    vec![PlannedStep {
        title: fields.title(file.title),
        settle,
        feeds,
        cue,
        ..step
    }]
}

pub(super) fn ramp<'a>(file: &Ramp<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Nothing);
    let from = fields.power(file.from_w, "from_w");
    let to = fields.power(file.to_w, "to_w");
    let (length, settle) = fields.length(file.seconds, file.settle_seconds, feeds);
    let cue = cue(fields, file.cadence_rpm, file.gear);
    let step = draft(
        fields.place(),
        StepKind::Ramp,
        Load::Power { from, to },
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

#[derive(Clone, Copy, PartialEq)]
enum Order {
    Up,
    Down,
    UpDown,
    DownUp,
}

pub(super) fn staircase<'a>(file: &Staircase<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Steady);
    let ends = (
        fields.power(file.from_w, "from_w"),
        fields.power(file.to_w, "to_w"),
    );
    let (low, high) = (ends.0.min(ends.1), ends.0.max(ends.1));
    let levels = fields.count(file.levels, "levels", &limits::LEVELS);
    let orders = [
        ("Up", Order::Up),
        ("Down", Order::Down),
        ("UpDown", Order::UpDown),
        ("DownUp", Order::DownUp),
    ];
    // Without a word, from the first number to the second.
    let usual = if ends.0 <= ends.1 {
        Order::Up
    } else {
        Order::Down
    };
    let order = fields.choice(file.order, "order", &orders).unwrap_or(usual);
    let (length, settle) = fields.length(file.seconds, file.settle_seconds, feeds);
    let cue = cue(fields, file.cadence_rpm, file.gear);

    let last = levels.saturating_sub(1).max(1);
    let level = |tread: usize| {
        Watts(
            (low + (high - low) * (tread as f64 / last as f64))
                .get()
                .round(),
        )
    };
    let up = (0..levels).map(level);
    let down = (0..levels).rev().map(level);
    let powers: Vec<Watts> = match order {
        Order::Up => up.collect(),
        Order::Down => down.collect(),
        Order::UpDown => up.chain(down.skip(1)).collect(),
        Order::DownUp => down.chain(up.skip(1)).collect(),
    };
    let title = fields.title(file.title);
    powers
        .into_iter()
        .map(|power| PlannedStep {
            title: numbered(&title, power),
            settle,
            feeds,
            cue: cue.clone(),
            ..draft(fields.place(), StepKind::Stair, constant(power), length)
        })
        .collect()
}

pub(super) fn alternate<'a>(file: &Alternate<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Response);
    let levels = fields.list(file.levels_w, "levels_w", &limits::POWER, 2);
    for level in &levels {
        fields.under_ceiling(file.levels_w, "levels_w", *level);
    }
    let seconds = match (file.seconds.0, file.seconds_each.0) {
        (Some(part), Some(_)) => {
            let what = "`seconds` and `seconds_each` exclude each other; keep one".to_owned();
            fields.reader.report(part, what);
            Vec::new()
        }
        (_, Some(part)) => {
            let each = fields.list(file.seconds_each, "seconds_each", &limits::SECONDS, 2);
            if each.len() != levels.len() && !each.is_empty() && !levels.is_empty() {
                let what = format!(
                    "`seconds_each` holds {} values for {} levels; give one for each level",
                    each.len(),
                    levels.len()
                );
                fields.reader.report(part, what);
            }
            each
        }
        _ => {
            let seconds = fields.need(file.seconds, "seconds", &limits::SECONDS);
            vec![seconds; levels.len()]
        }
    };
    let shortest = seconds
        .iter()
        .copied()
        .reduce(f64::min)
        .unwrap_or(f64::INFINITY);
    let settle = fields.settle(file.seconds, file.settle_seconds, shortest, feeds);
    let times = fields.count(file.times, "times", &limits::TIMES);
    let cue = cue(fields, file.cadence_rpm, file.gear);
    let title = fields.title(file.title);
    let place = fields.place();
    let round = levels
        .iter()
        .zip(&seconds)
        .map(|(level, seconds)| PlannedStep {
            title: numbered(&title, Watts(*level)),
            settle,
            feeds,
            cue: cue.clone(),
            ..draft(
                place,
                StepKind::Alternate,
                constant(Watts(*level)),
                Span::from_secs_f64(*seconds),
            )
        });
    let round: Vec<PlannedStep> = round.collect();
    fields.reader.multiplied(&round, times, fields.at)
}

pub(super) fn hold_until<'a>(
    file: &HoldUntil<'a>,
    fields: &mut Fields<'_, 'a>,
) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Steady);
    let power = fields.power(file.power_w, "power_w");
    let limit = fields.need(file.limit_seconds, "limit_seconds", &limits::LIMIT_SECONDS);
    let settle = fields.settle(
        file.limit_seconds,
        file.settle_seconds,
        f64::INFINITY,
        feeds,
    );
    let steady = fields.or(
        file.steady_seconds,
        "steady_seconds",
        &limits::SECONDS,
        30.0,
    );
    let at_least = fields.or(
        file.at_least_seconds,
        "at_least_seconds",
        &limits::SECONDS,
        60.0,
    );
    let until = [("Steady", false), ("Decided", true)];
    if file.until.0.is_none() {
        fields.reader.report(
            fields.at,
            "`HoldUntil` needs `until`; add `until: Steady` or `until: Decided`".to_owned(),
        );
    }
    let decided = fields.choice(file.until, "until", &until).unwrap_or(false);
    let wanted = if decided { at_least } else { steady };
    if wanted > limit {
        let what = format!(
            "`limit_seconds` is {limit} s, but the step needs at least {wanted} s; raise the limit"
        );
        fields
            .reader
            .report(file.limit_seconds.0.unwrap_or(fields.at), what);
    }
    let ending = if decided {
        Ending::Decided {
            at_least: Span::from_secs_f64(at_least),
        }
    } else {
        Ending::SteadyFor(Span::from_secs_f64(steady))
    };
    let cue = cue(fields, file.cadence_rpm, file.gear);
    let limit = Span::from_secs_f64(limit);
    let step = draft(fields.place(), StepKind::Hold, constant(power), limit);
    vec![PlannedStep {
        title: fields.title(file.title),
        length: Length::Open {
            expected: limit,
            limit,
        },
        ending,
        settle,
        feeds,
        cue,
        ..step
    }]
}

pub(super) fn rest<'a>(file: &Rest<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Nothing);
    let seconds = fields.need(file.seconds, "seconds", &limits::SECONDS);
    let power = fields.maybe(file.power_w, "power_w", &limits::EASY_POWER);
    let load = power.map_or(Load::Free, |power| constant(Watts(power)));
    let step = draft(
        fields.place(),
        StepKind::Rest,
        load,
        Span::from_secs_f64(seconds),
    );
    let text = power.map_or("rest".to_owned(), |power| format!("rest at {power}\u{a0}W"));
    let cue = Cue { text, ..easily() };
    vec![PlannedStep {
        title: fields.title(file.title),
        feeds,
        cue,
        ..step
    }]
}

pub(super) fn cool_down<'a>(file: &CoolDown<'a>, fields: &mut Fields<'_, 'a>) -> Vec<PlannedStep> {
    let feeds = fields.feeds(file.feeds, Feeds::Nothing);
    let seconds = fields.or(file.seconds, "seconds", &limits::SECONDS, 300.0);
    let power = Watts(fields.or(file.power_w, "power_w", &limits::EASY_POWER, 100.0));
    let load = Load::Power {
        from: power,
        to: power * 0.5,
    };
    let cadence = fields.maybe(file.cadence_rpm, "cadence_rpm", &limits::CADENCE);
    let step = draft(
        fields.place(),
        StepKind::CoolDown,
        load,
        Span::from_secs_f64(seconds),
    );
    let cue = Cue {
        cadence: cadence.map(units::RevPerMin),
        text: "cool down: keep the legs turning, easily".to_owned(),
        ..easily()
    };
    let mut title = fields.title(file.title);
    if title.is_empty() {
        title = "cool down".to_owned();
    }
    vec![PlannedStep {
        title,
        feeds,
        cue,
        ..step
    }]
}

/// Even pedalling at the step's cadence and gear.
fn cue<'a>(fields: &mut Fields<'_, 'a>, cadence: Raw<'a>, gear: Raw<'a>) -> Cue {
    let cadence = fields.cadence(cadence);
    let gear = fields.gear(gear, "gear");
    evenly(cadence, gear)
}

/// The title of one of several levels.
fn numbered(title: &str, power: Watts) -> String {
    if title.is_empty() {
        String::new()
    } else {
        format!("{title}, {power:.0}")
    }
}
