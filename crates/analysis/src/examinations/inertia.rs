//! Inertia: the moving mass that the flywheel stands for.

use super::bins::Paired;
use super::integral::Integral;
use super::prepared::Prepared;
use super::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::descriptive::lag1;
use crate::stats::intervals::interval_95;
use crate::stats::least_squares::least_squares;
use units::Series;

/// Name of the examination.
pub const NAME: &str = "inertia";

/// Equivalent moving mass.
#[derive(Clone, Debug, PartialEq)]
pub struct Inertia {
    /// Mass whose kinetic energy appears at the reference but not in the device's report, kg.
    pub unreported_kg: Estimate,
    /// 95 % interval of it.
    pub interval_kg: [f64; 2],
    /// Whether such a mass is claimed: the interval lies above zero.
    pub claimed: bool,
    /// Mass from the stated moment of inertia and ratio, kg.
    pub stated_kg: Option<f64>,
    /// Seconds of changing speed used.
    pub seconds: f64,
}

/// Length of the means, s: long enough for the two clocks' alignment not to matter.
const BIN_S: f64 = 4.0;
/// Acceleration from which a mean counts as one of changing speed, m/s².
const CHANGING: f64 = 0.08;
/// Standard uncertainty of the mass from placing three streams in time to a tenth of a second, kg;
/// found on simulated benches whose device reports everything.
const TIMING_KG: f64 = 0.3;
/// Seconds of changing speed that show a mass.
const LEAST_S: f64 = 24.0;

/// Examines the inertia: power that the reference delivers, the device does not report, and that
/// went into the change of kinetic energy.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn inertia(given: &Prepared<'_>) -> Outcome<Inertia> {
    let paired = Paired::new(given, NAME)?;
    let (under_test, reference) = (given.under_test(NAME)?, given.reference(NAME)?);
    let (Some(speed), Some([from_s, to_s])) = (given.speed(), paired.common_extent()) else {
        return not_tested(NAME, "no speed was received; use a device that reports it");
    };
    // The speed was moved together with the device's power, but is not smoothed like it: its place
    // in time is found from the reference's cadence.
    let speed_late_s =
        speed_late_s(speed, &reference.stream.cadence_rpm, [from_s, to_s]).unwrap_or(0.0);
    let at = |at_s: f64| {
        let place_s = at_s + speed_late_s;
        Some(speed.mean(place_s - 0.5, place_s + 0.5, 0.8)? / 3.6)
    };
    let efficiency = given.efficiency_between(reference.stream.place, under_test.stream.place);
    // Without quick changes of power its smoothing is not known and taken as none; what that
    // leaves makes the mass too small, never too large.
    let window_s = given
        .smoothing()
        .as_ref()
        .map_or(0.0, |found| found.result.window_s.value);
    let (mut storing, mut reported, mut missing) = (Vec::new(), Vec::new(), Vec::new());
    let mut changing_s = 0.0;
    for bin in paired.bins(from_s, to_s, BIN_S) {
        let smoothed = |of: &dyn Fn(f64) -> Option<f64>| as_smoothed(window_s, of);
        let stored = smoothed(&|by| {
            let (before, after) = (at(bin.from_s + by)?, at(bin.to_s + by)?);
            (before.max(after) >= 1.0).then(|| (after * after - before * before) / (2.0 * BIN_S))
        });
        let delivered = smoothed(&|by| paired.reference.mean(bin.from_s + by, bin.to_s + by, 0.8));
        let (Some(stored), Some(delivered), Some(before), Some(after)) =
            (stored, delivered, at(bin.from_s), at(bin.to_s))
        else {
            continue;
        };
        if ((after - before) / BIN_S).abs() >= CHANGING {
            changing_s += BIN_S;
        }
        // Power per kilogram that goes into kinetic energy.
        storing.push(stored);
        reported.push(bin.under_test_w);
        missing.push(efficiency.value * delivered - bin.under_test_w);
    }
    if changing_s < LEAST_S || storing.len() < 12 {
        return not_tested(
            NAME,
            format!(
                "only {changing_s:.0} s of changing flywheel speed; ride several accelerations \
                 and let the speed fall again, in resistance mode"
            ),
        );
    }
    // An error of scale or offset of the device is not inertia: both are left free. The scale is
    // that of the device's report, because the reference's own holds the stored power already.
    let columns = [storing, vec![1.0; missing.len()], reported];
    let fit = least_squares(&columns, &missing, None)
        .or_else(|| least_squares(&columns[..2], &missing, None));
    let Some(fit) = fit.filter(|fit| fit.dof > 0) else {
        return not_tested(
            NAME,
            "the change of speed cannot be told from the change of power",
        );
    };
    // What is left when the fitted offset and scale are taken out, so that the line of the mass
    // runs through its points.
    let points: Vec<[f64; 2]> = columns[0]
        .iter()
        .zip(&fit.residuals)
        .map(|(x, left)| [*x, fit.coefficients[0] * x + left])
        .collect();
    let phi = lag1(&fit.residuals).unwrap_or(0.0).clamp(0.0, 0.9);
    let inflate = (1.0 + phi) / (1.0 - phi);
    let unreported_kg = Estimate {
        value: fit.coefficients[0],
        u: (fit.sd(0) * inflate.sqrt()).hypot(TIMING_KG),
        dof: (fit.dof as f64 / inflate).max(1.0),
    };
    let interval_kg = interval_95(unreported_kg);
    let claimed = interval_kg[0] > 0.0;
    let stated_kg = given
        .bench
        .flywheel
        .map(|flywheel| flywheel.equivalent_mass_kg());
    let stated = stated_kg.map_or(String::new(), |kg| format!("; stated are {kg:.0} kg"));
    let amount = format!(
        "{} kg ({})",
        words::plain(unreported_kg.value, 1),
        words::interval_of_size(interval_kg, 1, "kg")
    );
    let sentence = if claimed {
        format!(
            "The device does not report the energy that a moving mass of {amount} takes up{stated}."
        )
    } else {
        format!("No unreported moving mass is shown: {amount}{stated}.")
    };
    let ends = points.iter().fold([f64::MAX, f64::MIN], |[low, high], p| {
        [low.min(p[0]), high.max(p[0])]
    });
    let line = ends.map(|x| [x, fit.coefficients[0] * x]);
    let plots = vec![words::plot(
        "inertia",
        "Power that is missing while the flywheel changes its speed",
        [
            "change of ½v² per second, W/kg",
            "missing power, W: reference at the hub minus device, less offset and scale",
        ],
        vec![
            words::points(Ink::UnderTest, "means of 4 s", points),
            words::line(Ink::Fit, "fitted mass", line.to_vec()),
        ],
        format!("{changing_s:.0} s of changing speed"),
    )];
    let result = Inertia {
        unreported_kg,
        interval_kg,
        claimed,
        stated_kg,
        seconds: changing_s,
    };
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

/// How late the speed is against the moments that the reference's cadence speaks of, s: the shift
/// at which the changes of both from second to second go together best. `None` where they hardly
/// do: without cadence, or with a speed that is not that of the wheel.
fn speed_late_s(speed: &Integral, cadence: &Series, [from_s, to_s]: [f64; 2]) -> Option<f64> {
    const CLEARLY_TOGETHER: f64 = 0.4;
    /// Quarters of a second that are tried to either side.
    const REACH: usize = 12;
    let cadence = Integral::new(cadence);
    let quarters = 4 * (to_s - from_s).clamp(0.0, 3600.0) as usize;
    // Changes from one second to the next, at every quarter; two differences of running sums.
    let changes = |of: &Integral, begin_s: f64, count: usize| -> Vec<Option<f64>> {
        let sums: Vec<[f64; 2]> = (0..count + 8)
            .map(|i| of.up_to(begin_s + 0.25 * i as f64))
            .collect();
        let mean = |i: usize| {
            let (a, b) = (sums[i], sums[i + 4]);
            (b[1] - a[1] > 0.8).then(|| (b[0] - a[0]) / (b[1] - a[1]))
        };
        (0..count).map(|i| Some(mean(i + 4)? - mean(i)?)).collect()
    };
    let turning = changes(&cadence, from_s, quarters);
    let rolling = changes(speed, from_s - 0.25 * REACH as f64, quarters + 2 * REACH);
    let together = |shift: usize| {
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for i in (0..quarters).step_by(4) {
            // A change of gear moves the speed without the cadence and is left out.
            if let (Some(x), Some(y)) = (turning[i], rolling[i + shift])
                && x.abs() < 5.0
                && y.abs() < 3.0
            {
                (xx, xy, yy) = (xx + x * x, xy + x * y, yy + y * y);
            }
        }
        if xx * yy > 0.0 {
            xy / (xx * yy).sqrt()
        } else {
            0.0
        }
    };
    let (shift, best) = (0..=2 * REACH)
        .map(|shift| (shift, together(shift)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (best > CLEARLY_TOGETHER).then_some(0.25 * (shift as f64 - REACH as f64))
}

/// Mean of a quantity over shifts that make up the device's window about its middle: what the
/// device would make of it. The streams lie on one clock, so the middle is no delay.
fn as_smoothed(window_s: f64, of: &dyn Fn(f64) -> Option<f64>) -> Option<f64> {
    const SHIFTS: i32 = 6;
    let mut sum = 0.0;
    for i in 0..SHIFTS {
        sum += of(window_s * ((f64::from(i) + 0.5) / f64::from(SHIFTS) - 0.5))?;
    }
    Some(sum / f64::from(SHIFTS))
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session};
    use super::*;
    use crate::stats::intervals::excludes;

    fn surges(seed: u64, mass_kg: f64) -> Session {
        let mut noise = Noise::new(seed);
        let v = |t: f64| 9.0 + 2.5 * (std::f64::consts::TAU * t / 40.0).sin();
        let mut session = Session::pair(
            600,
            |t| {
                let middle = t + 0.5;
                let stored = (v(t + 1.0).powi(2) - v(t).powi(2)) / 2.0 * mass_kg;
                let level = if (t / 50.0) as i64 % 2 == 0 {
                    150.0
                } else {
                    250.0
                };
                let brake = level + 20.0 * (middle / 90.0).sin();
                (
                    (brake + stored) / 0.975 + 6.0 * noise.normal(),
                    0.99 * brake + 6.0 * noise.normal(),
                )
            },
            |t| (8.0 * v(t), 3.6 * v(t)),
        );
        session.bench.efficiency = Estimate {
            value: 0.975,
            u: 0.006,
            dof: f64::MAX,
        };
        session
    }

    #[test]
    fn an_unreported_mass_is_found_and_none_not_claimed() {
        let (mut covered, mut claims) = (0, 0);
        for seed in 0..60 {
            let found = inertia(&surges(seed, 12.0).given()).unwrap().result;
            assert!(found.claimed, "{found:?}");
            covered += usize::from(!excludes(found.interval_kg, 12.0));
            claims += usize::from(inertia(&surges(seed, 0.0).given()).unwrap().result.claimed);
        }
        assert!(
            covered >= 51 && claims <= 7,
            "{covered} covered, {claims} claims of 60"
        );
    }

    #[test]
    fn steady_speed_shows_no_mass() {
        let steady = Session::pair(600, |_| (200.0, 195.0), Session::usual_motion);
        assert!(
            inertia(&steady.given())
                .unwrap_err()
                .reason
                .contains("changing")
        );
        assert!(inertia(&Session::empty().given()).is_err());
    }
}
