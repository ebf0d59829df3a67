//! The difference of a cell with its budget, and the verdict on it.

use super::cells::Repeatability;
use super::data::CellData;
use super::judge::Judge;
use crate::budget::{self, Combined, Condition};
use crate::findings::{BudgetTerm, Cell, Treatment};
use crate::stats::autocorrelation::Noise;
use crate::verdict::{Judgement, Verdict};

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

impl CellData {
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
}
