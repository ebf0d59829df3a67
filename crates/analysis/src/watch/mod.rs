//! Judgement while the rider pedals: the same gate, cells, budget and rule as afterwards, fed one
//! paired second at a time.
//!
//! Flags are gated against noise: nothing is raised on a single second. A full steady window whose
//! mean leaves ±T raises *likely beyond*, one that leaves ±(T + 2u) raises *shown beyond*, with u
//! the combined uncertainty of that window. Each flag carries the rate at which a perfect device
//! with the same noise would raise it. Streams are not aligned yet while riding: steady windows do
//! not need it.

mod flag;
mod now;
mod window;

use crate::budget::Instruments;
use crate::cell::{Cells, Judge, Repeatability};
use crate::dropout::Tracker;
use crate::findings::Treatment;
pub use crate::gate::GateState;
use crate::gate::{Gate, Gated, Window, is_same_reason};
use crate::grid::Second;
pub use crate::needs::Needs;
use crate::needs::Progress;
use crate::sequential::{Decision, Look, SequentialRule};
use crate::settings::Settings;
use crate::stats::autocorrelation::Noise;
use flag::raise;
pub use flag::{Flag, FlagKind};
pub use now::CellNow;
use std::borrow::Cow;
pub use window::WindowJudgement;
pub(crate) use window::judge_window;

/// Seconds of a cell from which its own noise is trusted for a single window.
const NOISE_FROM_S: usize = 60;
/// Seconds of steady riding from which a running difference is shown.
const SHOWN_FROM_S: usize = 10;

/// The live judgement of one device against one reference.
#[derive(Clone, Debug)]
pub struct Watch {
    judge: Judge,
    treatment: Treatment,
    gate: Gate,
    tracker: Tracker,
    cells: Cells,
    flags: Vec<Flag>,
    exclusions: Vec<(i64, i64, Cow<'static, str>)>,
    last_window: Option<WindowJudgement>,
    windows: usize,
    gated: Vec<Gated>,
    /// Noise of each cell so far; it changes with a complete window only.
    noises: Vec<Option<Noise>>,
    /// The cell that was ridden last, as judged at its last complete window.
    cell: Option<CellNow>,
    /// The rule for ending holds early, if the settings switch it on.
    sequential: Option<SequentialRule>,
    /// What it says about each cell; the first look that ends counts. `None` where the claim does
    /// not reach.
    decisions: Vec<Option<Decision>>,
    /// Index of the cell that was ridden last.
    last_cell: usize,
}

impl Watch {
    /// Fixed before the ride: settings with the claim, and where the instruments measure.
    pub fn new(settings: &Settings, instruments: Instruments) -> Self {
        let judge = Judge::new(&settings.in_force(), instruments);
        Self {
            sequential: settings.sequential(),
            decisions: Vec::new(),
            last_cell: 0,
            treatment: judge.treatment(),
            judge,
            gate: Gate::new(settings),
            tracker: Tracker::new(&settings.dropout),
            cells: Cells::default(),
            flags: Vec::new(),
            exclusions: Vec::new(),
            last_window: None,
            windows: 0,
            gated: Vec::new(),
            noises: Vec::new(),
            cell: None,
        }
    }

    /// Takes the next completed second; seconds come in order. Returns the flags that were raised
    /// by it; flags that merely went on are longer in [`Watch::flags`].
    pub fn push(&mut self, second: Second) -> Vec<Flag> {
        let mut raised = Vec::new();
        for episode in self.tracker.push(&second) {
            raise(&mut self.flags, Flag::of_episode(episode), &mut raised);
        }
        let mut gated = std::mem::take(&mut self.gated);
        self.gate.push(second, &mut gated);
        self.take(&mut gated, &mut raised);
        self.gated = gated;
        raised
    }

    /// The recording is over: the running window counts if it is long enough.
    pub fn finish(&mut self) -> Vec<Flag> {
        let mut raised = Vec::new();
        let mut gated = std::mem::take(&mut self.gated);
        self.gate.finish(&mut gated);
        self.take(&mut gated, &mut raised);
        raised
    }

    /// Whether the present moment counts.
    pub fn gate(&self) -> GateState {
        self.gate.state()
    }

    /// How device and reference are compared.
    pub fn treatment(&self) -> Treatment {
        self.treatment
    }

    /// The same in words, with the assumed efficiency.
    pub fn treatment_words(&self) -> String {
        match self.treatment {
            Treatment::AsIndicated => "as indicated".into(),
            Treatment::HubReferred => format!(
                "referred to the hub, efficiency {:.1} % ± {:.1} % assumed",
                100.0 * self.judge.settings.drivetrain.efficiency,
                100.0 * self.judge.settings.drivetrain.efficiency_half_width.value
            ),
        }
    }

    /// All flags so far, in the order raised.
    pub fn flags(&self) -> &[Flag] {
        &self.flags
    }

    /// Spans that did not count so far: first second, one past the last, reason.
    pub fn exclusions(&self) -> &[(i64, i64, Cow<'static, str>)] {
        &self.exclusions
    }

    /// The last complete window.
    pub fn last_window(&self) -> Option<WindowJudgement> {
        self.last_window
    }

    /// Complete windows so far; it grows by one with each.
    pub fn windows(&self) -> usize {
        self.windows
    }

    /// The difference over the running window, or over the last complete one while the running
    /// one is too short to mean anything. `None` while nothing is steady.
    pub fn now(&self) -> Option<WindowJudgement> {
        let running = self.gate.running();
        if running.is_empty() {
            return None;
        }
        if running.len() < SHOWN_FROM_S {
            return self
                .last_window
                .filter(|last| last.to_s == running[0].index);
        }
        self.judge_window(&crate::gate::window_so_far(
            running,
            &self.judge.settings.gate,
        ))
    }

    /// Half-width of the claimed tolerance at an indicated power of the reference, %.
    pub fn tolerance_pct(&self, indicated_w: f64) -> Option<f64> {
        let share = self.judge.share(self.treatment, indicated_w);
        self.judge
            .claim
            .tolerance
            .half_width_pct(indicated_w * share)
    }

    /// The cell that was ridden last, judged so far; `None` before its first complete window.
    pub fn cell(&self) -> Option<CellNow> {
        self.cell.clone()
    }

    /// Whether the hold that is running may end, by the rule for ending early; `None` while that
    /// rule is off or the cell has no complete window. A cell that is decided stays so.
    pub fn decision(&self) -> Option<Decision> {
        self.sequential.as_ref()?;
        self.decisions.get(self.last_cell).copied().flatten()
    }

    /// All cells so far in the deciding treatment.
    pub fn cells(&self) -> Vec<crate::findings::Cell> {
        let repeatability = self.repeatability();
        self.cells
            .all()
            .iter()
            .map(|data| data.judge(&self.judge, self.treatment, repeatability))
            .collect()
    }

    fn repeatability(&self) -> Option<Repeatability> {
        self.cells.repeatability(self.judge.assumed_repeat_pct())
    }

    fn judge_cell(&mut self, index: usize) -> Option<CellNow> {
        let data = self.cells.all().get(index)?;
        let cell = data.judge(&self.judge, self.treatment, self.repeatability());
        let decision = self.sequential.as_ref().map(|sequential| {
            sequential.decide(&Look {
                windows: cell.windows,
                error: cell.bias_pct,
                u: cell.u_pct,
                dof: cell.dof,
                tolerance: cell.tolerance_pct,
            })
        });
        let title = data.title();
        self.note_decision(
            index,
            decision.filter(|_| self.judge.claim.applies_at(cell.level_w)),
        );
        Some(CellNow {
            title,
            seconds: cell.seconds,
            windows: cell.windows,
            bias_pct: cell.bias_pct,
            expanded_pct: cell.expanded_pct,
            tolerance_pct: cell.tolerance_pct,
            p_conform: cell.p_conform,
            verdict: cell.verdict,
            needs: self.needs(&cell),
        })
    }

    fn note_decision(&mut self, index: usize, decision: Option<Decision>) {
        while self.decisions.len() <= index {
            self.decisions.push(None);
        }
        self.last_cell = index;
        let settled = matches!(self.decisions[index], Some(Decision::End { .. }));
        if !settled {
            self.decisions[index] = decision;
        }
    }

    fn needs(&self, cell: &crate::findings::Cell) -> Needs {
        if !self.judge.claim.applies_at(cell.level_w) {
            return Needs::CannotDecide("the level lies outside the range of the claim".into());
        }
        let progress = Progress {
            error_pct: cell.bias_pct,
            u_a_pct: cell.u_a_pct,
            u_pct: cell.u_pct,
            tolerance_pct: cell.tolerance_pct,
            seconds: cell.seconds,
            windows: cell.windows,
            verdict: cell.verdict,
        };
        let settings = &self.judge.settings;
        progress.needs(&settings.decision, f64::from(settings.gate.window_s))
    }

    fn take(&mut self, gated: &mut Vec<Gated>, raised: &mut Vec<Flag>) {
        for item in gated.drain(..) {
            match item {
                Gated::Window(window) => {
                    let index = self.cells.add(&window);
                    self.windows += 1;
                    self.noises.resize(self.cells.all().len(), None);
                    self.noises[index] = self.cells.all()[index].noise();
                    self.cell = self.judge_cell(index);
                    let judged = self.judge_window(&window);
                    self.last_window = judged.or(self.last_window);
                    let whole =
                        window.to_s - window.from_s >= i64::from(self.judge.settings.gate.window_s);
                    if let Some(judged) = judged.filter(|_| whole) {
                        let title = self.cells.all()[index].title();
                        if let Some(flag) = Flag::of_window(&judged, &title) {
                            raise(&mut self.flags, flag, raised);
                        }
                    }
                }
                Gated::Excluded {
                    from_s,
                    to_s,
                    reason,
                } => match self.exclusions.last_mut() {
                    Some((_, end, known)) if *end == from_s && is_same_reason(known, &reason) => {
                        *end = to_s;
                    }
                    _ => self.exclusions.push((from_s, to_s, reason)),
                },
            }
        }
    }

    fn judge_window(&self, window: &Window) -> Option<WindowJudgement> {
        let own = self
            .cells
            .of(window)
            .and_then(|index| self.known_noise(index));
        let known = own.or_else(|| {
            // A new condition: the relative scatter of the best known one is closer to the truth
            // than what half a minute says.
            let best =
                (0..self.noises.len()).max_by_key(|&index| self.cells.all()[index].seconds())?;
            let noise = self.known_noise(best)?;
            let level_w = self.cells.all()[best].mean_reference_w();
            let ratio = window.mean_reference_w() / level_w.max(1.0);
            Some(Noise {
                sd: noise.sd * ratio,
                ..noise
            })
        });
        judge_window(&self.judge, self.treatment, window, known)
    }

    /// Noise of a cell that has been ridden for long enough to tell.
    fn known_noise(&self, index: usize) -> Option<Noise> {
        let enough = self.cells.all().get(index)?.seconds() >= NOISE_FROM_S;
        self.noises.get(index).copied().flatten().filter(|_| enough)
    }
}
