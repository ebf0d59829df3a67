//! Members of the examinations that speak of levels, work, motion and the reference itself.

use super::made::put;
use super::number::{estimate, some_estimate};
use analysis::examinations::assurance::{Assurance, ConcernKind};
use analysis::examinations::best_means::BestMeans;
use analysis::examinations::coast_down::CoastDown;
use analysis::examinations::disturbance::Disturbance;
use analysis::findings::Findings;
use serde_json::{Map, Value, json};

pub(super) fn add(all: &mut Map<String, Value>, findings: &Findings) {
    let made = &findings.examinations;
    put(all, "hysteresis", &made.hysteresis, |found| {
        json!({
            "up_minus_down_pct": estimate(&found.up_minus_down_pct),
            "interval_pct": found.interval_pct,
            "claimed": found.claimed,
            "drift_taken_out": found.drift_taken_out,
            "pairs": found.pairs.iter().map(|pair| json!({
                "level_w": pair.level_w,
                "up_pct": pair.up_pct,
                "down_pct": pair.down_pct,
            })).collect::<Vec<_>>(),
        })
    });
    put(all, "anchors", &made.anchors, |found| {
        json!({
            "level_w": found.level_w,
            "change_pct": estimate(&found.change_pct),
            "interval_pct": found.interval_pct,
            "claimed": found.claimed,
            "between_visits_pct": found.between_visits_pct,
            "visits": found.visits.iter().map(|visit| json!({
                "minute": visit.minute,
                "difference_pct": visit.error_pct,
                "u_pct": visit.u_pct,
            })).collect::<Vec<_>>(),
        })
    });
    put(all, "energy", &made.energy, |found| {
        json!({
            "seconds": found.seconds,
            "reference_kj": found.reference_kj,
            "under_test_kj": found.under_test_kj,
            "ratio": estimate(&found.ratio),
            "ratio_without_zeros": estimate(&found.ratio_without_zeros),
            "zero_under_load_s": found.zero_under_load_s,
        })
    });
    put(all, "best_means", &made.best_means, best_means);
    put(all, "disturbance", &made.disturbance, disturbance);
    put(all, "virtual_speed", &made.virtual_speed, |found| {
        json!({
            "follows_gear": found.follows_gear,
            "scatter_pct": found.scatter_pct,
            "gears": found.gears.iter().map(|gear| json!({
                "development_m": estimate(&gear.development_m),
                "windows": gear.windows,
            })).collect::<Vec<_>>(),
        })
    });
    put(all, "coast_down", &made.coast_down, coast_down);
    put(all, "inertia", &made.inertia, |found| {
        json!({
            "unreported_kg": estimate(&found.unreported_kg),
            "interval_kg": found.interval_kg,
            "claimed": found.claimed,
            "stated_kg": found.stated_kg,
            "seconds": found.seconds,
        })
    });
    put(all, "assurance", &made.assurance, assurance);
}

fn best_means(found: &BestMeans) -> Value {
    found
        .durations
        .iter()
        .map(|best| {
            json!({
                "seconds": best.seconds,
                "from_s": best.from.as_secs_f64(),
                "reference_w": best.reference_w,
                "under_test_w": best.under_test_w,
                "ratio": estimate(&best.ratio),
                "own_best_w": best.own_best_w,
            })
        })
        .collect()
}

fn disturbance(found: &Disturbance) -> Value {
    json!({
        "peak_w": estimate(&found.peak_w),
        "claimed": found.claimed,
        "changes": found.changes.iter().map(|change| json!({
            "target_w": change.target_w,
            "before_rpm": change.before_rpm,
            "after_rpm": change.after_rpm,
            "peak_w": change.peak_w,
            "quiet_peak_w": change.quiet_peak_w,
            "recovery_s": change.recovery_s,
            "work_error_kj": change.work_error_kj,
        })).collect::<Vec<_>>(),
    })
}

fn coast_down(found: &CoastDown) -> Value {
    let [constant, linear, quadratic] = &found.deceleration;
    json!({
        "constant_m_per_s2": some_estimate(constant.as_ref()),
        "linear_per_s": some_estimate(linear.as_ref()),
        "quadratic_per_m": some_estimate(quadratic.as_ref()),
        "repeatability_pct": found.repeatability_pct,
        "runs": found.runs.iter().map(|run| json!({
            "from_kmh": run.from_kmh,
            "to_kmh": run.to_kmh,
            "seconds": run.seconds,
        })).collect::<Vec<_>>(),
    })
}

fn assurance(found: &Assurance) -> Value {
    json!({
        "zeros": found.zeros.iter().map(|zero| json!({
            "source": zero.source,
            "change_nm": zero.change_nm,
            "change_w": zero.change_w,
            "u_pct": zero.u_pct,
        })).collect::<Vec<_>>(),
        "concerns": found.concerns.iter().map(|concern| json!({
            "kind": concern_kind(concern.kind),
            "blocks": concern.blocks,
            "words": concern.words,
        })).collect::<Vec<_>>(),
    })
}

fn concern_kind(kind: ConcernKind) -> &'static str {
    match kind {
        ConcernKind::ZeroNotChecked => "zero_not_checked",
        ConcernKind::ZeroMoved => "zero_moved",
        ConcernKind::OneSided => "one_sided",
        ConcernKind::AutomaticZero => "automatic_zero",
        ConcernKind::Circular => "circular",
    }
}
