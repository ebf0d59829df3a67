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

mod details;
mod joint;
mod placed;
mod sides;
mod track;
mod windows;

use super::INTERPOLATION_U_S;
use crate::findings::{self, Alignment, DriftApplied, LagQuantity, LagSegment};
use crate::outcome::{Estimate, NotTested};
use crate::settings::AlignSettings;
pub use details::{Agreement, Details};
use placed::Joint;
use sides::Sides;
use track::Stretch;
use units::{Series, Span, Timestamp};
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

/// Where a recording lies on the clock of the reference.
#[derive(Clone, Debug, PartialEq)]
pub struct Placement {
    /// Stretches between jumps of the clock, in order; never empty.
    pub pieces: Vec<Piece>,
    /// Drift of the clock, parts per million, where three segments or more agree on one.
    pub drift_ppm: Option<Estimate>,
    /// Whether the drift is applied: it is when it is known to 20 ppm, or when its 95 % interval
    /// excludes zero.
    pub drift_applied: DriftApplied,
    /// By how much the held values of the recording are later than those of the reference although
    /// their records agree, s: half of what they lie further apart.
    pub held_s: f64,
    /// Lags of the segments that were used.
    pub segments: Vec<LagSegment>,
    /// Mean correlation of the windows at this place, without what varies slowly.
    pub correlation: f64,
    /// The same at the next best place: how far this one stands out.
    pub rival: f64,
    /// What power and cadence say beside the steps of the ride, where enough is left to tell.
    pub details: [Option<Details>; 2],
}

/// A stretch of a recording without a jump of its clock.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Beginning on the recorder's clock; the first piece begins at the smallest moment.
    pub from: Timestamp,
    /// Between these moments, on the recorder's clock, the jump before it lies; neither stretch
    /// may be judged there.
    pub unsure: (Timestamp, Timestamp),
    /// Moment on the recorder's clock at which the lag holds.
    pub pivot: Timestamp,
    /// By how much the recorder's clock is ahead of the reference's, s.
    pub lag_s: f64,
    /// Its standard uncertainty, s.
    pub lag_u_s: f64,
}

/// A jump of a recorder's clock, on the clock of the reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Jump {
    /// The first moment behind it, most likely.
    pub at: Timestamp,
    /// By how much the recorder's clock fell behind, s.
    pub by_s: f64,
    /// The first moment at which it may have been.
    pub from: Timestamp,
    /// The last moment at which it may have been, the pause included.
    pub to: Timestamp,
}

impl Placement {
    /// Whether the two recordings agree in more than their steps.
    pub fn agreement(&self) -> Agreement {
        details::agreement(&self.details)
    }

    /// A recording whose clock is that of the reference already.
    pub fn none() -> Self {
        Self {
            pieces: vec![Piece {
                from: Timestamp::from_nanos(i64::MIN),
                unsure: (
                    Timestamp::from_nanos(i64::MIN),
                    Timestamp::from_nanos(i64::MIN),
                ),
                pivot: Timestamp::ZERO,
                lag_s: 0.0,
                lag_u_s: 0.0,
            }],
            drift_ppm: None,
            drift_applied: DriftApplied::No,
            held_s: 0.0,
            segments: Vec::new(),
            correlation: 1.0,
            rival: 0.0,
            details: [None, None],
        }
    }

    fn piece(&self, at: Timestamp) -> &Piece {
        let index = self.pieces.partition_point(|piece| piece.from <= at);
        &self.pieces[index.saturating_sub(1)]
    }

    /// Where a moment of the recording lies on the clock of the reference.
    pub fn on_reference_clock(&self, at: Timestamp) -> Timestamp {
        at - Span::from_secs_f64(self.lag_s(self.piece(at), at))
    }

    /// By how much a piece's clock is ahead at a moment, s.
    fn lag_s(&self, piece: &Piece, at: Timestamp) -> f64 {
        match (self.drift_applied, self.drift_ppm) {
            (DriftApplied::Yes, Some(drift)) => {
                piece.lag_s + drift.value * 1e-6 * (at - piece.pivot).as_secs_f64()
            }
            _ => piece.lag_s,
        }
    }

    /// Standard uncertainty of the place of a moment of the recording, s: that of its piece's lag,
    /// and that of the drift at its distance from the piece's pivot.
    pub fn u_s(&self, at: Timestamp) -> f64 {
        let piece = self.piece(at);
        match (self.drift_applied, self.drift_ppm) {
            (DriftApplied::Yes, Some(drift)) => piece
                .lag_u_s
                .hypot(drift.u * 1e-6 * (at - piece.pivot).as_secs_f64()),
            _ => piece.lag_u_s,
        }
    }

    /// A series on the clock of the reference, its values held together with those of the reference:
    /// earlier by half of what its records lie further apart. Where a jump of the clock lays one
    /// stretch over another, what comes later is left out.
    pub fn series(&self, series: &Series) -> Series {
        let held = Span::from_secs_f64(self.held_s);
        let to = |at: Timestamp| self.on_reference_clock(at) - held;
        let mut moved = Series::with_hold(series.hold_limit());
        for (index, (at, value)) in series.iter().enumerate() {
            if moved.push(to(at), value).is_ok() && series.gap_after(index) {
                moved.break_at(to(series.held_until(index)));
            }
        }
        moved
    }

    /// Moves the whole recording: later by so much, by hand.
    pub fn nudge(&mut self, later: Span) {
        for piece in &mut self.pieces {
            piece.lag_s -= later.as_secs_f64();
        }
    }

    /// Jumps of the clock, in order.
    pub fn jumps(&self) -> Vec<Jump> {
        self.pieces
            .windows(2)
            .map(|pair| {
                let before = self.lag_s(&pair[0], pair[1].from);
                let by_s = before - self.lag_s(&pair[1], pair[1].from);
                // The stretch behind a pause that no clock counted lies later by the pause.
                let on_reference =
                    |piece: &Piece, at: Timestamp| at - Span::from_secs_f64(self.lag_s(piece, at));
                let from = on_reference(&pair[0], pair[1].unsure.0);
                let to = on_reference(&pair[1], pair[1].unsure.1);
                Jump {
                    at: self.on_reference_clock(pair[1].from),
                    by_s,
                    from: from.min(to),
                    to: to.max(from),
                }
            })
            .collect()
    }

    fn stretches(&self) -> Vec<findings::Stretch> {
        let jumps = self.jumps();
        self.pieces
            .iter()
            .enumerate()
            .map(|(place, piece)| findings::Stretch {
                from: place.checked_sub(1).map(|before| jumps[before].to),
                to: jumps.get(place).map(|jump| jump.from),
                lag_s: piece.lag_s,
                lag_u_s: piece.lag_u_s,
            })
            .collect()
    }

    /// The placement as an alignment of the findings.
    pub fn alignment(&self, source: &str) -> Alignment {
        let of = |quantity: LagQuantity| {
            let segments: Vec<LagSegment> = self
                .segments
                .iter()
                .copied()
                .filter(|segment| segment.quantity == quantity)
                .collect();
            super::weighted_mean(&segments)
        };
        let one_piece = self.pieces.len() == 1;
        Alignment {
            source: source.to_owned(),
            lag_s: self.pieces[0].lag_s,
            shift_s: self.pieces[0].lag_s + self.held_s,
            lag_u_s: self
                .pieces
                .iter()
                .fold(0.0, |u, piece| piece.lag_u_s.max(u)),
            drift_ppm: self.drift_ppm,
            pivot: self.pieces[0].pivot,
            drift_applied: self.drift_applied,
            from_power: of(LagQuantity::Power).filter(|_| one_piece),
            from_cadence: of(LagQuantity::Cadence).filter(|_| one_piece),
            segments: self.segments.clone(),
            stretches: self.stretches(),
            refused: None,
        }
    }
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
        examination: super::EXAMINATION,
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
    placement.held_s = super::held_difference_s(reference, records);
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
