//! The uncertainty budget as bars: how much of the variance each term brings, the largest first.
//!
//! A bar begins where the one above it ends, so that together they reach from nothing to all of
//! it. What improves the bench is the first row.

use super::canvas::{Anchor, Canvas, Face, Pen};
use super::{Around, Sheet, measure, row_height};
use crate::words;
use analysis::findings::BudgetTerm;

/// Height of a row in sizes of the text.
const ROW: f64 = 1.9;

/// One term with its share.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Share<'a> {
    /// The term.
    pub(crate) term: &'a BudgetTerm,
    /// Its share of the combined variance.
    pub(crate) share: f64,
}

/// The terms by their share of the variance, the largest first.
pub(crate) fn shares(budget: &[BudgetTerm]) -> Vec<Share<'_>> {
    let finite = |term: &&BudgetTerm| term.u_pct.is_finite();
    let total: f64 = budget
        .iter()
        .filter(finite)
        .map(|term| term.u_pct.powi(2))
        .sum();
    let mut shares: Vec<Share<'_>> = budget
        .iter()
        .filter(finite)
        .map(|term| Share {
            term,
            share: if total > 0.0 {
                term.u_pct.powi(2) / total
            } else {
                0.0
            },
        })
        .collect();
    shares.sort_by(|a, b| b.share.total_cmp(&a.share));
    shares
}

/// Height of the bars at a size of text, without margins, title and caption.
pub(crate) fn natural_height(budget: &[BudgetTerm], text: f64) -> f64 {
    (budget.len().max(1) as f64 * ROW + 5.2) * text
}

/// The budget in words.
pub(crate) fn sentence(budget: &[BudgetTerm]) -> String {
    let shares = shares(budget);
    let Some(first) = shares.first() else {
        return "There is no budget: no condition was judged.".to_owned();
    };
    let u = shares
        .iter()
        .map(|share| share.term.u_pct.powi(2))
        .sum::<f64>()
        .sqrt();
    let parts: Vec<String> = shares
        .iter()
        .map(|share| {
            format!(
                "{} {} % ({} % of the variance)",
                share.term.term,
                words::decimals(share.term.u_pct, 3),
                words::decimals(100.0 * share.share, 0)
            )
        })
        .collect();
    format!(
        "The largest term is {}. Standard uncertainties: {}; combined {} %.",
        first.term.term,
        parts.join("; "),
        words::decimals(u, 3)
    )
}

/// The title of the bars.
pub(crate) const TITLE: &str = "Where the uncertainty comes from";

/// Draws the bars.
pub(crate) fn draw(budget: &[BudgetTerm], sheet: Sheet, around: &Around) -> String {
    let [width, height] = sheet.size;
    let (text, margin) = (sheet.text, sheet.margin());
    let mut canvas = Canvas::new(sheet.id.clone(), sheet.inks, width, height);
    let inks = canvas.inks;
    let [top, end] = around.draw(&mut canvas, &sheet);
    let shares = shares(budget);
    let widest = shares
        .iter()
        .map(|share| measure::width(&share.term.term, text))
        .fold(0.0, f64::max)
        .min(0.42 * width);
    let left = margin + widest + 1.4 * text;
    let u_at = width - margin - 4.6 * text;
    let right = u_at - 4.6 * text;
    let quiet = Face::new(0.87 * text, inks.quiet, Anchor::End);
    canvas.text([u_at, top + text], quiet, "u, %");
    canvas.text([width - margin, top + text], quiet, "share");
    let first = top + 1.7 * text;
    let pitch = row_height(end - first - 3.0 * text, shares.len(), ROW * text);
    let bottom = first + shares.len() as f64 * pitch;
    let at = |share: f64| left + share * (right - left);
    for quarter in 0..=4 {
        let share = f64::from(quarter) / 4.0;
        canvas.line(
            [at(share), first],
            [at(share), bottom],
            Pen::new(inks.rule, text / 13.0),
        );
        let face = Face::new(text, inks.quiet, Anchor::Middle);
        canvas.text(
            [at(share), bottom + 1.35 * text],
            face,
            &format!("{}", 25 * quarter),
        );
    }
    let face = Face::new(text, inks.quiet, Anchor::Middle);
    canvas.text(
        [at(0.5), bottom + 2.65 * text],
        face,
        "share of the variance u², %",
    );
    let mut sum = 0.0;
    for (index, share) in shares.iter().enumerate() {
        let middle = first + (index as f64 + 0.5) * pitch;
        let base = middle + 0.36 * text;
        let dominant = index == 0;
        let cut = |face: Face| if dominant { face.bold() } else { face };
        let start = cut(Face::new(text, inks.text, Anchor::Start));
        let end = Face {
            anchor: Anchor::End,
            ..start
        };
        canvas.text(
            [margin, base],
            start,
            &measure::clip(&share.term.term, text, widest + 0.2),
        );
        let half = 0.55 * text;
        let fill = if dominant { inks.text } else { inks.edge };
        let long = (at(share.share) - left).max(1.0);
        canvas.rect([at(sum), middle - half, long, 2.0 * half], fill);
        sum += share.share;
        canvas.text([u_at, base], end, &words::decimals(share.term.u_pct, 3));
        let percent = match 100.0 * share.share {
            p if p > 0.0 && p < 0.5 => "< 1 %".to_owned(),
            p => format!("{} %", words::decimals(p, 0)),
        };
        canvas.text([width - margin, base], end, &percent);
    }
    canvas.finish(&around.title, &sentence(budget), sheet.pixels)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn term(name: &str, u_pct: f64) -> BudgetTerm {
        BudgetTerm {
            term: name.into(),
            u_pct,
            dof: f64::MAX,
            source: String::new(),
        }
    }

    /// Bench A of the usual budget: reference ±1 % and drivetrain ±1 %, both rectangular, 0.2,
    /// 0.2 and 0.3 % direct; GUM 4.3.7 and 5.1.2 give u = 0.91 %.
    #[test]
    fn shares_are_of_the_variance_and_the_largest_comes_first() {
        let third = 1.0 / 3f64.sqrt();
        let budget = [
            term("zero", 0.2),
            term("slope", third),
            term("drivetrain", third),
            term("a", 0.2),
            term("repeat", 0.3),
        ];
        let shares = shares(&budget);
        assert_eq!(shares[0].term.term, "slope");
        assert!((shares.iter().map(|share| share.share).sum::<f64>() - 1.0).abs() < 1e-12);
        assert!((shares[0].share - 1.0 / 3.0 / (2.0 / 3.0 + 0.17)).abs() < 1e-12);
        assert!(
            sentence(&budget).contains("combined 0.915 %"),
            "{}",
            sentence(&budget)
        );
    }
}
