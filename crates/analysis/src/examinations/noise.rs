//! Acoustic noise with correction for the background, from readings entered by hand.

use super::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::interval_95;
use crate::stats::two_samples::Summary;

/// Name of the examination.
pub const NAME: &str = "noise";

/// Readings of a sound level meter.
#[derive(Clone, Debug, PartialEq)]
pub struct NoiseReadings {
    /// Levels with the device running, dB(A).
    pub running_db: Vec<f64>,
    /// Levels of the background, dB(A).
    pub background_db: Vec<f64>,
    /// Distance of the microphone, m.
    pub distance_m: f64,
    /// Distance the claim speaks of, m.
    pub claimed_distance_m: f64,
    /// Standard uncertainty of the meter, dB.
    pub u_meter_db: f64,
}

/// Level of the device alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Level at the claimed distance, dB(A).
    pub level_db: Estimate,
    /// Energy mean with the device running, dB(A).
    pub running_db: f64,
    /// Energy mean of the background, dB(A).
    pub background_db: f64,
    /// Correction subtracted for the background, dB.
    pub background_correction_db: f64,
    /// Correction added for the distance, dB; free field is assumed.
    pub distance_correction_db: f64,
    /// Whether the background was so close that the level is only an upper bound.
    pub upper_bound_only: bool,
}

/// Above this distance from the background no correction is made, below the second none is
/// trusted, dB. Common practice after ISO 3744, from memory of that standard.
const CLEAR_DB: f64 = 15.0;
const TOO_CLOSE_DB: f64 = 6.0;

/// What has to be subtracted for the background, dB: −10·lg(1 − 10^(−ΔL/10)).
pub fn background_correction_db(above_background_db: f64) -> Option<f64> {
    let share = 10f64.powf(-0.1 * above_background_db);
    (above_background_db > 0.0 && share < 1.0).then(|| -10.0 * (1.0 - share).log10())
}

/// Mean of levels by their energy, dB. `None` for no levels.
pub fn energy_mean_db(levels_db: &[f64]) -> Option<f64> {
    if levels_db.is_empty() {
        return None;
    }
    let sum: f64 = levels_db.iter().map(|level| 10f64.powf(0.1 * level)).sum();
    Some(10.0 * (sum / levels_db.len() as f64).log10())
}

/// Change of level from one distance to another in a free field, dB: 20·lg(from/to).
pub fn distance_correction_db(from_m: f64, to_m: f64) -> f64 {
    20.0 * (from_m / to_m).log10()
}

/// Evaluates readings of a sound level meter.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to read.
pub fn noise(readings: &NoiseReadings) -> Outcome<Noise> {
    let distances = [readings.distance_m, readings.claimed_distance_m];
    let all_finite = readings
        .running_db
        .iter()
        .chain(&readings.background_db)
        .chain(&distances)
        .chain([&readings.u_meter_db])
        .all(|x| x.is_finite());
    if !all_finite || distances.iter().any(|d| *d <= 0.0) || readings.u_meter_db < 0.0 {
        return not_tested(
            NAME,
            "levels and distances must be numbers, distances above zero",
        );
    }
    let (Some(running_db), Some(background_db)) = (
        energy_mean_db(&readings.running_db),
        energy_mean_db(&readings.background_db),
    ) else {
        return not_tested(
            NAME,
            "levels with the device running and of the background are needed; read both at the \
             same place, the background first",
        );
    };
    let above = running_db - background_db;
    if above < 1.0 {
        return not_tested(
            NAME,
            format!(
                "the device is only {above:.1} dB above the background; measure in a quieter room"
            ),
        );
    }
    let upper_bound_only = above < TOO_CLOSE_DB;
    let correction = |above: f64| match above {
        above if above > CLEAR_DB => 0.0,
        above => background_correction_db(above.max(TOO_CLOSE_DB)).unwrap_or(0.0),
    };
    let background_correction_db = correction(above);
    let distance_correction_db =
        distance_correction_db(readings.distance_m, readings.claimed_distance_m);
    let spread = |levels: &[f64]| {
        Summary::of(levels).map_or((0.0, f64::MAX), |s| (s.variance / s.n, s.n - 1.0))
    };
    let ((running_variance, dof), (background_variance, _)) = (
        spread(&readings.running_db),
        spread(&readings.background_db),
    );
    // The corrected level depends on both by the shares of energy.
    let share = 10f64.powf(-0.1 * above.max(TOO_CLOSE_DB));
    let (by_running, by_background) = if above > CLEAR_DB {
        (1.0, 0.0)
    } else {
        (1.0 / (1.0 - share), share / (1.0 - share))
    };
    let scatter = by_running * by_running * running_variance
        + by_background * by_background * background_variance;
    let u = (scatter + readings.u_meter_db * readings.u_meter_db).sqrt();
    let effective = if scatter > 0.0 {
        dof * (u * u / scatter).powi(2)
    } else {
        f64::MAX
    };
    let level_db = Estimate {
        value: running_db - background_correction_db + distance_correction_db,
        u,
        dof: effective.clamp(1.0, f64::MAX),
    };
    let [low, high] = interval_95(level_db);
    let sentence = format!(
        "{}{} dB(A) at {} m (95\u{a0}% interval {} to {} dB), {} dB taken off for the \
         background{}.",
        if upper_bound_only { "At most " } else { "" },
        words::plain(level_db.value, 1),
        words::plain(readings.claimed_distance_m, 1),
        words::plain(low, 1),
        words::plain(high, 1),
        words::plain(background_correction_db, 1),
        if readings.distance_m == readings.claimed_distance_m {
            ""
        } else {
            "; the distance was converted as in a free field, which a room is not"
        }
    );
    let points = |x: f64, levels: &[f64]| levels.iter().map(|level| [x, *level]).collect();
    let plots = vec![words::plot(
        "noise",
        "Levels read",
        ["1 background, 2 running", "level, dB(A)"],
        vec![
            words::points(
                Ink::Excluded,
                "background",
                points(1.0, &readings.background_db),
            ),
            words::points(Ink::UnderTest, "running", points(2.0, &readings.running_db)),
        ],
        format!("microphone at {} m", words::plain(readings.distance_m, 1)),
    )];
    let result = Noise {
        level_db,
        running_db,
        background_db,
        background_correction_db,
        distance_correction_db,
        upper_bound_only,
    };
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The formula at whole decibels; ECMA TR/107 prints its caps as 1.26 dB (at 6 dB) and
    /// 0.46 dB (at 10 dB).
    #[test]
    fn corrections() {
        for (above, correction) in [
            (3.0, 3.0206),
            (4.0, 2.2048),
            (5.0, 1.6509),
            (6.0, 1.2563),
            (7.0, 0.9665),
            (8.0, 0.7494),
            (9.0, 0.5844),
            (10.0, 0.4576),
            (12.0, 0.2830),
            (15.0, 0.1396),
            (20.0, 0.0436),
        ] {
            assert!((background_correction_db(above).unwrap() - correction).abs() < 6e-5);
        }
        assert!((background_correction_db(6.0).unwrap() - 1.26).abs() < 0.005);
        assert!((background_correction_db(10.0).unwrap() - 0.46).abs() < 0.005);
        assert_eq!(background_correction_db(0.0), None);
        for (ratio, change) in [(2.0, 6.0206), (1.5, 3.5218), (3.0, 9.5424), (10.0, 20.0)] {
            assert!((distance_correction_db(ratio, 1.0) - change).abs() < 5e-5);
        }
        // Mean of 60, 65 and 70 dB for equal times, and four positions around a source.
        assert!((energy_mean_db(&[60.0, 65.0, 70.0]).unwrap() - 66.7401).abs() < 5e-5);
        assert!((energy_mean_db(&[62.0, 64.0, 61.0, 63.0]).unwrap() - 62.6428).abs() < 5e-5);
    }

    fn readings(running_db: &[f64], background_db: &[f64]) -> NoiseReadings {
        NoiseReadings {
            running_db: running_db.into(),
            background_db: background_db.into(),
            distance_m: 1.0,
            claimed_distance_m: 1.0,
            u_meter_db: 0.7,
        }
    }

    /// A sound level meter's manual: 70 dB in all, 63 dB background, 69 dB from the source.
    #[test]
    fn an_example_of_a_manual() {
        let found = noise(&readings(&[70.0], &[63.0])).unwrap().result;
        assert!((found.level_db.value - 69.0335).abs() < 5e-5);
        assert!(!found.upper_bound_only);
    }

    #[test]
    fn a_background_too_close_gives_only_a_bound() {
        let found = noise(&readings(&[60.0, 60.4, 59.6], &[56.0, 56.2])).unwrap();
        assert!(found.result.upper_bound_only && found.sentence.starts_with("At most"));
        assert!((found.result.background_correction_db - 1.2563).abs() < 1e-4);
        let clear = noise(&readings(&[60.0], &[40.0])).unwrap().result;
        assert_eq!(clear.background_correction_db, 0.0);
    }

    #[test]
    fn what_cannot_be_heard() {
        assert!(noise(&readings(&[60.0], &[])).is_err());
        assert!(noise(&readings(&[60.0], &[60.0])).is_err());
        assert!(noise(&readings(&[f64::NAN], &[40.0])).is_err());
    }
}
