//! The shapes of smoothing, and what the reference would show through one of them.

use crate::examinations::transitions::Piece;

/// Shapes of smoothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kernel {
    /// Mean over a window (finite impulse response).
    Box,
    /// First-order lag.
    FirstOrder,
}

/// One value of the device beside the piece of the reference it belongs to.
pub(super) struct Sample {
    pub(super) piece: usize,
    pub(super) at_s: f64,
    pub(super) value: f64,
}

/// The pieces of the reference and the samples of the device; samples of a piece lie together.
pub(super) struct Scene<'a> {
    pub(super) pieces: &'a [Piece],
    pub(super) samples: &'a [Sample],
    /// Values of the samples.
    pub(super) y: Vec<f64>,
}

impl Scene<'_> {
    /// What the reference would show through a kernel, at every sample.
    pub(super) fn through(
        &self,
        kernel: Kernel,
        [lag_s, window_s]: [f64; 2],
        scratch: &mut Scratch,
    ) {
        let Scratch { seen, curve } = scratch;
        seen.clear();
        match kernel {
            Kernel::Box => {
                let boxed = |s: &Sample| self.pieces[s.piece].boxed(s.at_s, lag_s, window_s);
                seen.extend(self.samples.iter().map(boxed));
            }
            Kernel::FirstOrder => {
                for run in self.samples.chunk_by(|a, b| a.piece == b.piece) {
                    let piece = &self.pieces[run[0].piece];
                    piece.lagged(0.5 * window_s, curve);
                    seen.extend(run.iter().map(|s| piece.on_grid(curve, s.at_s - lag_s)));
                }
            }
        }
    }
}

/// Room that is used again for every kernel tried.
#[derive(Default)]
pub(super) struct Scratch {
    pub(super) seen: Vec<f64>,
    curve: Vec<f64>,
}
