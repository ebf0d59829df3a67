//! What a bench can decide before anybody rides: from the claim, the references, the drivetrain
//! and the expected noise to the errors that can be shown either way, the term worth reducing
//! first, and the minutes worth riding. The minutes that are needed come from the same code as
//! the live "needs about n more minutes" ([`crate::needs`]).

#[cfg(test)]
mod tests;

use crate::budget::{Condition, Instruments, SCATTER, combine_terms, terms};
use crate::findings::BudgetTerm;
use crate::needs::{Needs, Progress};
use crate::outcome::NotTested;
use crate::settings::Settings;
use crate::stats::autocorrelation::inflation_ar1;

/// Name in messages.
const NAME: &str = "plan";
/// Riding on is worth little once the uncertainty is within this share of its floor.
const WORTH_RIDING: f64 = 1.05;
/// Longest stretch that is considered at one level, s.
const LONGEST_S: usize = 3600;

/// What is meant to be ridden.
#[derive(Clone, Debug, PartialEq)]
pub struct Intent {
    /// Levels, W.
    pub levels_w: Vec<f64>,
    /// Cadence, rpm.
    pub cadence_rpm: f64,
    /// Seconds analysed at each level, all repeats together.
    pub seconds: usize,
    /// Repeats of each level.
    pub repeats: u32,
    /// Expected noise of the paired difference, one second, % of the reference.
    pub noise_pct: f64,
    /// Its correlation from second to second.
    pub noise_correlation: f64,
    /// Error of the device that is expected, %: zero asks what a perfect device would need.
    pub expected_error_pct: f64,
}

impl Default for Intent {
    /// Levels, times and noise as the practice text recommends and computes with.
    fn default() -> Self {
        Self {
            levels_w: vec![50.0, 100.0, 150.0, 200.0, 250.0, 300.0],
            cadence_rpm: 90.0,
            seconds: 540,
            repeats: 3,
            noise_pct: 3.0,
            noise_correlation: 0.5,
            expected_error_pct: 0.0,
        }
    }
}

/// What the bench can decide.
#[derive(Clone, Debug, PartialEq)]
pub struct Foresight {
    /// One entry per level.
    pub levels: Vec<LevelForesight>,
    /// Whether a perfect device could be shown within at every level.
    pub capable: bool,
    /// The term that weighs most over all levels, and the standard uncertainty left without it, %.
    pub reduce_first: Option<(String, f64)>,
    /// Minutes of analysed riding worth the effort, all levels together.
    pub minutes: f64,
    /// Minutes of analysed riding after which the expected error is decided at every level that
    /// can be decided, all of them together.
    pub minutes_to_decide: f64,
    /// Number of levels at which the expected error can be decided.
    pub decidable_levels: usize,
    /// All of it in one sentence.
    pub sentence: String,
}

/// What the bench can decide at one level.
#[derive(Clone, Debug, PartialEq)]
pub struct LevelForesight {
    /// Level, W.
    pub level_w: f64,
    /// Claimed tolerance there, %.
    pub tolerance_pct: f64,
    /// Combined standard uncertainty, %.
    pub u_pct: f64,
    /// Expanded uncertainty, %.
    pub expanded_pct: f64,
    /// Largest error that could be shown within, %; `None` if not even none could.
    pub shown_within_pct: Option<f64>,
    /// Smallest error that could be shown beyond, %.
    pub shown_beyond_pct: f64,
    /// The term that weighs most.
    pub dominant: String,
    /// Seconds after which riding on is worth little.
    pub useful_seconds: usize,
    /// What the expected error would still need after the seconds that are meant to be ridden.
    pub needs: Needs,
    /// Minutes after which the expected error would be decided; `None` where riding cannot.
    pub decided_after_min: Option<f64>,
    /// The budget.
    pub terms: Vec<BudgetTerm>,
}

/// Looks ahead.
///
/// # Errors
/// [`NotTested`] where no level lies in the claimed range or a number makes no sense.
pub fn foresee(
    settings: &Settings,
    instruments: &Instruments,
    intent: &Intent,
) -> Result<Foresight, NotTested> {
    let sensible = intent.seconds > 0
        && intent.repeats > 0
        && intent.noise_pct >= 0.0
        && intent.noise_pct.is_finite()
        && (0.0..1.0).contains(&intent.noise_correlation)
        && intent.expected_error_pct.is_finite()
        && intent.cadence_rpm.is_finite();
    if !sensible {
        return Err(refused(
            "seconds, repeats and noise must be above zero and the correlation between 0 and 1",
        ));
    }
    let claim = settings.power_claim();
    let levels: Vec<LevelForesight> = intent
        .levels_w
        .iter()
        .filter(|level_w| **level_w > 0.0 && claim.applies_at(**level_w))
        .filter_map(|level_w| level(settings, instruments, intent, *level_w))
        .collect();
    if levels.is_empty() {
        return Err(refused(
            "none of the levels lies in the claimed range; choose others",
        ));
    }
    let capable = levels.iter().all(|level| level.shown_within_pct.is_some());
    let reduce_first = reduce_first(&levels);
    let minutes = levels
        .iter()
        .map(|level| level.useful_seconds as f64)
        .sum::<f64>()
        / 60.0;
    let decided: Vec<f64> = levels
        .iter()
        .filter_map(|level| level.decided_after_min)
        .collect();
    let sentence = sentence(&levels, capable, reduce_first.as_ref(), minutes);
    Ok(Foresight {
        minutes_to_decide: decided.iter().sum(),
        decidable_levels: decided.len(),
        levels,
        capable,
        reduce_first,
        minutes,
        sentence,
    })
}

fn refused(reason: &str) -> NotTested {
    NotTested {
        examination: NAME,
        reason: reason.into(),
    }
}

fn level(
    settings: &Settings,
    instruments: &Instruments,
    intent: &Intent,
    level_w: f64,
) -> Option<LevelForesight> {
    let tolerance_pct = settings.power_claim().tolerance.half_width_pct(level_w)?;
    let budget = |seconds: usize| budget(settings, instruments, intent, level_w, seconds);
    let needs = |seconds: usize| needs(settings, &budget(seconds), intent, seconds, tolerance_pct);
    let terms = budget(intent.seconds);
    let combined = combine_terms(&terms);
    let rule = &settings.decision;
    let floor = combine_terms(&budget(LONGEST_S)).u;
    // The scatter falls steadily with the seconds, so the first that suffices is found by halving.
    let (mut few, mut enough) = (0, LONGEST_S);
    while enough - few > 1 {
        let middle = (few + enough) / 2;
        if combine_terms(&budget(middle)).u <= WORTH_RIDING * floor {
            enough = middle;
        } else {
            few = middle;
        }
    }
    let dominant = terms
        .iter()
        .max_by(|a, b| a.u_pct.total_cmp(&b.u_pct))?
        .term
        .clone();
    Some(LevelForesight {
        level_w,
        tolerance_pct,
        u_pct: combined.u,
        expanded_pct: rule.coverage.factor(combined.dof) * combined.u,
        shown_within_pct: rule.accept_within(combined.u, combined.dof, tolerance_pct),
        shown_beyond_pct: rule.reject_beyond(combined.u, combined.dof, tolerance_pct),
        dominant,
        useful_seconds: enough,
        needs: needs(intent.seconds),
        decided_after_min: first_decided_s(settings, &needs).map(|seconds| seconds as f64 / 60.0),
        terms,
    })
}

/// What the expected error needs after some seconds, by the code of the live screen.
fn needs(
    settings: &Settings,
    terms: &[BudgetTerm],
    intent: &Intent,
    seconds: usize,
    tolerance_pct: f64,
) -> Needs {
    let rule = &settings.decision;
    let combined = combine_terms(terms);
    let error_pct = intent.expected_error_pct;
    let judged = rule.judge(error_pct, combined.u, combined.dof, tolerance_pct);
    let progress = Progress {
        error_pct,
        u_a_pct: terms
            .iter()
            .find(|term| term.term == SCATTER)
            .map_or(0.0, |term| term.u_pct),
        u_pct: combined.u,
        tolerance_pct,
        seconds: seconds as f64,
        windows: seconds / settings.gate.window_s.max(1) as usize,
        verdict: judged.verdict,
    };
    progress.needs(rule, f64::from(settings.gate.window_s))
}

/// The first whole number of windows after which the live screen would say "decided".
fn first_decided_s(settings: &Settings, needs: &dyn Fn(usize) -> Needs) -> Option<usize> {
    let window_s = settings.gate.window_s.max(1) as usize;
    (settings.decision.min_windows.max(1)..=LONGEST_S / window_s)
        .map(|windows| windows * window_s)
        .find(|seconds| needs(*seconds) == Needs::Decided)
}

fn budget(
    settings: &Settings,
    instruments: &Instruments,
    intent: &Intent,
    level_w: f64,
    seconds: usize,
) -> Vec<BudgetTerm> {
    let inflation = inflation_ar1(seconds, intent.noise_correlation).max(1.0);
    let n_eff = (seconds as f64 / inflation).max(1.0);
    let u_a = intent.noise_pct / n_eff.sqrt();
    // Repeats share the assumed scatter between them; it was not estimated, so it is not few.
    let repeat = settings.reference.repeat_pct.u() / f64::from(intent.repeats).sqrt();
    let condition = Condition {
        treatment: instruments.treatments()[0],
        indicated_reference_w: level_w,
        cadence_rpm: Some(intent.cadence_rpm),
        type_a: (u_a, (n_eff - 1.0).max(1.0)),
        n_eff,
        under_test_sd_w: intent.noise_pct / 100.0 * level_w,
        repeat: Some((repeat, f64::MAX)),
        closure_w: None,
    };
    terms(settings, instruments, &condition)
}

/// The term with the largest share of the variance over all levels.
fn reduce_first(levels: &[LevelForesight]) -> Option<(String, f64)> {
    let mut shares: Vec<(&str, f64)> = Vec::new();
    for term in levels.iter().flat_map(|level| &level.terms) {
        match shares.iter_mut().find(|(name, _)| *name == term.term) {
            Some((_, share)) => *share += term.u_pct * term.u_pct,
            None => shares.push((&term.term, term.u_pct * term.u_pct)),
        }
    }
    let total: f64 = shares.iter().map(|(_, share)| share).sum();
    let (name, share) = shares.into_iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((
        name.to_owned(),
        ((total - share) / levels.len() as f64).max(0.0).sqrt(),
    ))
}

fn sentence(
    levels: &[LevelForesight],
    capable: bool,
    reduce_first: Option<&(String, f64)>,
    minutes: f64,
) -> String {
    let worst = levels
        .iter()
        .max_by(|a, b| (a.u_pct / a.tolerance_pct).total_cmp(&(b.u_pct / b.tolerance_pct)))
        .unwrap_or(&levels[0]);
    let within = worst
        .shown_within_pct
        .map_or("nothing".to_owned(), |pct| format!("±{pct:.1} %"));
    let advice = reduce_first.map_or(String::new(), |(term, rest)| {
        format!("; reduce first: {term} (without it {rest:.2} % would be left)")
    });
    let riding = if minutes < 1.0 {
        "a minute of analysed riding is".to_owned()
    } else {
        format!("about {minutes:.0} minutes of analysed riding are")
    };
    format!(
        "{} At {:.0} W, the hardest level, an error within {within} can be shown to conform and \
         one beyond ±{:.1} % not to; {riding} worth the effort at {} levels{advice}.",
        if capable {
            "This bench can decide the claim."
        } else {
            "This bench cannot show even a perfect device within the claim at every level."
        },
        worst.level_w,
        worst.shown_beyond_pct,
        levels.len()
    )
}
