//! All cells of a session, and how well a repeat repeats over all of them.

use super::data::CellData;
use crate::gate::Window;

/// Degrees of freedom that the assumed repeat-to-repeat scatter is worth beside a measured one.
const ASSUMED_DOF: f64 = 2.0;

/// Repeat-to-repeat scatter of one visit, pooled over all cells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeatability {
    /// Standard deviation between visits beyond what scatter within them explains, %.
    pub sd_pct: f64,
    /// Degrees of freedom.
    pub dof: f64,
}

/// All cells of a session, or of the session so far.
#[derive(Clone, Debug, Default)]
pub struct Cells {
    cells: Vec<CellData>,
    pub(super) windows: usize,
}

impl Cells {
    /// Adds a window to the cell it belongs to and says which one that is.
    pub fn add(&mut self, window: &Window) -> usize {
        let index = self.of(window).unwrap_or_else(|| {
            self.cells.push(CellData::for_window(window));
            self.cells.len() - 1
        });
        self.cells[index].add(window, self.windows);
        self.windows += 1;
        index
    }

    /// The cells, in the order of their first window.
    pub fn all(&self) -> &[CellData] {
        &self.cells
    }

    /// Index of the cell that a window would go to.
    pub fn of(&self, window: &Window) -> Option<usize> {
        self.cells.iter().position(|cell| cell.takes(window))
    }

    /// Repeat-to-repeat scatter pooled over the cells: `None` if no condition was ridden twice.
    ///
    /// Few repeats may agree by luck, so the assumed scatter counts as two further degrees of
    /// freedom.
    pub fn repeatability(&self, assumed_sd_pct: f64) -> Option<Repeatability> {
        let (mut between, mut within, mut dof) = (0.0, 0.0, 0usize);
        for cell in &self.cells {
            let Some((variance, explained, cell_dof)) = cell.between_visits() else {
                continue;
            };
            between += variance * cell_dof as f64;
            within += explained * cell_dof as f64;
            dof += cell_dof;
        }
        let total = dof as f64 + ASSUMED_DOF;
        let measured = (between - within).max(0.0);
        (dof > 0).then(|| Repeatability {
            sd_pct: ((measured + ASSUMED_DOF * assumed_sd_pct.powi(2)) / total).sqrt(),
            dof: total,
        })
    }
}
