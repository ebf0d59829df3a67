//! Findings over an invented recording, computed by the real analysis.

use super::{LEVELS_W, Noise, target_w};
use analysis::assess::assess;
use analysis::evidence::{
    Arrival, Command, Evidence, Feeds, InvalidSpan, Load, Place, Role, StepSpan, Stream,
};
use analysis::findings::Findings;
use analysis::settings::Settings;
use units::{Series, Span, Timestamp};

/// A session in which the device reads `gain` times the truth and drops out twice.
pub fn evidence(gain: f64) -> Evidence {
    let end = 300 + 180 * LEVELS_W.len() as i64 + 120;
    let mut noise = Noise::seeded(11);
    let (mut device, mut reference, mut second) = (empty(), empty(), empty());
    let (mut cadence, mut speed) = (empty(), empty());
    let mut slow = 0.0;
    for quarter in 0..end * 4 {
        let second_of = quarter / 4;
        let at = Timestamp::from_millis(quarter * 250 + 7);
        slow = 0.99 * slow + 0.8 * noise.next();
        let truth = target_w(second_of) + slow;
        if quarter % 4 == 0 {
            push(&mut reference, at, truth + 2.0 * noise.next());
            push(&mut second, at, 0.995 * truth + 3.0 * noise.next());
            push(&mut cadence, at, 90.0 + 0.8 * noise.next());
        }
        if !(1010..1019).contains(&second_of) {
            let lost = (1500..1504).contains(&second_of);
            let late = Timestamp::from_millis(quarter * 250 + 430);
            let warm = 1.0 + 0.01 * (1.0 - (-(second_of as f64) / 600.0).exp());
            let loss = 0.975;
            let shown = if lost {
                0.0
            } else {
                gain * warm * loss * truth + noise.next()
            };
            push(&mut device, late, shown.round());
            push(&mut speed, at, 34.0 + 0.2 * noise.next());
        }
    }
    let mut steps = vec![step(0, "Warm up", Feeds::Nothing, 0, 300, None)];
    let mut commands = Vec::new();
    for (index, level_w) in LEVELS_W.into_iter().enumerate() {
        let from = 300 + 180 * index as i64;
        let title = format!("Hold {level_w:.0} W");
        steps.push(step(
            index + 1,
            &title,
            Feeds::Steady,
            from,
            from + 180,
            Some(level_w),
        ));
        commands.push(Command {
            at: Timestamp::from_secs(from),
            confirmed_at: Some(Timestamp::from_millis(from * 1000 + 120)),
            load: Load::PowerW(level_w),
        });
    }
    Evidence {
        streams: vec![
            stream(
                "Trainer 7",
                Role::UnderTest,
                Place::Hub,
                device,
                empty(),
                speed,
            ),
            stream(
                "Pedals A",
                Role::PrimaryReference,
                Place::Pedals,
                reference,
                cadence,
                empty(),
            ),
            stream(
                "Crank B",
                Role::SecondReference,
                Place::Crank,
                second,
                empty(),
                empty(),
            ),
        ],
        steps,
        commands,
        invalid: vec![InvalidSpan {
            from: Timestamp::from_secs(720),
            to: Timestamp::from_secs(745),
            reason: "the operator stopped to drink".into(),
        }],
        end: Timestamp::from_secs(end),
    }
}

/// What the analysis finds in it.
pub fn findings(evidence: &Evidence) -> Findings {
    assess(evidence, &Settings::default())
}

fn empty() -> Series {
    Series::new()
}

fn push(series: &mut Series, at: Timestamp, value: f64) {
    series
        .push(at, value)
        .expect("the generator goes forward in finite steps");
}

fn step(
    index: usize,
    title: &str,
    feeds: Feeds,
    from: i64,
    to: i64,
    target_w: Option<f64>,
) -> StepSpan {
    StepSpan {
        index,
        attempt: 1,
        title: title.into(),
        feeds,
        from: Timestamp::from_secs(from),
        to: Timestamp::from_secs(to),
        settle: Span::from_secs(30),
        target_w,
        cadence_rpm: Some(90.0),
        gear: None,
    }
}

fn stream(
    name: &str,
    role: Role,
    place: Place,
    power_w: Series,
    cadence_rpm: Series,
    speed_kmh: Series,
) -> Stream {
    let arrivals = power_w
        .times()
        .iter()
        .map(|&at| Arrival { at, epoch: 1 })
        .collect();
    Stream {
        name: name.into(),
        role,
        place,
        power_w,
        cadence_rpm,
        speed_kmh,
        arrivals,
        zero_offsets: Vec::new(),
    }
}
