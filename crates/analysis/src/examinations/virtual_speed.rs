//! Plausibility of the reported speed: does it follow cadence and gear?

use super::given::SteadyWindow;
use super::prepared::Prepared;
use super::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::order::exceeds;
use crate::stats::two_samples::Summary;

/// Name of the examination.
pub const NAME: &str = "plausibility of speed";

/// Distance per crank revolution in every gear, from reported speed and cadence.
#[derive(Clone, Debug, PartialEq)]
pub struct VirtualSpeed {
    /// One entry per gear; where no gear was named, one per cluster of ratios.
    pub gears: Vec<GearSpeed>,
    /// Scatter of the ratio within gears, %.
    pub scatter_pct: f64,
    /// Whether the speed is a measured flywheel speed as far as the data show: constant ratio
    /// within a gear.
    pub follows_gear: bool,
}

/// One gear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GearSpeed {
    /// The gear as named in the script.
    pub gear: Option<f64>,
    /// Distance per crank revolution, m.
    pub development_m: Estimate,
    /// Reported over expected, where the gear's name is a plausible development.
    pub ratio: Option<f64>,
    /// Windows.
    pub windows: usize,
}

/// Fewest windows of one gear.
const LEAST_WINDOWS: usize = 3;
/// Ratios of neighbouring windows closer than this may be of one gear; sprockets differ by more.
const ONE_GEAR: f64 = 1.02;
/// A measured flywheel keeps the ratio within a gear to this, %.
const CONSTANT_PCT: f64 = 1.0;
/// A gear named by a number in this range may be its development in metres.
const DEVELOPMENT_M: [f64; 2] = [1.0, 14.0];

/// Examines whether speed follows cadence and gear.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn virtual_speed(given: &Prepared<'_>) -> Outcome<VirtualSpeed> {
    let mut ratios: Vec<(Option<f64>, f64)> = given
        .windows
        .iter()
        .filter_map(|window| Some((window.gear, development(window)?)))
        .collect();
    // Where the script named no gear, windows with about the same ratio are taken as one gear.
    let key = |gear: Option<f64>| gear.unwrap_or(f64::NEG_INFINITY);
    ratios.sort_by(|a, b| key(a.0).total_cmp(&key(b.0)).then(a.1.total_cmp(&b.1)));
    let groups: Vec<&[(Option<f64>, f64)]> = ratios
        .chunk_by(|a, b| a.0 == b.0 && (a.0.is_some() || b.1 < ONE_GEAR * a.1))
        .filter(|group| group.len() >= LEAST_WINDOWS)
        .collect();
    if groups.is_empty() {
        return not_tested(
            NAME,
            "fewer than three steady windows with speed and cadence in any gear; record both and \
             ride on",
        );
    }
    let mut gears = Vec::new();
    let (mut spread, mut freedom) = (0.0, 0.0);
    for group in groups {
        let values: Vec<f64> = group.iter().map(|(_, ratio)| *ratio).collect();
        let Some(s) = Summary::of(&values) else {
            continue;
        };
        spread += s.variance / (s.mean * s.mean) * (s.n - 1.0);
        freedom += s.n - 1.0;
        let gear = group[0].0;
        let named = gear.filter(|g| (DEVELOPMENT_M[0]..=DEVELOPMENT_M[1]).contains(g));
        gears.push(GearSpeed {
            gear,
            development_m: Estimate {
                value: s.mean,
                u: (s.variance / s.n).sqrt(),
                dof: s.n - 1.0,
            },
            ratio: named.map(|named| s.mean / named),
            windows: values.len(),
        });
    }
    if !exceeds(freedom, 0.0) {
        return not_tested(
            NAME,
            "speed over cadence holds no numbers; check the speed stream",
        );
    }
    let scatter_pct = 100.0 * (spread / freedom).sqrt();
    let follows_gear = scatter_pct < CONSTANT_PCT;
    let parts: Vec<String> = gears
        .iter()
        .map(|gear| {
            let name = gear
                .gear
                .map_or("a gear without name".to_owned(), |g| format!("gear {g:.2}"));
            format!("{name} {:.2} m", gear.development_m.value)
        })
        .collect();
    let sentence = format!(
        "Reported speed {} cadence and gear (scatter {scatter_pct:.1} % within a gear); distance \
         per crank revolution: {}.",
        if follows_gear {
            "follows"
        } else {
            "does not follow"
        },
        parts.join(", ")
    );
    let plots = vec![words::plot(
        "speed-by-cadence",
        "Reported speed against cadence",
        ["cadence, rpm", "speed, km/h"],
        vec![words::points(
            Ink::UnderTest,
            "windows",
            given
                .windows
                .iter()
                .filter_map(|w| Some([w.cadence_rpm?, w.speed_kmh?]))
                .collect(),
        )],
        "one straight line through zero per gear if the speed is that of the wheel".into(),
    )];
    Ok(Tested {
        result: VirtualSpeed {
            gears,
            scatter_pct,
            follows_gear,
        },
        sentence,
        plots,
    })
}

/// Distance per crank revolution, m.
fn development(window: &SteadyWindow) -> Option<f64> {
    let (cadence, speed) = (window.cadence_rpm?, window.speed_kmh?);
    (cadence > 20.0 && speed > 1.0).then(|| speed / 3.6 * 60.0 / cadence)
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, TestWindow};
    use super::*;
    use crate::evidence::Feeds;

    fn gears(seed: u64, virtual_speed: bool) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::empty();
        let step = session.step(Feeds::Steady, 0.0, 900.0, 200.0);
        for window in 0..20 {
            let gear = [4.8, 6.2][window % 2];
            let cadence = 75.0 + 20.0 * noise.uniform();
            let truth = gear * cadence / 60.0 * 3.6;
            let speed = if virtual_speed {
                32.0
            } else {
                truth * (1.0 + 0.002 * noise.normal())
            };
            session.window(TestWindow {
                from_s: 30.0 * window as f64,
                step,
                level_w: 200.0,
                reference_w: 200.0,
                under_test_w: 200.0,
                cadence_rpm: cadence,
                speed_kmh: speed,
                u_pct: 0.3,
            });
            session.windows[window].gear = Some(gear);
        }
        session
    }

    #[test]
    fn a_wheel_follows_its_gear_and_an_invented_speed_does_not() {
        let found = virtual_speed(&gears(1, false).given()).unwrap().result;
        assert!(found.follows_gear);
        assert_eq!(found.gears.len(), 2);
        assert!((found.gears[0].development_m.value - 4.8).abs() < 0.02);
        assert!((found.gears[1].ratio.unwrap() - 1.0).abs() < 0.005);
        assert!(
            !virtual_speed(&gears(1, true).given())
                .unwrap()
                .result
                .follows_gear
        );
    }

    #[test]
    fn without_speed_not_tested() {
        assert!(virtual_speed(&Session::empty().given()).is_err());
        let mut session = gears(1, false);
        for window in &mut session.windows {
            window.speed_kmh = None;
        }
        assert!(virtual_speed(&session.given()).is_err());
    }
}
