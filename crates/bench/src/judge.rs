//! Judgement while riding: completed seconds go through the same gate, cells, budget and rule as
//! the findings will.
//!
//! A second is judged at the moment it is over. Everything that can be in it has then been
//! received, because an input that comes later has a later moment.

use crate::model::{CellView, ComparisonView, FlagView, InstrumentRole, Severity};
use crate::plan::BenchPlan;
use crate::trace::Trace;
use analysis::budget::Instruments;
use analysis::evidence::{Place, StepSpan};
use analysis::grid::{Pair, StepNow};
use analysis::sequential::{Decision, SequentialRule};
use analysis::watch::{Flag, FlagKind, Needs, Watch};
use units::{Span, Timestamp};

/// Differences of windows are drawn as one curve as long as windows follow each other.
const DIFFERENCE_HOLD: Span = Span::from_secs(2);

/// The running judgement.
#[derive(Debug)]
pub struct Judge {
    pub(crate) watch: Watch,
    /// The next second to be judged.
    pub(crate) next_s: i64,
    /// The commanded power, W, if the load is a power.
    target_w: Option<f64>,
    difference_pct: Trace,
    expanded_pct: Trace,
    tolerance_pct: Option<f64>,
    now: Option<[f64; 2]>,
    cell: Option<CellView>,
    seen: (usize, i64),
    windows_seen: usize,
    /// The rule for ending holds early, if it is on.
    sequential: Option<SequentialRule>,
    /// The attempt in which a complete window found its question decided.
    decided_visit: Option<usize>,
    /// The look that the second before took, if it took one.
    pub(crate) look: Option<Look>,
}

/// One look of the rule for ending holds early.
#[derive(Debug)]
pub(crate) struct Look {
    pub(crate) condition: String,
    pub(crate) words: String,
    pub(crate) decided: bool,
}

impl Judge {
    /// Fixed before the ride.
    pub fn new(plan: &BenchPlan) -> Self {
        let place = |role| {
            plan.sources
                .iter()
                .find(|source| source.role == role)
                .map_or(Place::Unknown, |source| source.place)
        };
        let instruments = Instruments {
            under_test: place(InstrumentRole::UnderTest),
            reference: place(InstrumentRole::PrimaryReference),
            zero_change_nm: None,
        };
        Self {
            watch: Watch::new(&plan.settings, instruments),
            next_s: 0,
            target_w: None,
            difference_pct: Trace::new(DIFFERENCE_HOLD),
            expanded_pct: Trace::new(DIFFERENCE_HOLD),
            tolerance_pct: None,
            now: None,
            cell: None,
            seen: (0, 0),
            windows_seen: 0,
            sequential: plan.settings.sequential(),
            decided_visit: None,
            look: None,
        }
    }

    /// The commanded load changed.
    pub fn command(&mut self, _at: Timestamp, power_w: Option<f64>) {
        self.target_w = power_w;
    }

    /// When the running second is over.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        Some(Timestamp::from_secs(self.next_s + 1))
    }

    /// The comparison for the screen.
    pub fn view(&self) -> ComparisonView {
        ComparisonView {
            treatment: self.watch.treatment_words(),
            difference_pct: self.difference_pct.clone(),
            expanded_pct: self.expanded_pct.clone(),
            tolerance_pct: self.tolerance_pct,
            now: self.now,
            cell: self.cell.clone(),
        }
    }

    pub(crate) fn judge(
        &mut self,
        pair: Pair<'_>,
        step: Option<(&StepSpan, usize)>,
        invalid: Option<&str>,
    ) -> Vec<Flag> {
        let index = self.next_s;
        let mut second = pair.second(index);
        second.target_w = self.target_w;
        second.invalid = invalid.map(Into::into);
        second.step = step.and_then(|(span, visit)| {
            let running = StepSpan {
                to: Timestamp::MAX,
                ..span.clone()
            };
            StepNow::at(&running, visit, index)
        });
        if let Some(reference) = second.reference {
            self.tolerance_pct = self
                .watch
                .tolerance_pct(reference.value)
                .or(self.tolerance_pct);
        }
        let raised = self.watch.push(second);
        let end = Timestamp::from_secs(index + 1);
        let now = self.watch.now();
        self.now = now.map(|window| [window.difference_pct, window.expanded_pct]);
        if let Some(window) = now {
            self.difference_pct.push(end, window.difference_pct);
            self.expanded_pct.push(end, window.expanded_pct);
        }
        if self.watch.windows() != self.windows_seen {
            self.windows_seen = self.watch.windows();
            self.cell = self.watch.cell().map(|cell| CellView {
                title: cell.title,
                seconds: cell.seconds,
                bias_pct: cell.bias_pct,
                expanded_pct: cell.expanded_pct,
                verdict: cell.verdict.words().to_owned(),
                needs: Some(cell.needs.words()).filter(|_| cell.needs != Needs::Decided),
            });
            self.take_look(step);
        }
        raised
    }

    /// A complete window of the hold that is being ridden is one look. A decision that an earlier
    /// hold of the same condition brought counts from the first window of this one on.
    fn take_look(&mut self, step: Option<(&StepSpan, usize)>) {
        let belongs = |span: &StepSpan| {
            self.watch
                .last_window()
                .is_some_and(|window| Timestamp::from_secs(window.from_s) >= span.from)
        };
        let Some((_, visit)) = step.filter(|(span, _)| belongs(span)) else {
            return;
        };
        let (Some(rule), Some(decision)) = (&self.sequential, self.watch.decision()) else {
            return;
        };
        let decided = matches!(
            decision,
            Decision::End { windows, .. } if windows <= rule.last_look_at()
        );
        if decided {
            self.decided_visit = Some(visit);
        }
        self.look = Some(Look {
            condition: self.watch.cell().map(|cell| cell.title).unwrap_or_default(),
            words: decision.words(),
            decided,
        });
    }

    pub(crate) fn is_decided(&self, visit: Option<usize>) -> bool {
        visit.is_some() && self.decided_visit == visit
    }

    /// The rule for ending holds early with its rate of wrong statements, if it is on.
    pub fn early_end_words(&self) -> Option<String> {
        self.sequential.as_ref().map(SequentialRule::words)
    }

    /// The flags for the screen, if they changed since the last call.
    pub(crate) fn changed_flags(&mut self) -> Option<Vec<FlagView>> {
        let flags = self.watch.flags();
        // Any flag may still be growing, so all ends count.
        let state = (flags.len(), flags.iter().map(|flag| flag.to_s).sum());
        if state == self.seen {
            return None;
        }
        self.seen = state;
        Some(flags.iter().map(flag_view).collect())
    }
}

pub(crate) fn flag_view(flag: &Flag) -> FlagView {
    FlagView {
        from: Timestamp::from_secs(flag.from_s),
        to: Timestamp::from_secs(flag.to_s),
        severity: match flag.kind {
            FlagKind::LikelyBeyond => Severity::LikelyBeyond,
            FlagKind::ShownBeyond => Severity::ShownBeyond,
            FlagKind::ZeroUnderLoad
            | FlagKind::Frozen
            | FlagKind::DeviceMissing
            | FlagKind::ReferenceMissing => Severity::DropOut,
        },
        words: flag.words.clone(),
    }
}
