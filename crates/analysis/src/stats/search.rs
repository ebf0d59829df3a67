//! Search for the smallest value of a smooth function of one or two variables.

/// Golden ratio minus one.
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// The place of the smallest value of `f` between two ends, to within `tolerance`.
/// The function should have one valley there; with several, one of them is found.
pub fn golden_section(
    mut low: f64,
    mut high: f64,
    tolerance: f64,
    mut f: impl FnMut(f64) -> f64,
) -> f64 {
    let mut left = high - GOLDEN * (high - low);
    let mut right = low + GOLDEN * (high - low);
    let (mut f_left, mut f_right) = (f(left), f(right));
    while high - low > tolerance {
        if f_left <= f_right {
            high = right;
            right = left;
            f_right = f_left;
            left = high - GOLDEN * (high - low);
            f_left = f(left);
        } else {
            low = left;
            left = right;
            f_left = f_right;
            right = low + GOLDEN * (high - low);
            f_right = f(right);
        }
        if left >= right {
            break;
        }
    }
    if f_left <= f_right { left } else { right }
}

/// Walks down from a start by trying steps along both axes and halving them when none helps.
/// Returns the place and the value. The box `[low, high]` is kept per axis.
pub fn pattern_search(
    start: [f64; 2],
    mut step: [f64; 2],
    bounds: [[f64; 2]; 2],
    tolerance: f64,
    mut f: impl FnMut([f64; 2]) -> f64,
) -> ([f64; 2], f64) {
    let clamp = |p: [f64; 2]| {
        [
            p[0].clamp(bounds[0][0], bounds[0][1]),
            p[1].clamp(bounds[1][0], bounds[1][1]),
        ]
    };
    let mut best = clamp(start);
    let mut value = f(best);
    while step[0].max(step[1]) > tolerance {
        let tries = [
            [step[0], 0.0],
            [-step[0], 0.0],
            [0.0, step[1]],
            [0.0, -step[1]],
            // The delay and the length of a kernel trade against each other along a diagonal.
            [0.5 * step[0], -step[1]],
            [-0.5 * step[0], step[1]],
        ];
        let mut improved = false;
        for by in tries {
            let place = clamp([best[0] + by[0], best[1] + by[1]]);
            if place == best {
                continue;
            }
            let found = f(place);
            if found < value {
                (best, value, improved) = (place, found, true);
                break;
            }
        }
        if !improved {
            step = [0.5 * step[0], 0.5 * step[1]];
        }
    }
    (best, value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn valleys_are_found() {
        let x = golden_section(-3.0, 8.0, 1e-7, |x| (x - 1.25).powi(2));
        assert!((x - 1.25).abs() < 1e-6);
        let (p, _) = pattern_search(
            [0.0, 0.0],
            [1.0, 1.0],
            [[-5.0, 5.0], [0.0, 9.0]],
            1e-6,
            |p| (p[0] - 1.3).powi(2) + (p[0] + 0.5 * p[1] - 3.0).powi(2),
        );
        assert!(
            (p[0] - 1.3).abs() < 1e-4 && (p[1] - 3.4).abs() < 1e-3,
            "{p:?}"
        );
    }
}
