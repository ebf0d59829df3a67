//! What was examined. An examination that was not made is absent here and listed with its reason.

use super::made::put;
use super::number::{estimate, some_estimate};
use analysis::examinations::bursts::{Bursts, Effort};
use analysis::examinations::dependence::Dependence;
use analysis::examinations::drop_out_rates::DropOutRates;
use analysis::examinations::echo::{Echo, EchoJudgement};
use analysis::examinations::radio::Radio;
use analysis::examinations::response::{Response, StepShape};
use analysis::examinations::slope::Slope;
use analysis::examinations::smoothing::{Kernel, Smoothing};
use analysis::examinations::stability::Stability;
use analysis::examinations::warm_up::{Shape, WarmUp};
use analysis::examinations::{DropOut, DropOutKind};
use analysis::findings::Findings;
use analysis::outcome::{Outcome, Tested};
use serde_json::{Map, Value, json};

pub(super) fn all(findings: &Findings) -> Value {
    let made = &findings.examinations;
    let mut all = Map::new();
    all.insert(
        "dropouts".to_owned(),
        findings.dropouts.iter().map(drop_out).collect(),
    );
    put(&mut all, "response", &made.response, response);
    put(&mut all, "stability", &made.stability, stability);
    put(&mut all, "bursts", &made.bursts, bursts);
    put(&mut all, "dropout_rates", &made.drop_outs, drop_out_rates);
    put(&mut all, "smoothing", &made.smoothing, smoothing);
    put(&mut all, "echo", &made.echo, echo);
    put(&mut all, "warm_up", &made.warm_up, warm_up);
    put(
        &mut all,
        "speed_dependence",
        &made.speed_dependence,
        |found| dependence(found, "pct_per_10_kmh"),
    );
    put(
        &mut all,
        "cadence_dependence",
        &made.cadence_dependence,
        |found| dependence(found, "pct_per_10_rpm"),
    );
    put(&mut all, "slope", &made.slope, slope);
    put(&mut all, "radio", &made.radio, radio);
    put(&mut all, "level", &made.level, |level| {
        json!({
            "offset_w": estimate(&level.offset_w),
            "offset_interval_w": level.offset_interval_w,
            "scale_pct": estimate(&level.scale_pct),
            "scale_interval_pct": level.scale_interval_pct,
        })
    });
    put(&mut all, "agreement", &made.agreement, |agreement| {
        json!({
            "bias_pct": estimate(&agreement.bias_pct),
            "bias_interval_pct": agreement.bias_interval_pct,
            "sd_pct": agreement.sd_pct,
            "limits_pct": agreement.limits_pct,
            "lower_interval_pct": agreement.lower_interval_pct,
            "upper_interval_pct": agreement.upper_interval_pct,
            "share_within": agreement.share_within,
            "share_within_perfect": agreement.share_within_perfect,
            "windows": agreement.windows,
            "conditions": agreement.conditions,
        })
    });
    put(&mut all, "apportioning", &made.apportioning, |found| {
        found
            .sources
            .iter()
            .map(|source| {
                json!({
                    "source": source.source,
                    "noise_w": source.noise_w,
                    "noise_interval_w": source.noise_interval_w,
                    "bias_pct": source.bias_pct.value,
                    "bias_u_pct": source.bias_pct.u,
                })
            })
            .collect()
    });
    put(&mut all, "consistency", &made.consistency, |found| {
        found
            .pairs
            .iter()
            .map(|pair| {
                json!({
                    "a": pair.a,
                    "b": pair.b,
                    "difference_pct": pair.difference_pct.value,
                    "u_pct": pair.difference_pct.u,
                    "e_n": pair.e_n,
                })
            })
            .collect()
    });
    super::further::add(&mut all, findings);
    let sentences = sentences(findings);
    all.insert("sentences".to_owned(), sentences);
    Value::Object(all)
}

/// Each examination in one plain sentence.
fn sentences(findings: &Findings) -> Value {
    let made = &findings.examinations;
    let mut all = Map::new();
    let mut add = |name: &str, sentence: Option<&String>| {
        if let Some(sentence) = sentence {
            all.insert(name.to_owned(), json!(sentence));
        }
    };
    add("level", said(&made.level));
    add("hysteresis", said(&made.hysteresis));
    add("anchors", said(&made.anchors));
    add("cadence_dependence", said(&made.cadence_dependence));
    add("speed_dependence", said(&made.speed_dependence));
    add("warm_up", said(&made.warm_up));
    add("response", said(&made.response));
    add("stability", said(&made.stability));
    add("disturbance", said(&made.disturbance));
    add("smoothing", said(&made.smoothing));
    add("echo", said(&made.echo));
    add("bursts", said(&made.bursts));
    add("dropout_rates", said(&made.drop_outs));
    add("radio", said(&made.radio));
    add("slope", said(&made.slope));
    add("virtual_speed", said(&made.virtual_speed));
    add("coast_down", said(&made.coast_down));
    add("inertia", said(&made.inertia));
    add("agreement", said(&made.agreement));
    add("energy", said(&made.energy));
    add("best_means", said(&made.best_means));
    add("consistency", said(&made.consistency));
    add("apportioning", said(&made.apportioning));
    add("assurance", said(&made.assurance));
    Value::Object(all)
}

fn said<R>(outcome: &Outcome<R>) -> Option<&String> {
    outcome
        .as_ref()
        .ok()
        .map(|tested: &Tested<R>| &tested.sentence)
}

fn drop_out(found: &DropOut) -> Value {
    json!({
        "kind": drop_out_kind(found.kind),
        "from_s": found.from.as_secs_f64(),
        "seconds": (found.to - found.from).as_secs_f64(),
        "lost_kj": found.lost_kj,
    })
}

fn drop_out_kind(kind: DropOutKind) -> &'static str {
    match kind {
        DropOutKind::MissingPackets => "missing_packets",
        DropOutKind::ZeroUnderLoad => "zero_under_load",
        DropOutKind::Frozen => "frozen",
        DropOutKind::Coasting => "coasting",
        DropOutKind::Reconnection => "reconnection",
    }
}

fn drop_out_rates(found: &DropOutRates) -> Value {
    json!({
        "hours": found.hours,
        "lost_kj": found.lost_kj,
        "kinds": found.kinds.iter().map(|rate| json!({
            "kind": drop_out_kind(rate.kind),
            "count": rate.count,
            "per_hour": rate.per_hour,
            "interval_per_hour": rate.interval_per_hour,
            "seconds": rate.seconds,
            "longest_s": rate.longest_s,
            "lost_kj": rate.lost_kj,
        })).collect::<Vec<_>>(),
    })
}

fn response(found: &Response) -> Value {
    found
        .groups
        .iter()
        .map(|group| {
            json!({
                "change_w": group.change_w,
                "repeats": group.repeats,
                "confirmation_s": some_estimate(group.confirmation_s.as_ref()),
                "on_reference": step_shape(&group.on_reference),
                "on_device": step_shape(&group.on_device),
            })
        })
        .collect()
}

fn step_shape(shape: &StepShape) -> Value {
    json!({
        "dead_time_s": some_estimate(shape.dead_time_s.as_ref()),
        "rise_s": some_estimate(shape.rise_s.as_ref()),
        "overshoot_pct": some_estimate(shape.overshoot_pct.as_ref()),
        "settle_5_s": some_estimate(shape.settle_5_s.as_ref()),
        "settle_2_s": some_estimate(shape.settle_2_s.as_ref()),
        "work_error_kj": some_estimate(shape.work_error_kj.as_ref()),
    })
}

fn stability(found: &Stability) -> Value {
    found
        .holds
        .iter()
        .map(|hold| {
            json!({
                "from_s": hold.from.as_secs_f64(),
                "to_s": hold.to.as_secs_f64(),
                "target_w": hold.target_w,
                "reference_w": hold.reference_w,
                "reference_sd_w": estimate(&hold.reference_sd_w),
                "under_test_sd_w": hold.under_test_sd_w,
                "oscillation": hold.oscillation.as_ref().map(|swing| json!({
                    "period_s": swing.period_s,
                    "amplitude_w": swing.amplitude_w,
                    "p": swing.p,
                })),
            })
        })
        .collect()
}

fn bursts(found: &Bursts) -> Value {
    found.efforts.iter().map(effort).collect()
}

fn effort(effort: &Effort) -> Value {
    json!({
        "onset_s": effort.onset.as_secs_f64(),
        "peaks": effort.peaks.iter().map(|peak| json!({
            "seconds": peak.seconds,
            "reference_w": peak.reference_w,
            "under_test_w": peak.under_test_w,
            "later_s": peak.later_s,
        })).collect::<Vec<_>>(),
        "work": effort.work.as_ref().map(|work| json!({
            "from_s": work.from.as_secs_f64(),
            "to_s": work.to.as_secs_f64(),
            "speed_kmh": work.speed_kmh,
            "reference_kj": work.reference_kj,
            "under_test_kj": work.under_test_kj,
        })),
        "zero_after_s": effort.zero_after_s,
    })
}

fn smoothing(found: &Smoothing) -> Value {
    json!({
        "kernel": match found.kernel {
            Kernel::Box => "box",
            Kernel::FirstOrder => "first_order",
        },
        "lag_s": found.lag_s.value,
        "lag_u_s": found.lag_s.u,
        "window_s": found.window_s.value,
        "window_u_s": found.window_s.u,
        "window_interval_s": found.window_interval_s,
        "mean_delay_s": estimate(&found.mean_delay_s),
        "claimed": found.claimed,
    })
}

fn echo(found: &Echo) -> Value {
    json!({
        "judgement": match found.judgement {
            EchoJudgement::Measures => "measures",
            EchoJudgement::Echoes => "echoes its target",
            EchoJudgement::Undecided => "undecided",
        },
        "partial_r2_reference": found.partial_r2_reference,
        "partial_r2_target": found.partial_r2_target,
    })
}

fn warm_up(found: &WarmUp) -> Value {
    json!({
        "shape": match found.shape {
            Shape::Constant => "constant",
            Shape::Linear => "linear",
            Shape::Saturating => "saturating",
        },
        "change_pct": found.change_pct.value,
        "u_pct": found.change_pct.u,
        "interval_pct": found.interval_pct,
        "claimed": found.claimed,
        "minutes": found.minutes,
        "tau_s": some_estimate(found.tau_s.as_ref()),
        "slope_pct_per_10_min": estimate(&found.slope_pct_per_10_min),
    })
}

fn dependence(found: &Dependence, name: &str) -> Value {
    json!({
        name: found.slope_pct_per_10.value,
        "u_pct": found.slope_pct_per_10.u,
        "interval": found.interval_pct_per_10,
        "claimed": found.claimed,
        "range": found.range,
    })
}

fn slope(found: &Slope) -> Value {
    json!({
        "mass_kg": estimate(&found.mass_kg),
        "mass_interval_kg": found.mass_interval_kg,
        "crr": some_estimate(found.crr.as_ref()),
        "commanded_crr": found.commanded_crr,
        "drag_kg_per_m": some_estimate(found.drag_kg_per_m.as_ref()),
        "commanded_cw_kg_per_m": found.commanded_cw_kg_per_m,
        "ceiling_pct": found.ceiling_pct,
        "response_s": some_estimate(found.response_s.as_ref()),
    })
}

fn radio(found: &Radio) -> Value {
    found
        .streams
        .iter()
        .map(|stream| {
            json!({
                "source": stream.source,
                "packets": stream.packets,
                "links": stream.links,
                "median_s": stream.median_s,
                "p95_s": stream.p95_s,
                "p99_s": stream.p99_s,
                "longest_s": stream.longest_s,
                "rate_hz": stream.rate_hz,
                "missing": stream.missing,
                "loss": stream.loss,
                "loss_interval": stream.loss_interval,
            })
        })
        .collect()
}
