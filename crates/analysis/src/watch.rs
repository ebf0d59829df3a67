//! Judgement while the rider pedals: the same gate, cells, budget and rule as afterwards, fed one
//! paired second at a time.
//!
//! Flags are gated against noise: nothing is raised on a single second. A full steady window whose
//! mean leaves ±T raises *likely beyond*, one that leaves ±(T + 2u) raises *shown beyond*, with u
//! the combined uncertainty of that window. Each flag carries the rate at which a perfect device
//! with the same noise would raise it. Streams are not aligned yet while riding: steady windows do
//! not need it.

use crate::budget::Instruments;
use crate::cell::{CellData, Cells, Judge, Repeatability};
use crate::dropout::{Episode, EpisodeKind, Tracker};
use crate::findings::Treatment;
use crate::gate::{Gate, Gated, Window, is_same_reason};
use crate::grid::Second;
use crate::needs::Progress;
use crate::sequential::{Decision, Look, SequentialRule};
use crate::settings::Settings;
use crate::stats::autocorrelation::Noise;
use crate::stats::normal::normal_probability;
use crate::verdict::Verdict;
use std::borrow::Cow;

pub use crate::gate::GateState;
pub use crate::needs::Needs;

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

/// Something that the operator should look at while riding.
#[derive(Clone, Debug, PartialEq)]
pub struct Flag {
    /// What it is.
    pub kind: FlagKind,
    /// First second.
    pub from_s: i64,
    /// One past the last second so far.
    pub to_s: i64,
    /// What was seen, with numbers and units.
    pub words: String,
    /// Measured difference, % of the reference; `None` for a drop-out.
    pub measured_pct: Option<f64>,
    /// The limit that it left, %; `None` for a drop-out.
    pub limit_pct: Option<f64>,
    /// Share of windows of a perfect device with this noise that would raise the flag; `None` for
    /// a drop-out.
    pub expected_false_rate: Option<f64>,
}

/// What a flag is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FlagKind {
    /// A steady window left the tolerance; the uncertainty overlaps the limit.
    LikelyBeyond,
    /// A steady window left the tolerance by more than the uncertainty.
    ShownBeyond,
    /// The device shows zero while the reference shows work.
    ZeroUnderLoad,
    /// The device repeats one value while the reference moves.
    Frozen,
    /// Nothing comes from the device.
    DeviceMissing,
    /// Nothing comes from the reference.
    ReferenceMissing,
}

/// The difference over one window, or over the last seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindowJudgement {
    /// First second.
    pub from_s: i64,
    /// One past the last second.
    pub to_s: i64,
    /// Difference in the deciding treatment, %.
    pub difference_pct: f64,
    /// Standard uncertainty of the mean from scatter, %.
    pub u_a_pct: f64,
    /// Combined standard uncertainty, %.
    pub u_pct: f64,
    /// Expanded uncertainty, %.
    pub expanded_pct: f64,
    /// Half-width of the claimed tolerance, %.
    pub tolerance_pct: f64,
    /// Conformance probability of this window alone.
    pub p_conform: f64,
}

impl WindowJudgement {
    /// Share of windows of a perfect device with this noise whose mean would leave ±T.
    pub fn expected_false_rate(&self) -> f64 {
        if self.u_a_pct <= 0.0 {
            return 0.0;
        }
        2.0 * (1.0 - normal_probability(self.tolerance_pct / self.u_a_pct))
    }
}

/// The cell being ridden, judged so far.
#[derive(Clone, Debug, PartialEq)]
pub struct CellNow {
    /// Which cell, in words.
    pub title: String,
    /// Steady seconds so far, complete windows only.
    pub seconds: f64,
    /// Complete windows so far.
    pub windows: usize,
    /// Difference so far, %.
    pub bias_pct: f64,
    /// Expanded uncertainty, %.
    pub expanded_pct: f64,
    /// Half-width of the claimed tolerance, %.
    pub tolerance_pct: f64,
    /// Conformance probability.
    pub p_conform: f64,
    /// The verdict so far.
    pub verdict: Verdict,
    /// What is still needed.
    pub needs: Needs,
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
            self.note_episode(episode, &mut raised);
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
                        self.note_window(&judged, &title, raised);
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

    fn note_window(&mut self, judged: &WindowJudgement, title: &str, raised: &mut Vec<Flag>) {
        let Some((kind, limit_pct)) = flag_of(judged) else {
            return;
        };
        let words = format!(
            "{}: {:+.1} % ± {:.1} % at {title}, claimed ±{:.1} %",
            match kind {
                FlagKind::ShownBeyond => "shown beyond",
                _ => "likely beyond",
            },
            judged.difference_pct,
            judged.expanded_pct,
            judged.tolerance_pct
        );
        let flag = Flag {
            kind,
            from_s: judged.from_s,
            to_s: judged.to_s,
            words,
            measured_pct: Some(judged.difference_pct),
            limit_pct: Some(limit_pct),
            expected_false_rate: Some(judged.expected_false_rate()),
        };
        self.raise(flag, raised);
    }

    fn note_episode(&mut self, episode: Episode, raised: &mut Vec<Flag>) {
        let seconds = episode.to_s - episode.from_s;
        let (kind, what) = match episode.kind {
            EpisodeKind::ZeroUnderLoad => (
                FlagKind::ZeroUnderLoad,
                "device shows zero while the reference shows work",
            ),
            EpisodeKind::Frozen => (
                FlagKind::Frozen,
                "device repeats one value while the reference moves",
            ),
            EpisodeKind::DeviceMissing => {
                (FlagKind::DeviceMissing, "nothing comes from the device")
            }
            EpisodeKind::ReferenceMissing => (
                FlagKind::ReferenceMissing,
                "nothing comes from the reference",
            ),
        };
        let flag = Flag {
            kind,
            from_s: episode.from_s,
            to_s: episode.to_s,
            words: format!("{what} for {seconds} s"),
            measured_pct: None,
            limit_pct: None,
            expected_false_rate: None,
        };
        self.raise(flag, raised);
    }

    /// Adds a flag, or lengthens the one that it continues. Of two windows in a row the larger
    /// difference is named.
    fn raise(&mut self, flag: Flag, raised: &mut Vec<Flag>) {
        let continued = self.flags.iter_mut().rev().take(6).find(|known| {
            known.kind == flag.kind
                && (known.to_s == flag.from_s
                    || (flag.measured_pct.is_none() && known.from_s == flag.from_s))
        });
        let Some(known) = continued else {
            raised.push(flag.clone());
            self.flags.push(flag);
            return;
        };
        let larger = match (known.measured_pct, flag.measured_pct) {
            (Some(known), Some(new)) => new.abs() > known.abs(),
            _ => true,
        };
        if larger {
            *known = Flag {
                from_s: known.from_s,
                ..flag
            };
        } else {
            known.to_s = flag.to_s;
        }
    }
}

/// Judges one window on its own. `known` is the noise of the cell it belongs to, if that is known
/// well enough; the noise within half a minute is not.
pub(crate) fn judge_window(
    judge: &Judge,
    treatment: Treatment,
    window: &Window,
    known: Option<Noise>,
) -> Option<WindowJudgement> {
    if window.seconds() == 0 || window.mean_reference_w() <= 0.0 {
        return None;
    }
    let mut data = CellData::for_window(window);
    data.add(window, 0);
    let measured = data.measure(judge, treatment, None, known);
    Some(WindowJudgement {
        from_s: window.from_s,
        to_s: window.to_s,
        difference_pct: measured.bias_pct,
        u_a_pct: measured.u_a_pct,
        u_pct: measured.combined.u,
        expanded_pct: measured.judged.expanded,
        tolerance_pct: measured.tolerance_pct,
        p_conform: measured.judged.p_conform,
    })
}

/// Which flag a full window raises, with the limit that it left.
pub(crate) fn flag_of(judged: &WindowJudgement) -> Option<(FlagKind, f64)> {
    let error = judged.difference_pct.abs();
    let far = judged.tolerance_pct + 2.0 * judged.u_pct;
    if error > far {
        Some((FlagKind::ShownBeyond, far))
    } else if error > judged.tolerance_pct {
        Some((FlagKind::LikelyBeyond, judged.tolerance_pct))
    } else {
        None
    }
}
