//! Cells: one level × cadence × flywheel-speed condition, gathered from its windows.
//!
//! The script says which windows belong together where it gave a target, a cadence or a gear;
//! where it did not, measured values do. A cell keeps the paired seconds of its windows in
//! unbroken runs, because their scatter and its autocorrelation are the type A uncertainty.
//!
//! The difference is the ratio of sums, Σ device / Σ reference − 1, and its scatter that of the
//! residuals device − ratio · reference: what the rider varies cancels even if the device is
//! several percent off.

use crate::budget::{self, Combined, Condition, Instruments};
use crate::claim::PowerClaim;
use crate::evidence::Feeds;
use crate::findings::{BudgetTerm, Cell, Treatment};
use crate::gate::Window;
use crate::settings::Settings;
use crate::stats::autocorrelation::Noise;
use crate::verdict::{Judgement, Verdict};

/// Measured cadences within this much belong together, rpm.
const SAME_CADENCE_RPM: f64 = 5.0;
/// Measured flywheel speeds within this share of the larger belong together.
const SAME_SPEED_SHARE: f64 = 0.08;
/// … or within this much, km/h.
const SAME_SPEED_KMH: f64 = 2.0;
/// Measured levels within this share belong together.
const SAME_LEVEL_SHARE: f64 = 0.05;
/// … or within this much, W.
const SAME_LEVEL_W: f64 = 10.0;
/// Degrees of freedom that the assumed repeat-to-repeat scatter is worth beside a measured one.
const ASSUMED_DOF: f64 = 2.0;

/// Everything a judgement needs besides the data.
#[derive(Clone, Debug)]
pub struct Judge {
    /// The settings in force.
    pub settings: Settings,
    /// The claim in force.
    pub claim: PowerClaim,
    /// The two instruments.
    pub instruments: Instruments,
}

impl Judge {
    /// For two instruments.
    pub fn new(settings: &Settings, instruments: Instruments) -> Self {
        Self {
            settings: settings.clone(),
            claim: settings.power_claim(),
            instruments,
        }
    }

    /// The treatment that decides: where the claim says that it is meant at the crank, as
    /// indicated; else the first that makes sense for the instruments.
    pub fn treatment(&self) -> Treatment {
        if self.claim.location == crate::claim::ClaimLocation::Crank {
            Treatment::AsIndicated
        } else {
            self.instruments.treatments()[0]
        }
    }

    /// Repeat-to-repeat scatter that is assumed where it was not measured, %.
    pub fn assumed_repeat_pct(&self) -> f64 {
        self.settings.reference.repeat_pct.u()
    }

    /// Share of the indicated reference that the device is compared with.
    pub fn share(&self, treatment: Treatment, indicated_w: f64) -> f64 {
        match treatment {
            Treatment::AsIndicated => 1.0,
            Treatment::HubReferred => self.settings.drivetrain.share_at_hub(indicated_w),
        }
    }
}

/// Repeat-to-repeat scatter of one visit, pooled over all cells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeatability {
    /// Standard deviation between visits beyond what scatter within them explains, %.
    pub sd_pct: f64,
    /// Degrees of freedom.
    pub dof: f64,
}

/// A difference with its uncertainty, before anything is said about it.
#[derive(Clone, Debug)]
pub(crate) struct Measured {
    pub(crate) reference_w: f64,
    pub(crate) under_test_w: f64,
    pub(crate) bias_pct: f64,
    pub(crate) u_a_pct: f64,
    pub(crate) n_eff: f64,
    pub(crate) lag1: f64,
    pub(crate) combined: Combined,
    pub(crate) tolerance_pct: f64,
    pub(crate) judged: Judgement,
    pub(crate) budget: Vec<BudgetTerm>,
}

/// The windows of one condition.
#[derive(Clone, Debug, Default)]
pub struct CellData {
    /// What the steps were ridden for.
    pub feeds: Option<Feeds>,
    /// Constant power asked for, W.
    pub target_w: Option<f64>,
    /// Cadence asked for, rpm.
    cadence_cue_rpm: Option<f64>,
    /// Gear asked for.
    gear: Option<f64>,
    /// Positions of the windows in the order they were added to all cells.
    pub windows: Vec<usize>,
    /// Unbroken runs of paired seconds.
    runs: Vec<Run>,
    cadence: Weighted,
    speed: Weighted,
    closure: Weighted,
    under_test_sum_w: f64,
    reference_sum_w: f64,
    n: usize,
}

#[derive(Clone, Debug)]
struct Run {
    visit: usize,
    to_s: i64,
    under_test_w: Vec<f64>,
    reference_w: Vec<f64>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Weighted {
    sum: f64,
    weight: f64,
}

impl Weighted {
    fn add(&mut self, value: Option<f64>, weight: f64) {
        if let Some(value) = value {
            self.sum += value * weight;
            self.weight += weight;
        }
    }

    fn mean(self) -> Option<f64> {
        (self.weight > 0.0).then(|| self.sum / self.weight)
    }
}

/// All cells of a session, or of the session so far.
#[derive(Clone, Debug, Default)]
pub struct Cells {
    cells: Vec<CellData>,
    windows: usize,
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

impl CellData {
    /// A cell with this window's condition and nothing in it yet.
    pub fn for_window(window: &Window) -> Self {
        Self {
            feeds: window.step.map(|step| step.feeds),
            target_w: window.target_w,
            cadence_cue_rpm: window.step.and_then(|step| step.cadence_rpm),
            gear: window.step.and_then(|step| step.gear),
            ..Self::default()
        }
    }

    /// Adds a window, whose position among all windows is given.
    pub fn add(&mut self, window: &Window, position: usize) {
        self.windows.push(position);
        let weight = window.seconds() as f64;
        self.cadence.add(window.cadence_rpm, weight);
        self.speed.add(window.speed_kmh, weight);
        self.closure.add(window.closure_w, weight);
        self.under_test_sum_w += window.under_test_w.iter().sum::<f64>();
        self.reference_sum_w += window.reference_w.iter().sum::<f64>();
        self.n += window.seconds();
        match self.runs.last_mut() {
            Some(run) if run.visit == window.visit && run.to_s == window.from_s => {
                run.under_test_w.extend_from_slice(&window.under_test_w);
                run.reference_w.extend_from_slice(&window.reference_w);
                run.to_s = window.to_s;
            }
            _ => self.runs.push(Run {
                visit: window.visit,
                to_s: window.to_s,
                under_test_w: window.under_test_w.clone(),
                reference_w: window.reference_w.clone(),
            }),
        }
    }

    /// Whether a window has this cell's condition.
    fn takes(&self, window: &Window) -> bool {
        let near = |a: Option<f64>, b: Option<f64>, within: &dyn Fn(f64, f64) -> bool| match (a, b)
        {
            (Some(a), Some(b)) => within(a, b),
            (None, None) => true,
            _ => false,
        };
        let step = window.step;
        let same = |a: f64, b: f64| (a - b).abs() < 1e-6;
        if (self.feeds == Some(Feeds::Drift)) != (step.map(|s| s.feeds) == Some(Feeds::Drift)) {
            return false;
        }
        let level = match (self.target_w, window.target_w) {
            (Some(a), Some(b)) => (a - b).abs() < 0.5,
            (None, None) => {
                let (a, b) = (self.mean_reference_w(), window.mean_reference_w());
                (a - b).abs() <= SAME_LEVEL_W.max(SAME_LEVEL_SHARE * a.max(b))
            }
            _ => false,
        };
        let cadence = match (self.cadence_cue_rpm, step.and_then(|s| s.cadence_rpm)) {
            (Some(a), Some(b)) => same(a, b),
            _ => near(self.cadence.mean(), window.cadence_rpm, &|a, b| {
                (a - b).abs() <= SAME_CADENCE_RPM
            }),
        };
        let speed = match (self.gear, step.and_then(|s| s.gear)) {
            (Some(a), Some(b)) => same(a, b),
            _ => near(self.speed.mean(), window.speed_kmh, &|a, b| {
                (a - b).abs() <= SAME_SPEED_KMH.max(SAME_SPEED_SHARE * a.max(b))
            }),
        };
        level && cadence && speed
    }

    /// Steady seconds.
    pub fn seconds(&self) -> usize {
        self.n
    }

    /// Mean of the reference as indicated, W.
    pub fn mean_reference_w(&self) -> f64 {
        self.reference_sum_w / self.n.max(1) as f64
    }

    /// Level, W: the target, or the mean of the reference.
    pub fn level_w(&self) -> f64 {
        self.target_w.unwrap_or_else(|| self.mean_reference_w())
    }

    /// The condition in words: `200 W, 90 rpm, 33 km/h`.
    pub fn title(&self) -> String {
        let mut words = format!("{:.0} W", self.level_w());
        if let Some(rpm) = self.cadence.mean() {
            words += &format!(", {rpm:.0} rpm");
        }
        if let Some(kmh) = self.speed.mean() {
            words += &format!(", {kmh:.0} km/h");
        }
        words
    }

    /// Separate visits.
    pub fn visits(&self) -> usize {
        let mut visits: Vec<usize> = self.runs.iter().map(|run| run.visit).collect();
        visits.sort_unstable();
        visits.dedup();
        visits.len()
    }

    /// Device over reference as indicated; `None` without work.
    fn ratio(&self) -> Option<f64> {
        (self.n > 0 && self.reference_sum_w > 0.0)
            .then(|| self.under_test_sum_w / self.reference_sum_w)
    }

    /// Scatter of the paired differences around the ratio of their own visit, W. What parts one
    /// visit from the other is not scatter: it has a term of its own, and would pass here for an
    /// autocorrelation that no visit has.
    pub fn noise(&self) -> Option<Noise> {
        let residuals = self.residuals()?;
        Noise::of_runs(residuals.iter().map(Vec::as_slice))
    }

    fn residuals(&self) -> Option<Vec<Vec<f64>>> {
        let whole = self.ratio()?;
        let ratio_of = |visit: usize| {
            let runs = || self.runs.iter().filter(|run| run.visit == visit);
            let device_w: f64 = runs().flat_map(|run| &run.under_test_w).sum();
            let reference_w: f64 = runs().flat_map(|run| &run.reference_w).sum();
            if reference_w > 0.0 {
                device_w / reference_w
            } else {
                whole
            }
        };
        Some(
            self.runs
                .iter()
                .map(|run| {
                    let ratio = ratio_of(run.visit);
                    let pairs = run.under_test_w.iter().zip(&run.reference_w);
                    pairs
                        .map(|(device, reference)| device - ratio * reference)
                        .collect()
                })
                .collect(),
        )
    }

    /// Variance between the visits' differences (%²), the part of it that scatter within visits
    /// explains, and the degrees of freedom; `None` with fewer than two visits.
    fn between_visits(&self) -> Option<(f64, f64, usize)> {
        let noise = self.noise()?;
        let mut visits: Vec<(usize, f64, f64, usize)> = Vec::new();
        for run in &self.runs {
            let sums = (
                run.under_test_w.iter().sum::<f64>(),
                run.reference_w.iter().sum::<f64>(),
                run.reference_w.len(),
            );
            match visits.iter_mut().find(|visit| visit.0 == run.visit) {
                Some(visit) => {
                    visit.1 += sums.0;
                    visit.2 += sums.1;
                    visit.3 += sums.2;
                }
                None => visits.push((run.visit, sums.0, sums.1, sums.2)),
            }
        }
        if visits.len() < 2 {
            return None;
        }
        let differences: Vec<f64> = visits
            .iter()
            .map(|visit| 100.0 * (visit.1 / visit.2.max(1.0) - 1.0))
            .collect();
        let sd = crate::stats::descriptive::sd(&differences)?;
        let explained = visits
            .iter()
            .map(|visit| (100.0 * noise.u_mean(visit.3) / self.mean_reference_w()).powi(2))
            .sum::<f64>()
            / visits.len() as f64;
        Some((sd * sd, explained, visits.len() - 1))
    }

    /// Judges the cell in one treatment.
    pub fn judge(
        &self,
        judge: &Judge,
        treatment: Treatment,
        repeatability: Option<Repeatability>,
    ) -> Cell {
        let measured = self.measure(judge, treatment, repeatability, None);
        let rule = &judge.settings.decision;
        let (u, dof, tolerance_pct) = (
            measured.combined.u,
            measured.combined.dof,
            measured.tolerance_pct,
        );
        let (verdict, remark) = self.verdict(judge, measured.judged.verdict, &measured.budget);
        Cell {
            treatment,
            feeds: self.feeds,
            level_w: self.level_w(),
            cadence_rpm: self.cadence.mean(),
            speed_kmh: self.speed.mean(),
            windows: self.windows.len(),
            visits: self.visits(),
            seconds: self.n as f64,
            reference_w: measured.reference_w,
            under_test_w: measured.under_test_w,
            bias_w: measured.under_test_w - measured.reference_w,
            bias_pct: measured.bias_pct,
            u_a_pct: measured.u_a_pct,
            u_pct: u,
            dof,
            k: measured.judged.k,
            expanded_pct: measured.judged.expanded,
            n_eff: measured.n_eff,
            lag1: measured.lag1,
            tolerance_pct,
            p_conform: measured.judged.p_conform,
            capability: measured.judged.capability,
            accept_within_pct: rule.accept_within(u, dof, tolerance_pct),
            reject_beyond_pct: rule.reject_beyond(u, dof, tolerance_pct),
            verdict,
            remark,
            budget: measured.budget,
        }
    }

    /// Difference and uncertainty. A noise that is known from elsewhere takes the place of the
    /// own one: the seconds of a single window are too few to tell their autocorrelation.
    pub(crate) fn measure(
        &self,
        judge: &Judge,
        treatment: Treatment,
        repeatability: Option<Repeatability>,
        known: Option<Noise>,
    ) -> Measured {
        let noise = known.or_else(|| self.noise());
        let indicated_w = self.mean_reference_w();
        let reference_w = indicated_w * judge.share(treatment, indicated_w);
        let under_test_w = self.under_test_sum_w / self.n.max(1) as f64;
        let per_cent = |watts: f64| 100.0 * watts / reference_w.max(1.0);
        let bias_pct = per_cent(under_test_w - reference_w);
        let n_eff = noise.map_or(1.0, |noise| noise.n_eff(self.n));
        let u_a_pct = noise.map_or(0.0, |noise| per_cent(noise.u_mean(self.n)));
        let dof_a = noise.map_or(f64::MAX, |noise| (noise.n_eff(noise.n) - 1.0).max(1.0));
        let condition = Condition {
            treatment,
            indicated_reference_w: indicated_w,
            cadence_rpm: self.cadence.mean(),
            type_a: (u_a_pct, dof_a),
            n_eff,
            under_test_sd_w: self.under_test_sd_w(),
            repeat: repeatability.map(|found| {
                (
                    found.sd_pct / (self.visits().max(1) as f64).sqrt(),
                    found.dof,
                )
            }),
            closure_w: self.closure.mean(),
        };
        let budget = budget::terms(&judge.settings, &judge.instruments, &condition);
        let combined = budget::combine_terms(&budget);
        let tolerance_pct = judge
            .claim
            .tolerance
            .half_width_pct(reference_w.max(1.0))
            .unwrap_or(0.0);
        let rule = &judge.settings.decision;
        Measured {
            reference_w,
            under_test_w,
            bias_pct,
            u_a_pct,
            n_eff,
            lag1: noise.map_or(0.0, |noise| noise.lag1),
            combined,
            tolerance_pct,
            judged: rule.judge(bias_pct, combined.u, combined.dof, tolerance_pct),
            budget,
        }
    }

    fn verdict(
        &self,
        judge: &Judge,
        verdict: Verdict,
        budget: &[BudgetTerm],
    ) -> (Verdict, Option<String>) {
        let needed = judge.settings.decision.min_windows;
        if !judge.claim.applies_at(self.level_w()) {
            return (
                Verdict::NotTested,
                Some("the level lies outside the range of the claim".into()),
            );
        }
        if self.windows.len() < needed {
            let remark = format!(
                "{} of {needed} steady windows; ride the condition for longer",
                self.windows.len()
            );
            return (Verdict::NotTested, Some(remark));
        }
        let largest = budget.iter().max_by(|a, b| a.u_pct.total_cmp(&b.u_pct));
        match (verdict, largest) {
            (Verdict::BenchNotCapable, Some(term)) => (
                verdict,
                Some(format!(
                    "largest term to reduce: {}, {:.2} %",
                    term.term, term.u_pct
                )),
            ),
            _ => (verdict, None),
        }
    }

    /// Scatter of the device's own seconds, W.
    fn under_test_sd_w(&self) -> f64 {
        let mean = self.under_test_sum_w / self.n.max(1) as f64;
        let squares: f64 = self
            .runs
            .iter()
            .flat_map(|run| &run.under_test_w)
            .map(|value| (value - mean).powi(2))
            .sum();
        (squares / self.n.saturating_sub(1).max(1) as f64).sqrt()
    }
}
