//! The zero of the reference: its change over the ride, and whether it was set anew meanwhile.

use super::concern::{Concern, ConcernKind, concern};
use crate::evidence::{Role, ZeroOffset};
use crate::examinations::given::{Source, SteadyWindow};
use crate::examinations::integral::secs;
use crate::examinations::prepared::Prepared;
use crate::examinations::words;
use crate::stats::two_samples::{Summary, welch};
use std::f64::consts::TAU;
use units::Series;

/// Change of an instrument's zero.
#[derive(Clone, Debug, PartialEq)]
pub struct ZeroChange {
    /// Name of the stream.
    pub source: String,
    /// Last minus first, N·m.
    pub change_nm: f64,
    /// The same as power at the mean cadence, W.
    pub change_w: f64,
    /// Standard uncertainty to carry, %: half the change at the mean power.
    pub u_pct: f64,
}

/// A zero that changes by more than this between two readings was set anew, N·m.
const SET_ANEW_NM: f64 = 0.15;

pub(super) fn zero_change(given: &Prepared<'_>, source: &Source<'_>) -> Option<ZeroChange> {
    let zeros = &source.stream.zero_offsets;
    let (first, last) = (zeros.first()?, zeros.last()?);
    if zeros.len() < 2 {
        return None;
    }
    let over = |series: &Series| series.mean_over(first.at.min(last.at), given.evidence.end);
    let rpm = given
        .all_sources()
        .find_map(|other| over(&other.stream.cadence_rpm))
        .map_or(90.0, |mean| mean.value);
    let mean_w = over(&source.stream.power_w).map_or(0.0, |mean| mean.value);
    let change_nm = last.torque_nm - first.torque_nm;
    let change_w = change_nm * rpm * TAU / 60.0;
    Some(ZeroChange {
        source: source.stream.name.clone(),
        change_nm,
        change_w,
        u_pct: if mean_w > 0.0 {
            50.0 * change_w.abs() / mean_w
        } else {
            0.0
        },
    })
}

/// A zero that was set anew during the ride: by its own readings, or because the difference to
/// the device jumped by the same power at every level when the rider coasted.
pub(super) fn automatic_zero(given: &Prepared<'_>, source: &Source<'_>) -> Option<Concern> {
    let zeros = &source.stream.zero_offsets;
    if zeros.len() >= 3 {
        let jump = zeros
            .windows(2)
            .max_by(|a, b| {
                let size = |w: &[ZeroOffset]| (w[1].torque_nm - w[0].torque_nm).abs();
                size(a).total_cmp(&size(b))
            })
            .filter(|w| (w[1].torque_nm - w[0].torque_nm).abs() > SET_ANEW_NM)?;
        return Some(concern(
            ConcernKind::AutomaticZero,
            format!(
                "the zero of {} seems to have been set anew at {}, by {} N·m; switch automatic zero \
             off",
                source.stream.name,
                jump[1].at,
                words::signed(jump[1].torque_nm - jump[0].torque_nm, 2)
            ),
        ));
    }
    if source.stream.role != Role::PrimaryReference {
        return None;
    }
    jump_after_coasting(given, source)
}

fn jump_after_coasting(given: &Prepared<'_>, source: &Source<'_>) -> Option<Concern> {
    // Coasting: the reference shows nothing for at least three seconds.
    let power = &source.stream.power_w;
    let mut pauses: Vec<f64> = Vec::new();
    let mut began: Option<f64> = None;
    for (at, watts) in power.iter() {
        let at_s = secs(at);
        if watts > 3.0 {
            if began.is_some_and(|began| at_s - began >= 3.0) {
                pauses.push(at_s);
            }
            began = None;
        } else if began.is_none() {
            began = Some(at_s);
        }
    }
    let difference = |w: &SteadyWindow| w.under_test_w - w.reference_w;
    for pause_s in pauses {
        let near = |before: bool| -> Vec<f64> {
            given
                .windows
                .iter()
                .filter(|w| {
                    let (from, to) = (secs(w.from), secs(w.to));
                    if before {
                        to <= pause_s && to > pause_s - 400.0
                    } else {
                        from >= pause_s && from < pause_s + 400.0
                    }
                })
                .map(difference)
                .collect()
        };
        let (Some(before), Some(after)) = (Summary::of(&near(true)), Summary::of(&near(false)))
        else {
            continue;
        };
        let Some(jump) = welch(before, after) else {
            continue;
        };
        // Drift and chance move it too; only a clear jump is worth the word.
        if before.n >= 4.0 && after.n >= 4.0 && jump.p() < 1e-4 && jump.value.abs() > 3.0 {
            let at = units::Timestamp::from_secs_f64(pause_s);
            return Some(concern(
                ConcernKind::AutomaticZero,
                format!(
                    "the difference to {} jumped by {} W when the rider had coasted until {at}; its \
                 zero may have been set anew",
                    source.stream.name,
                    words::signed(jump.value, 1)
                ),
            ));
        }
    }
    None
}
