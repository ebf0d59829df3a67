//! Where a recording lies on the clock of the reference: its stretches, their lags and the drift.

use super::agreement::{Agreement, Details, agreement};
use crate::align::joined::weighted_mean;
use crate::findings::{self, Alignment, DriftApplied, LagQuantity, LagSegment};
use crate::outcome::Estimate;
use units::{Series, Span, Timestamp};

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
        agreement(&self.details)
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
    pub(super) fn lag_s(&self, piece: &Piece, at: Timestamp) -> f64 {
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

    pub(super) fn stretches(&self) -> Vec<findings::Stretch> {
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
            weighted_mean(&segments)
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
