//! What is marked on the traces: the place that is looked at, what did not count, and where the
//! device dropped out.

use crate::chart::time_chart::{MarkStyle, Marked};
use crate::inputs::SpeedUnit;
use crate::parts::Glyph;
use crate::theme::Tokens;
use analysis::findings::Findings;
use units::Timestamp;

#[derive(Debug)]
pub(super) struct Target {
    pub(super) title: String,
    pub(super) from: Timestamp,
    pub(super) to: Timestamp,
}

/// What was asked for, what did not count, and where the device dropped out.
pub(super) fn marked(
    target: &Target,
    findings: &Findings,
    unit: SpeedUnit,
    t: &Tokens,
) -> Vec<Marked> {
    let moment = Timestamp::from_secs_f64;
    let excluded = findings.exclusions.iter().map(|exclusion| Marked {
        from: moment(exclusion.from_s),
        to: moment(exclusion.to_s),
        glyph: Glyph::Dash,
        ink: t.quiet,
        words: format!("did not count: {}", unit.told(&exclusion.reason)),
        style: MarkStyle::Hatched,
    });
    let lost = findings.dropouts.iter().map(|drop_out| Marked {
        from: drop_out.from,
        to: drop_out.to,
        glyph: Glyph::Square,
        ink: t.text,
        words: drop_out.kind.words().to_owned(),
        style: MarkStyle::Hatched,
    });
    let target = Marked {
        from: target.from,
        to: target.to,
        glyph: Glyph::Ring,
        ink: t.text,
        words: unit.told(&target.title).into_owned(),
        style: MarkStyle::Framed,
    };
    excluded.chain(lost).chain([target]).collect()
}
