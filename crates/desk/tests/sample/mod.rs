//! Invented data: a workshop tests a trainer called "Trainer 7" with a pair of pedals and a crank.
//!
//! Nothing here was measured. The curves come from a small generator with a fixed seed, so that
//! pictures and tests are the same every time.
#![allow(dead_code, reason = "tests and the example each use a part of it")]

pub mod compared;
pub mod findings;
pub mod instruments;
pub mod papers;
pub mod recordings;

use bench::model::{
    BrakeView, CellView, ComparisonView, FlagView, GateView, Health, InstrumentRole,
    InstrumentView, NoticeView, Phase, PlannedStepView, PromptView, Reading, ScriptView, Severity,
    StepView,
};
use bench::{Model, Trace};
use desk::{RigCard, ScriptCard, SelfTest, SelfTestCheck, ShelfRow};
use std::sync::Arc;
use units::{SourceId, Span, Timestamp};

/// Noise with a fixed seed: uniform between −1 and 1.
pub struct Noise(u64);

impl Noise {
    pub fn seeded(seed: u64) -> Self {
        Self(seed)
    }

    pub fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as f64) / f64::from(1u32 << 30) - 1.0
    }
}

/// A name that is longer than there is room for.
pub const LONG: &str = "A very long name for a trainer that somebody typed on a Friday afternoon";

/// Levels of the sweep, W, three minutes each.
pub const LEVELS_W: [f64; 8] = [100.0, 150.0, 200.0, 250.0, 300.0, 250.0, 200.0, 100.0];
const WARM_UP_S: i64 = 300;
const HOLD_S: i64 = 180;

/// The power asked for at a moment of the script, W.
pub fn target_w(second: i64) -> f64 {
    if second < WARM_UP_S {
        return 100.0 + 100.0 * second as f64 / WARM_UP_S as f64;
    }
    LEVELS_W
        .get(((second - WARM_UP_S) / HOLD_S) as usize)
        .copied()
        .unwrap_or(80.0)
}

pub fn script() -> ScriptView {
    let mut steps = vec![PlannedStepView {
        title: "Warm up, easy and rising".into(),
        begins: Span::ZERO,
        length: Some(Span::from_secs(WARM_UP_S)),
        target_w: Some([100.0, 200.0]),
    }];
    for (index, level_w) in LEVELS_W.into_iter().enumerate() {
        steps.push(PlannedStepView {
            title: format!("Hold {level_w:.0} W"),
            begins: Span::from_secs(WARM_UP_S + index as i64 * HOLD_S),
            length: Some(Span::from_secs(HOLD_S)),
            target_w: Some([level_w, level_w]),
        });
    }
    let end = WARM_UP_S + LEVELS_W.len() as i64 * HOLD_S;
    steps.push(PlannedStepView {
        title: "Cool down".into(),
        begins: Span::from_secs(end),
        length: None,
        target_w: Some([100.0, 60.0]),
    });
    ScriptView {
        name: "level-sweep".into(),
        title: "Level sweep, up and down".into(),
        steps,
        total: Span::from_secs(end + 300),
        beyond: Vec::new(),
    }
}

/// A model in the middle of a ride, `seconds` old, with values four times a second.
pub fn riding(seconds: i64) -> Model {
    let hold = Span::from_millis(2500);
    let (mut device, mut reference, mut second) =
        (Trace::new(hold), Trace::new(hold), Trace::new(hold));
    let (mut cadence, mut speed) = (Trace::new(hold), Trace::new(hold));
    let mut target = Trace::new(Span::MAX);
    let mut difference = Trace::new(Span::from_secs(45));
    let mut expanded = Trace::new(Span::from_secs(45));
    let mut noise = Noise::seeded(7);
    let (mut slow, mut last_target) = (0.0, f64::MIN);
    for quarter in 0..seconds * 4 {
        let at = Timestamp::from_millis(quarter * 250);
        let second_of = quarter / 4;
        let asked = target_w(second_of);
        if (asked - last_target).abs() > 0.9 {
            target.push(at, asked);
            last_target = asked;
        }
        slow = 0.995 * slow + 0.6 * noise.next();
        let truth = asked + slow;
        let is_lost = (1010..1016).contains(&second_of);
        if quarter % 4 == 0 && !(1200..1210).contains(&second_of) {
            reference.push(at, truth + 2.5 * noise.next());
            second.push(at, 0.99 * truth + 3.0 * noise.next());
            cadence.push(at, 90.0 + 1.5 * noise.next() + 0.3 * slow);
        }
        if !is_lost {
            let drift = 1.0 + 0.03 * (second_of as f64 / 1800.0);
            device.push(
                at,
                truth * (0.995 + 0.02 * drift) * drift.powf(0.4) + noise.next(),
            );
            speed.push(at, 34.0 + 0.4 * noise.next() + 0.1 * slow);
        }
        if quarter % 4 == 0 && second_of > 30 && !is_lost {
            let wave =
                1.2 + 1.9 * second_of as f64 / 1800.0 + 0.5 * (second_of as f64 / 90.0).sin();
            difference.push(at, wave);
            expanded.push(at, 0.9 + 0.2 * (second_of as f64 / 200.0).cos());
        }
    }
    let now = Timestamp::from_secs(seconds);
    let index = if seconds < WARM_UP_S {
        0
    } else {
        (1 + (seconds - WARM_UP_S) / HOLD_S).min(LEVELS_W.len() as i64 + 1) as usize
    };
    let script = script();
    let planned = &script.steps[index];
    let elapsed = Span::from_secs(seconds) - planned.begins;
    let step = StepView {
        index,
        attempt: 1,
        title: planned.title.clone(),
        elapsed,
        remaining: planned.length.map(|length| length - elapsed),
        target_w: Some(target_w(seconds)),
        cadence_rpm: Some(90.0),
        next: script.steps.get(index + 1).map(|next| next.title.clone()),
        gate: GateView::Steady,
    };
    let reading = |trace: &Trace| {
        trace.last().map(|point| Reading {
            value: point.value,
            age: now - point.at,
        })
    };
    let instrument = |id, name: &str, role, place: &str, power: Trace, rate| InstrumentView {
        source: SourceId(id),
        name: name.into(),
        role,
        place: place.into(),
        health: Health::Good,
        power_w: reading(&power),
        cadence_rpm: None,
        speed_kmh: None,
        packets: power.len() as u64,
        power,
        cadence: Trace::new(hold),
        speed: Trace::new(hold),
        rate_hz: Some(rate),
        identity: "Invented maker, model 7, firmware 1.4.2".into(),
    };
    let mut trainer = instrument(
        0,
        "Trainer 7",
        InstrumentRole::UnderTest,
        "hub",
        device,
        4.0,
    );
    trainer.speed_kmh = reading(&speed);
    trainer.speed = speed;
    let mut pedals = instrument(
        1,
        "Pedals A",
        InstrumentRole::PrimaryReference,
        "both pedals",
        reference,
        1.0,
    );
    pedals.cadence_rpm = reading(&cadence);
    pedals.cadence = cadence;
    let crank = instrument(
        2,
        "Crank B",
        InstrumentRole::SecondReference,
        "crank",
        second,
        1.0,
    );
    let now_pair = difference
        .last()
        .zip(expanded.last())
        .map(|(difference, expanded)| [difference.value, expanded.value]);
    let flags = flags().into_iter().filter(|flag| flag.to <= now).collect();
    Model {
        now,
        phase: Phase::Riding,
        simulated: true,
        script: Arc::new(script),
        step: Some(step),
        prompt: Some(PromptView {
            text: "200 W at 90 rpm".into(),
            waits: false,
        }),
        instruments: vec![trainer, pedals, crank],
        target_w: target,
        comparison: ComparisonView {
            treatment: "as indicated".into(),
            difference_pct: difference,
            expanded_pct: expanded,
            tolerance_pct: Some(2.0),
            now: now_pair,
            cell: Some(CellView {
                title: "200 W, 90 rpm".into(),
                seconds: 95.0,
                bias_pct: 2.7,
                expanded_pct: 1.1,
                verdict: "likely beyond".into(),
                needs: Some("about 2 more minutes of this level would decide".into()),
            }),
        },
        flags: Arc::new(flags),
        brake: BrakeView {
            told: "200 W".into(),
            answer: "success".into(),
            confirmed: true,
            released: false,
        },
        notices: Arc::new(vec![
            NoticeView {
                at: Timestamp::ZERO,
                words: "Three instruments linked.".into(),
            },
            NoticeView {
                at: Timestamp::from_secs(302),
                words: "Pedals A were zeroed before the ride: offset 0.02 N·m.".into(),
            },
        ]),
    }
}

pub fn flags() -> Vec<FlagView> {
    [
        (
            610,
            640,
            Severity::LikelyBeyond,
            "30 s mean +2.3 % ± 1.0 %: outside ±2 %, not shown",
        ),
        (
            1010,
            1016,
            Severity::DropOut,
            "no packets from Trainer 7 for 6 s",
        ),
        (
            1130,
            1190,
            Severity::ShownBeyond,
            "60 s mean +3.4 % ± 1.0 %: beyond ±2 %",
        ),
        (
            1200,
            1210,
            Severity::DropOut,
            "no packets from Pedals A for 10 s",
        ),
    ]
    .into_iter()
    .map(|(from, to, severity, words)| FlagView {
        from: Timestamp::from_secs(from),
        to: Timestamp::from_secs(to),
        severity,
        words: words.into(),
    })
    .collect()
}

/// Words before the first load, in the shape that the session brings them.
const READINESS: &str = "This is a measuring tool and no medical device.

If you answer yes to one of these, ask a professional first:
- Has a doctor told you to limit exercise, or is anything about your health unusual today, so that \
a hard effort could be unwise?
- Do you have pain when you pedal?

Look at the bench:
- The bike stands firmly.";

/// The same ride in another phase.
pub fn in_phase(phase: Phase) -> Model {
    let mut model = riding(20);
    if !matches!(phase, Phase::Riding | Phase::Paused { .. }) {
        model.step = None;
        model.comparison.cell = None;
    }
    if phase == Phase::Cautions {
        model.prompt = Some(PromptView {
            text: READINESS.into(),
            waits: true,
        });
    }
    model.brake.released = true;
    model.phase = phase;
    model
}

/// The same ride with a prompt that waits.
pub fn prompted() -> Model {
    let mut model = riding(1000);
    model.prompt = Some(PromptView {
        text: "Change to the big gear, then confirm".into(),
        waits: true,
    });
    model
}

/// A ride with many flags and long names.
pub fn crowded() -> Model {
    let mut model = riding(1700);
    let many = (0..40).map(|i| FlagView {
        from: Timestamp::from_secs(300 + 30 * i),
        to: Timestamp::from_secs(330 + 30 * i),
        severity: match i % 3 {
            0 => Severity::LikelyBeyond,
            1 => Severity::ShownBeyond,
            _ => Severity::DropOut,
        },
        words: format!("window {i} of a ride in which everything went wrong that could go wrong"),
    });
    model.flags = Arc::new(many.collect());
    let long = LONG;
    model.instruments[0].name = long.into();
    let mut script = script();
    script.title = format!("{long}, and a script title to match it in length and patience");
    script.steps[8].title = long.into();
    model.script = Arc::new(script);
    if let Some(step) = &mut model.step {
        step.title = long.into();
        step.next = Some(long.into());
        step.gate = GateView::NotSteady {
            reason: "cadence varies by 4.1 %, 3 % allowed".into(),
        };
    }
    model.instruments[1].health = Health::Silent(Span::from_secs(14));
    model
}

pub fn scripts() -> Vec<ScriptCard> {
    let short = |name: &str, title: &str, minutes: i64, about: &str, effort: &str| {
        let mut view = script();
        view.name = name.into();
        view.title = title.into();
        view.total = Span::from_secs(60 * minutes);
        ScriptCard {
            view: Arc::new(view),
            about: about.into(),
            effort: effort.into(),
            problem: None,
            levels_w: vec![100.0, 200.0, 300.0],
            level_seconds: 180,
            level_repeats: 2,
            ..ScriptCard::default()
        }
    };
    let mut broken = short("own-sprints", "Own sprints", 30, "", "");
    broken.problem = Some("line 12, column 9: a hold needs a length; write length: Min(3)".into());
    vec![
        short(
            "first-look",
            "First look",
            10,
            "Three levels and one jump: enough to see the whole work once, from the first step to \
             a verdict.",
            "up to 200 W",
        ),
        short(
            "level-sweep",
            "Level sweep, up and down",
            34,
            "Steady levels from 100 W to 300 W and back, for the claim of power accuracy.",
            "up to 300 W, 310 kJ",
        ),
        short(
            "warm-up-hour",
            "Warm-up hour",
            60,
            "One hour at one level, for drift while things get warm.",
            "210 W, 760 kJ",
        ),
        short(
            "steps",
            "Target steps",
            25,
            "Twelve jumps up and down.",
            "up to 300 W",
        ),
        broken,
    ]
}

pub fn rigs() -> Vec<RigCard> {
    vec![
        RigCard {
            name: "honest".into(),
            title: "A good trainer".into(),
            about: "A simulated rider on a trainer without faults, with two reference meters."
                .into(),
            instruments: vec![
                "Trainer, device under test, at the hub".into(),
                "Pedals, reference".into(),
                "Crank, second reference".into(),
            ],
            simulated: true,
            ..RigCard::default()
        },
        RigCard {
            name: "workshop".into(),
            title: "A trainer with faults to find".into(),
            about: "It reads high, drifts while it warms up and drops out now and then.".into(),
            instruments: vec!["Trainer, device under test, at the hub".into()],
            simulated: true,
            ..RigCard::default()
        },
    ]
}

pub fn shelf(count: usize) -> Vec<ShelfRow> {
    (0..count)
        .map(|i| ShelfRow {
            key: format!("session-{i}"),
            title: match i % 3 {
                0 => format!("Trainer 7, level sweep, run {}", count - i),
                1 => format!("Trainer 7, warm-up hour, run {}", count - i),
                _ => format!(
                    "Trainer 9 after the new firmware, level sweep, run {}",
                    count - i
                ),
            },
            details: format!("firmware 2.{} · T7-00172 · against Pedals A", i % 5),
            started: format!("2025-03-{:02} 18:{:02}", 28 - i % 28, i % 60),
            length: "0:34".into(),
            verdict: match i % 4 {
                0 => Some("shown beyond".into()),
                1 => Some("likely within".into()),
                2 => Some("shown within".into()),
                _ => None,
            },
            state: if i % 7 == 6 { "not sealed" } else { "sealed" }.into(),
            ..ShelfRow::default()
        })
        .collect()
}

/// What an invented self-test found.
pub fn self_test() -> SelfTest {
    let check = |name: &str, within, passed| SelfTestCheck {
        name: name.into(),
        tried: 200,
        within,
        passed,
    };
    SelfTest {
        program: "prony 0.1.0".into(),
        sessions: 200,
        checks: vec![
            check("Mean difference of the deciding condition", 191, true),
            check("Reporting lag", 197, true),
            check("Lost work of drop-outs", 171, false),
        ],
    }
}
