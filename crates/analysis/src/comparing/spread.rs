//! How far results spread from session to session, or from unit to unit.

use super::conditions::{Condition, shared};
use super::kind::{Kind, Recognised};
use super::mean::MeanError;
use crate::budget;
use crate::examinations::repeatability::{self, Repeatability, repeatability};
use crate::examinations::words::plain;
use crate::outcome::{NotTested, Tested};
use crate::stats::intervals::sd_interval;
use crate::stats::two_way::two_way;

/// Factor of the limits of ISO 5725: 1.96·√2, rounded there to 2.8.
const LIMIT_FACTOR: f64 = 2.8;

/// Spread between sessions or units, in percent of the reference.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// Sessions that enter.
    pub sessions: usize,
    /// Conditions that all of them rode.
    pub conditions: usize,
    /// Standard deviation that all conditions of a session share.
    pub s_shared_pct: f64,
    /// Standard deviation of a single condition beside that.
    pub s_own_pct: f64,
    /// Standard deviation of the result at one condition from session to session.
    pub s_pct: f64,
    /// Its effective degrees of freedom.
    pub dof: f64,
    /// Its 95 % interval.
    pub interval_pct: [f64; 2],
    /// Two results at one condition, from two sessions, differ by no more than this in 95 of 100
    /// cases.
    pub limit_pct: f64,
    /// What the budgets expect of the terms that are drawn anew in every session.
    pub expected_pct: f64,
    /// Where units were ridden more than once: spread within them and between them, of the means
    /// over the conditions.
    pub nested: Option<Repeatability>,
    /// In a sentence.
    pub sentence: String,
}

/// Computes the spread over all sessions.
///
/// # Errors
/// [`NotTested`] where the kind has no spread, or no condition was ridden in all sessions.
pub(super) fn spread(
    conditions: &[Condition],
    sessions: usize,
    kind: &Recognised,
) -> Result<Spread, NotTested> {
    let refused = |reason: &str| NotTested {
        examination: repeatability::NAME,
        reason: reason.into(),
    };
    let between = match kind.kind {
        Kind::Repeats => "sessions",
        Kind::Units => "units",
        Kind::Devices => {
            return Err(refused(
                "different devices have differences and no common spread; compare units of one \
                 model for that",
            ));
        }
        Kind::BeforeAfter => {
            return Err(refused(
                "one unit before and after a change has changes, not a spread; ride each state \
                 more than once for its repeatability",
            ));
        }
        Kind::NotKnown => {
            return Err(refused(
                "what the sessions are to each other is not known, so that a spread would have no \
                 meaning; if you know it, say it: in the row of words in the window, with `--as` \
                 on the command line",
            ));
        }
    };
    let all: Vec<usize> = (0..sessions).collect();
    let both = shared(conditions, &all);
    if both.is_empty() {
        return Err(refused(
            "no condition was ridden in all of the sessions; ride the same script in each",
        ));
    }
    let table: Vec<Vec<f64>> = all
        .iter()
        .map(|session| {
            let cells = both
                .iter()
                .filter_map(|c| Some(c.cells_of(&[*session])?[0]));
            cells.map(|cell| cell.bias_pct).collect()
        })
        .collect();
    let analysed = two_way(&table).ok_or_else(|| refused("the results are not numbers"))?;
    let (s_pct, dof) = analysed.s_of_one();
    let interval_pct = sd_interval(s_pct, dof);
    let expected_pct = expected(&both, sessions);
    let nested = nested(&table, kind);
    let mut sentence = format!(
        "From one of the {} {between} to another, the result at one condition spreads by {} % \
         (standard deviation, 95\u{a0}% interval {} to {} %): {} % shared by all conditions, {} % \
         of each condition’s own; two results may differ by {} %.",
        sessions,
        plain(s_pct, 2),
        plain(interval_pct[0], 2),
        plain(interval_pct[1], 2),
        plain(analysed.s_shared(), 2),
        plain(analysed.s_own(), 2),
        plain(LIMIT_FACTOR * s_pct, 2),
    );
    sentence += &match kind.kind {
        Kind::Repeats if interval_pct[0] > expected_pct => format!(
            " The budgets expect only {} %: something varies between the sessions that no budget \
             knows.",
            plain(expected_pct, 2)
        ),
        _ => format!(
            " The budgets expect {} % of what is drawn anew in every session.",
            plain(expected_pct, 2)
        ),
    };
    if sessions == 2 {
        sentence += " Two results are few: the interval says how little such a spread is worth.";
    }
    if let Some(nested) = &nested {
        sentence += &format!(
            " Over the conditions, sessions of one unit scatter by {} % and the units differ by {} % \
             more.",
            plain(nested.s_r, 2),
            plain(nested.s_l, 2),
        );
    }
    Ok(Spread {
        sessions,
        conditions: both.len(),
        s_shared_pct: analysed.s_shared(),
        s_own_pct: analysed.s_own(),
        s_pct,
        dof,
        interval_pct,
        limit_pct: LIMIT_FACTOR * s_pct,
        expected_pct,
        nested,
        sentence,
    })
}

/// Root of the mean variance of the terms that are each session's own: everything but what the
/// slope of the reference and the drivetrain bring, which are the same thing in repeats.
fn expected(conditions: &[&Condition], sessions: usize) -> f64 {
    let mut sum = 0.0;
    for condition in conditions {
        let cells = (0..sessions).filter_map(|s| Some(condition.cells_of(&[s])?[0]));
        for cell in cells {
            let own = cell
                .budget
                .iter()
                .filter(|term| ![budget::SLOPE, budget::DRIVETRAIN].contains(&term.term.as_str()));
            sum += own.map(|term| term.u_pct * term.u_pct).sum::<f64>();
        }
    }
    (sum / (conditions.len() * sessions) as f64).sqrt()
}

/// Means over the conditions, grouped by unit, where one of them was ridden more than once.
fn nested(table: &[Vec<f64>], kind: &Recognised) -> Option<Repeatability> {
    if kind.kind == Kind::Repeats {
        return None;
    }
    let mut groups = vec![Vec::new(); kind.group_names.len()];
    for (row, group) in table.iter().zip(&kind.groups) {
        groups[*group].push(row.iter().sum::<f64>() / row.len() as f64);
    }
    let Tested { result, .. } = repeatability(&groups, "%").ok()?;
    Some(result)
}

/// The mean error of each session over the conditions that all of them rode.
pub(super) fn means(conditions: &[Condition], sessions: usize) -> Option<(Vec<MeanError>, usize)> {
    let all: Vec<usize> = (0..sessions).collect();
    let both = shared(conditions, &all);
    let means = all.iter().map(|session| {
        let cells = both
            .iter()
            .filter_map(|c| Some(c.cells_of(&[*session])?[0]));
        MeanError::of(&cells.collect::<Vec<_>>())
    });
    Some((means.collect::<Option<Vec<_>>>()?, both.len()))
}

#[cfg(test)]
mod tests {
    use super::super::conditions::conditions;
    use super::super::kind::recognise;
    use super::super::samples::{OWN_PCT, Sample, sides};
    use super::*;

    fn spread_of(errors: &[[f64; 2]], asked: Option<Kind>) -> Result<Spread, NotTested> {
        let samples: Vec<Sample> = errors
            .iter()
            .map(|[low, high]| Sample {
                cells: vec![(100.0, *low), (200.0, *high)],
                ..Sample::default()
            })
            .collect();
        let sides = sides(&samples);
        let conditions = conditions(&sides, &vec![Vec::new(); sides.len()]);
        spread(&conditions, sides.len(), &recognise(&sides, asked))
    }

    /// The table worked out by hand in [`crate::stats::two_way`]: MS of the rows 14, of the rest 2.
    #[test]
    fn components_by_hand() {
        let found = spread_of(&[[0.0, 2.0], [2.0, 2.0], [4.0, 8.0]], None).unwrap();
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} not {b}");
        assert_eq!((found.sessions, found.conditions), (3, 2));
        close(found.s_shared_pct, 6f64.sqrt());
        close(found.s_own_pct, 2f64.sqrt());
        close(found.s_pct, 8f64.sqrt());
        close(found.dof, 2.56);
        close(found.limit_pct, 2.8 * 8f64.sqrt());
        close(found.expected_pct, OWN_PCT[0].hypot(OWN_PCT[1]));
        assert!(
            found.sentence.contains("no budget knows"),
            "{}",
            found.sentence
        );
    }

    #[test]
    fn one_condition_is_a_standard_deviation() {
        // 1.0, 1.2, 1.7: mean 1.3, squares 0.09 + 0.01 + 0.16 = 0.26, s = √0.13.
        let sessions = [1.0, 1.2, 1.7].map(|error| Sample {
            cells: vec![(200.0, error)],
            ..Sample::default()
        });
        let sides = sides(&sessions);
        let conditions = conditions(&sides, &vec![Vec::new(); 3]);
        let found = spread(&conditions, 3, &recognise(&sides, None)).unwrap();
        assert!((found.s_pct - 0.13f64.sqrt()).abs() < 1e-12);
        assert!((found.dof - 2.0).abs() < 1e-12);
    }

    #[test]
    fn what_has_no_spread() {
        let errors = [[0.0, 1.0], [0.2, 1.1]];
        assert!(spread_of(&errors, Some(Kind::NotKnown)).is_err());
        assert!(spread_of(&errors, Some(Kind::BeforeAfter)).is_err());
        assert!(spread_of(&errors, Some(Kind::Devices)).is_err());
        assert!(
            spread_of(&errors, Some(Kind::Units))
                .unwrap()
                .nested
                .is_none()
        );
        let apart = [
            Sample::default(),
            Sample {
                cells: vec![(900.0, 1.0)],
                ..Sample::default()
            },
        ];
        let sides = sides(&apart);
        let conditions = conditions(&sides, &vec![Vec::new(); 2]);
        let refused = spread(&conditions, 2, &recognise(&sides, None)).unwrap_err();
        assert!(refused.reason.contains("same script"), "{refused}");
    }
}
