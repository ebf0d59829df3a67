//! Before and after a change, or one unit and another: a difference, and equivalence within a
//! margin.

use super::NAME;
use crate::examinations::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::excludes;
use crate::stats::two_samples::{Summary, welch};

/// Two sets of results compared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeforeAfter {
    /// Second minus first.
    pub difference: Estimate,
    /// 95 % interval of the difference.
    pub interval: [f64; 2],
    /// Chance of a difference this large without a change (Welch).
    pub p: f64,
    /// The margin within which the two count as equivalent, if one was set.
    pub margin: Option<f64>,
    /// Chance of data this close without equivalence (two one-sided tests).
    pub p_equivalence: Option<f64>,
    /// The conclusion.
    pub conclusion: Conclusion,
}

/// What a comparison shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Conclusion {
    /// A difference is shown.
    Different,
    /// Equivalence within the margin is shown.
    Equivalent,
    /// A difference is shown, but it is within the margin.
    DifferentWithinMargin,
    /// Neither is shown.
    NotDecided,
}

/// Compares results before and after a change (firmware, calibration, remounting), second minus
/// first. Each result must be an independent repeat, not a second of one ride.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to repeat.
pub fn before_after(
    before: &[f64],
    after: &[f64],
    margin: Option<f64>,
    unit: &str,
) -> Outcome<BeforeAfter> {
    let (Some(first), Some(second)) = (Summary::of(before), Summary::of(after)) else {
        return not_tested(
            NAME,
            format!(
                "{} and {} repeats; ride at least two of each, better three",
                before.len(),
                after.len()
            ),
        );
    };
    let Some(found) = welch(first, second) else {
        return not_tested(
            NAME,
            "the repeats do not differ at all; check that they are real",
        );
    };
    let difference = Estimate {
        value: found.value,
        u: found.u,
        dof: found.dof,
    };
    let interval = found.interval(0.95);
    let margin = margin.filter(|margin| *margin > 0.0);
    let p_equivalence = margin.map(|margin| {
        let [low, high] = found.equivalence(-margin, margin);
        low.max(high)
    });
    let different = excludes(interval, 0.0);
    let equivalent = p_equivalence.is_some_and(|p| p < 0.05);
    let conclusion = match (different, equivalent) {
        (true, true) => Conclusion::DifferentWithinMargin,
        (true, false) => Conclusion::Different,
        (false, true) => Conclusion::Equivalent,
        (false, false) => Conclusion::NotDecided,
    };
    let amount = format!(
        "{} {unit} ({})",
        words::signed(found.value, 2),
        words::interval(interval, 2, unit)
    );
    let margin_words = margin.map_or(String::new(), |m| {
        format!(" of ±{} {unit}", words::plain(m, 2))
    });
    let sentence = match conclusion {
        Conclusion::Different => format!("A change is shown: {amount}."),
        Conclusion::Equivalent => {
            format!("The two are equivalent within the margin{margin_words}: {amount}.")
        }
        Conclusion::DifferentWithinMargin => {
            format!("A change is shown, but it is within the margin{margin_words}: {amount}.")
        }
        Conclusion::NotDecided => {
            format!("Neither a change nor equivalence is shown: {amount}; more repeats are needed.")
        }
    };
    let points = |x: f64, values: &[f64]| values.iter().map(|v| [x, *v]).collect();
    let plots = vec![words::plot(
        "before-after",
        "Results before and after",
        ["1 before, 2 after", unit],
        vec![
            words::points(Ink::Reference, "before", points(1.0, before)),
            words::points(Ink::UnderTest, "after", points(2.0, after)),
        ],
        format!("{} and {} repeats", before.len(), after.len()),
    )];
    let result = BeforeAfter {
        difference,
        interval,
        p: found.p(),
        margin,
        p_equivalence,
        conclusion,
    };
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}
