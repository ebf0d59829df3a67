//! Placing: where a recording with a clock of its own lies on the clock of the reference.
//!
//! Recorders start minutes apart, their clocks run at different rates, and one may have paused
//! without counting the pause. So the rough place is searched window by window over all shifts
//! ([`windows`]); the moments at which the clock jumped are found by the most likely course of the
//! lag near the rough places ([`track`]); each stretch between jumps gets its lag, and all of them
//! one drift, by least squares over the whole recording ([`joint`]). Whether the two are of one ride
//! at all, and not of one script on two days, is what the details say ([`details`]).
//!
//! What is placed is the recorder's clock. A delay of the instrument that does not change, and what
//! a recorder cuts off its time stamps on average, cannot be told from a clock that is set
//! differently and are part of the lag. Stamps in whole seconds place a single record no better than
//! to half a second, whatever the lag.
//!
//! What cannot be placed surely is refused, never guessed. How well it is done is shown by
//! `examples/placing_study.rs`.

mod agreement;
mod details;
mod joint;
mod placed;
mod placement;
mod sides;
mod track;
mod windows;

use super::grid::INTERPOLATION_U_S;
use super::held::held_difference_s;
use super::joined::EXAMINATION;
use crate::findings::{DriftApplied, LagQuantity};
use crate::outcome::{Estimate, NotTested};
use crate::settings::AlignSettings;
pub use agreement::{Agreement, Details};
use placed::Joint;
pub use placement::{Jump, Piece, Placement};
use sides::Sides;
use track::Stretch;
use units::{Series, Timestamp};
use windows::{JUMP_COST, Joined, Path, Window, path, rival, windows};

/// Mean correlation of the windows below which the rides are not the same. Unrelated rides reach
/// 0.4 somewhere among all shifts.
const LEAST_CORRELATION: f64 = 0.65;
/// The same where the clock is said to have jumped: with jumps, chance reaches 0.6.
const LEAST_WITH_JUMPS: f64 = 0.75;

/// Power and cadence of one recording.
#[derive(Clone, Copy, Debug)]
pub struct Recorded<'a> {
    /// Power, W.
    pub power_w: &'a Series,
    /// Cadence, rpm; may be empty.
    pub cadence_rpm: &'a Series,
}

/// Places a recording on the clock of the reference.
///
/// # Errors
/// [`NotTested`] with the reason if the two do not surely belong to one ride, or show too little
/// change to tell.
pub fn place(
    name: &str,
    reference: Recorded<'_>,
    stream: Recorded<'_>,
    settings: &AlignSettings,
) -> Result<Placement, NotTested> {
    let refused = |reason: String| NotTested {
        examination: EXAMINATION,
        reason: format!("{name}: {reason}"),
    };
    let quantities = [
        (LagQuantity::Power, reference.power_w, stream.power_w),
        (
            LagQuantity::Cadence,
            reference.cadence_rpm,
            stream.cadence_rpm,
        ),
    ];
    let mut found: Option<(Path, Vec<Window>)> = None;
    for (_, reference, stream) in quantities {
        let (Some(reference), Some(stream)) = (Joined::of(reference), Joined::of(stream)) else {
            continue;
        };
        let windows = windows(&reference, &stream);
        let path = path(&windows, JUMP_COST)
            .filter(|path| !path.jumps() || path.mean >= LEAST_WITH_JUMPS)
            .or_else(|| path(&windows, f64::INFINITY));
        if let Some(path) = path
            && found.as_ref().is_none_or(|(best, _)| path.mean > best.mean)
        {
            found = Some((path, windows));
        }
    }
    let Some((path, windows)) = found else {
        return Err(refused(
            "the two recordings overlap for less than seven minutes with changes of power or \
             cadence; record longer, with a few clear changes"
                .to_owned(),
        ));
    };
    if path.mean < LEAST_CORRELATION {
        return Err(refused(format!(
            "the two recordings do not resemble each other at any shift (correlation {:.2}, {:.2} \
             is asked for); they are not of one ride, or one of them hardly changes",
            path.mean, LEAST_CORRELATION
        )));
    }
    let rival = rival(&windows, &path);
    if path.mean - rival < 0.08 {
        return Err(refused(format!(
            "two places fit almost equally well (correlations {:.2} and {rival:.2}); the ride \
             repeats itself too evenly to tell them apart",
            path.mean
        )));
    }
    let sides = quantities.map(|(quantity, reference, stream)| {
        Sides::of(reference, stream).map(|sides| (quantity, sides))
    });
    fine(
        &path,
        &sides,
        [reference.power_w, stream.power_w],
        settings,
        (path.mean, rival),
    )
    .ok_or_else(|| {
        refused(
            "no clear minimum of the difference; ride a few clear changes of power and cadence"
                .to_owned(),
        )
    })
}

/// The exact lag of each stretch and one drift for all.
fn fine(
    path: &Path,
    sides: &[Option<(LagQuantity, Sides)>; 2],
    [reference, records]: [&Series; 2],
    settings: &AlignSettings,
    (correlation, rival): (f64, f64),
) -> Option<Placement> {
    let rough_s = path.shifts_s();
    let first = sides.iter().flatten().next()?;
    let stretches = track::stretches(&first.1, &rough_s, records)?;
    let alone = |place: usize| -> Option<Joint> {
        let (quantity, sides) = sides[place].as_ref()?;
        let joint = joint::fit(&[(*quantity, sides)], &stretches)?;
        let worst = (joint.stretches.iter()).fold(0.0, |worst: f64, placed| placed.u_s.max(worst));
        (worst <= settings.max_u_s).then_some(joint)
    };
    // Power may be smoothed where cadence is not: the two are joined only if they agree.
    let joint = match (alone(0), alone(1)) {
        (Some(power), Some(cadence)) => {
            let agree = power
                .stretches
                .iter()
                .zip(&cadence.stretches)
                .all(|(a, b)| {
                    let at = power.drift * (b.middle_s - a.middle_s);
                    (a.lag_s + at - b.lag_s).abs() <= 2.0 * a.u_s.hypot(b.u_s)
                });
            let both: Vec<(LagQuantity, &Sides)> = sides
                .iter()
                .flatten()
                .map(|(quantity, sides)| (*quantity, sides))
                .collect();
            if agree {
                joint::fit(&both, &stretches).unwrap_or(power)
            } else {
                power
            }
        }
        (Some(joint), None) | (None, Some(joint)) => joint,
        (None, None) => return None,
    };
    let mut placement = placement(&stretches, joint, (correlation, rival));
    placement.held_s = held_difference_s(reference, records);
    placement.details = [0, 1].map(|place| {
        let (_, sides) = sides[place].as_ref()?;
        details::details(sides, &placement)
    });
    Some(placement)
}

fn placement(stretches: &[Stretch], joint: Joint, (correlation, rival): (f64, f64)) -> Placement {
    let pieces = stretches
        .iter()
        .zip(&joint.stretches)
        .map(|(stretch, placed)| Piece {
            from: stretch.from,
            unsure: stretch.unsure,
            pivot: Timestamp::from_secs_f64(placed.middle_s),
            lag_s: placed.lag_s,
            lag_u_s: placed.u_s.hypot(INTERPOLATION_U_S),
        })
        .collect();
    Placement {
        pieces,
        drift_ppm: Some(Estimate {
            value: 1e6 * joint.drift,
            u: 1e6 * joint.drift_u,
            dof: joint.dof,
        }),
        drift_applied: DriftApplied::Yes,
        held_s: 0.0,
        segments: joint.segments,
        correlation,
        rival,
        details: [None, None],
    }
}
