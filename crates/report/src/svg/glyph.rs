//! Shapes that stand beside the words of a verdict, so that colour is never needed to tell them,
//! and the marks of single points. The shapes of the verdicts are the desk's.

use super::canvas::{Canvas, Pen, num};
use analysis::outcome::Ink;
use analysis::verdict::Verdict;

/// Draws the shape of a verdict around a point.
pub(crate) fn verdict(canvas: &mut Canvas, verdict: Verdict, [x, y]: [f64; 2], radius: f64) {
    let ink = canvas.inks.of_verdict(verdict);
    let pen = Pen::new(ink, 0.3 * radius);
    let (r, inner) = (radius, canvas.inks.halo.unwrap_or("none"));
    let triangle = format!(
        "M{} {}L{} {}L{} {}Z",
        num(x),
        num(y - 0.95 * r),
        num(x + r),
        num(y + 0.8 * r),
        num(x - r),
        num(y + 0.8 * r)
    );
    match verdict {
        Verdict::ShownWithin => canvas.circle([x, y], r, ink, None),
        Verdict::LikelyWithin => canvas.circle([x, y], 0.85 * r, inner, Some(pen)),
        Verdict::LikelyBeyond => canvas.path(&triangle, inner, Some(pen)),
        Verdict::ShownBeyond => canvas.path(&triangle, ink, Some(pen)),
        Verdict::BenchNotCapable => {
            let half = 0.8 * r;
            let square = format!(
                "M{} {}h{}v{}h{}Z",
                num(x - half),
                num(y - half),
                num(2.0 * half),
                num(2.0 * half),
                num(-2.0 * half)
            );
            canvas.path(&square, inner, Some(pen));
            canvas.line([x - half, y + half], [x + half, y - half], pen);
        }
        Verdict::NotTested => canvas.line([x - r, y], [x + r, y], pen),
    }
}

/// Draws the mark of one point: each ink has its own shape, and so has every further layer of the
/// same ink.
pub(crate) fn point(canvas: &mut Canvas, (ink, turn): (Ink, usize), [x, y]: [f64; 2], radius: f64) {
    let color = canvas.inks.of(ink);
    let pen = Pen::new(color, 0.36 * radius);
    let open = canvas.inks.halo.unwrap_or("none");
    if turn > 0 {
        let r = 1.15 * radius;
        let corners = match turn % 3 {
            1 => [[0.0, -r], [r, 0.0], [0.0, r], [-r, 0.0]],
            2 => [[0.0, -r], [r, 0.8 * r], [-r, 0.8 * r], [0.0, -r]],
            _ => [[-r, -r], [r, -r], [r, r], [-r, r]].map(|corner| corner.map(|c| 0.7 * c)),
        };
        let path: Vec<String> = corners
            .iter()
            .map(|[dx, dy]| format!("{} {}", num(x + dx), num(y + dy)))
            .collect();
        canvas.path(&format!("M{}Z", path.join("L")), open, Some(pen));
        return;
    }
    match ink {
        Ink::UnderTest => canvas.circle([x, y], radius, color, None),
        Ink::SecondReference => {
            canvas.circle([x, y], 0.9 * radius, open, Some(pen));
        }
        Ink::Reference => {
            let half = 0.85 * radius;
            canvas.rect([x - half, y - half, 2.0 * half, 2.0 * half], color);
        }
        Ink::Beyond => {
            let triangle = format!(
                "M{} {}L{} {}L{} {}Z",
                num(x),
                num(y - 0.95 * radius),
                num(x + radius),
                num(y + 0.8 * radius),
                num(x - radius),
                num(y + 0.8 * radius)
            );
            canvas.path(&triangle, color, None);
        }
        Ink::Fit => {
            let half = 0.85 * radius;
            canvas.line([x - half, y - half], [x + half, y + half], pen);
            canvas.line([x - half, y + half], [x + half, y - half], pen);
        }
        Ink::Uncertainty => canvas.circle([x, y], 0.55 * radius, color, None),
        Ink::Target | Ink::Tolerance | Ink::Excluded => {
            canvas.line([x - radius, y], [x + radius, y], pen);
        }
    }
}

/// The shape of a verdict as an element of its own for running text.
pub(crate) fn inline(state: Verdict) -> String {
    let mut canvas = Canvas::new("", super::inks::PAGE, 16.0, 16.0);
    verdict(&mut canvas, state, [8.0, 8.0], 6.0);
    canvas.into_inline("glyph", state.words(), state.meaning())
}
