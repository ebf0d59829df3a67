//! Work of the whole session, device over reference, zeros in and out.

use super::integral::Integral;
use super::prepared::Prepared;
use super::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::interval_95;
use crate::stats::order::exceeds;

/// Name of the examination.
pub const NAME: &str = "work of the session";

/// Work over the seconds that both instruments cover.
#[derive(Clone, Debug, PartialEq)]
pub struct Energy {
    /// Seconds covered by both.
    pub seconds: f64,
    /// Work of the reference, kJ.
    pub reference_kj: f64,
    /// Work of the device, kJ.
    pub under_test_kj: f64,
    /// Device over reference, all covered seconds.
    pub ratio: Estimate,
    /// Device over reference, only seconds where both show power.
    pub ratio_without_zeros: Estimate,
    /// Seconds where the device shows nothing and the reference shows work.
    pub zero_under_load_s: f64,
}

/// Shortest time that both instruments must cover, s.
const LEAST_S: f64 = 60.0;
/// Share of the time between the first and the last value of both that both must cover: work over
/// the rest alone would not be that of the session.
const LEAST_COVERED: f64 = 0.5;
/// The session is cut into this many blocks for the uncertainty of the ratio.
const BLOCKS: usize = 20;

/// Compares the work of the session over the seconds that both instruments cover.
///
/// Here, and only here, zeros of drop-outs count: that is what a rider's total would show.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) where too little is covered by both.
pub fn energy(given: &Prepared<'_>) -> Outcome<Energy> {
    let reference = given.power(given.reference(NAME)?.index);
    let under_test = given.power(given.under_test(NAME)?.index);
    let extent = reference.extent().zip(under_test.extent());
    let span_s = extent.map_or(0.0, |(a, b)| a[1].min(b[1]) - a[0].max(b[0]));
    let seconds: Vec<[f64; 2]> = extent.map_or(Vec::new(), |(a, b)| {
        let (from_s, to_s) = (a[0].max(b[0]), a[1].min(b[1]));
        (0..(to_s - from_s).clamp(0.0, 1e6) as usize)
            .filter_map(|second| {
                let begin = from_s + second as f64;
                let mean = |integral: &Integral| integral.mean(begin, begin + 1.0, 0.8);
                Some([mean(reference)?, mean(under_test)?])
            })
            .collect()
    });
    if (seconds.len() as f64) < LEAST_COVERED * span_s {
        return not_tested(
            NAME,
            format!(
                "both instruments cover only {} s of {span_s:.0} s; see to a link that holds",
                seconds.len()
            ),
        );
    }
    let moving: Vec<[f64; 2]> = seconds
        .iter()
        .copied()
        .filter(|[r, d]| *r > 0.0 && *d > 0.0)
        .collect();
    let (Some(ratio), Some(ratio_without_zeros)) = (ratio(&seconds), ratio(&moving)) else {
        return not_tested(
            NAME,
            format!(
                "only {} s with work on both instruments; ride at least a minute",
                moving.len()
            ),
        );
    };
    let work = |index: usize| seconds.iter().map(|pair| pair[index]).sum::<f64>() / 1000.0;
    let (reference_kj, under_test_kj) = (work(0), work(1));
    let zero_under_load_s = seconds
        .iter()
        .filter(|[r, d]| *r > 20.0 && *d <= 0.0)
        .count() as f64;
    let percent = |estimate: Estimate| {
        let interval = interval_95(estimate).map(|x| 100.0 * (x - 1.0));
        format!(
            "{} % ({})",
            words::signed(100.0 * (estimate.value - 1.0), 2),
            words::interval(interval, 2, "%")
        )
    };
    let sentence = format!(
        "Over {:.0} minutes the device counts {under_test_kj:.0} kJ where the reference counts \
         {reference_kj:.0} kJ: {}; without zeros {}.",
        seconds.len() as f64 / 60.0,
        percent(ratio),
        percent(ratio_without_zeros)
    );
    let mut sums = [0.0, 0.0];
    let mut curve = Vec::new();
    for (second, [r, d]) in seconds.iter().enumerate() {
        sums = [sums[0] + r, sums[1] + d];
        if second % 30 == 29 && sums[0] > 0.0 {
            curve.push([
                (second + 1) as f64 / 60.0,
                100.0 * (sums[1] / sums[0] - 1.0),
            ]);
        }
    }
    let plots = vec![words::plot(
        "work-ratio",
        "Work so far, device against reference",
        [
            "time covered by both, minutes",
            "device minus reference, % of reference",
        ],
        vec![words::line(Ink::UnderTest, "all covered seconds", curve)],
        format!("{} s covered by both, zeros included", seconds.len()),
    )];
    let result = Energy {
        seconds: seconds.len() as f64,
        reference_kj,
        under_test_kj,
        ratio,
        ratio_without_zeros,
        zero_under_load_s,
    };
    Ok(given.as_indicated(Tested {
        result,
        sentence,
        plots,
    }))
}

/// Ratio of sums with its uncertainty by leaving out one block at a time.
fn ratio(seconds: &[[f64; 2]]) -> Option<Estimate> {
    if (seconds.len() as f64) < LEAST_S {
        return None;
    }
    let size = seconds.len().div_ceil(BLOCKS);
    let sum = |block: &[[f64; 2]]| {
        block
            .iter()
            .fold([0.0, 0.0], |sum, pair| [sum[0] + pair[0], sum[1] + pair[1]])
    };
    let blocks: Vec<[f64; 2]> = seconds.chunks(size).map(sum).collect();
    let total = sum(&blocks);
    if !exceeds(total[0], 0.0) {
        return None;
    }
    let n = blocks.len() as f64;
    let each: Vec<f64> = blocks
        .iter()
        .filter(|block| total[0] - block[0] > 0.0)
        .map(|block| (total[1] - block[1]) / (total[0] - block[0]))
        .collect();
    let mean = each.iter().sum::<f64>() / each.len().max(1) as f64;
    let spread: f64 = each.iter().map(|x| (x - mean).powi(2)).sum();
    Some(Estimate {
        value: total[1] / total[0],
        u: ((n - 1.0) / n * spread).sqrt(),
        dof: (n - 1.0).max(1.0),
    })
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session};
    use super::*;

    fn ride(seed: u64, gain: f64, zeros: bool) -> Session {
        let mut noise = Noise::new(seed);
        Session::pair(
            1800,
            |t| {
                let truth = 180.0 + 60.0 * (t / 200.0).sin() + 10.0 * noise.normal();
                let lost = zeros && (900.0..918.0).contains(&t);
                let shown = if lost {
                    0.0
                } else {
                    gain * truth + 4.0 * noise.normal()
                };
                (truth, shown)
            },
            Session::usual_motion,
        )
    }

    #[test]
    fn the_ratio_is_found_with_zeros_in_and_out() {
        let mut covered = 0;
        for seed in 0..40 {
            let found = energy(&ride(seed, 1.02, false).given()).unwrap().result;
            let [low, high] = interval_95(found.ratio);
            covered += usize::from(low <= 1.02 && 1.02 <= high);
        }
        assert!(covered >= 35, "{covered} of 40");
        let found = energy(&ride(1, 1.0, true).given()).unwrap().result;
        assert!(found.ratio.value < 0.995 && (found.ratio_without_zeros.value - 1.0).abs() < 2e-3);
        assert_eq!(found.zero_under_load_s, 18.0);
    }

    #[test]
    fn nothing_to_compare() {
        assert!(energy(&Session::empty().given()).is_err());
        let zero = Session::pair(600, |_| (0.0, 0.0), Session::usual_motion);
        assert!(energy(&zero.given()).is_err());
        let negative = Session::pair(600, |_| (-5.0, 3.0), Session::usual_motion);
        assert!(energy(&negative.given()).is_err());
    }
}
