//! Verdict and thumbnail of one session, from its recorded bytes.

use crate::reopening::reopen;
use anyhow::Result;
use session::shelf::{Judgement, Thumbnail};
use std::path::Path;

/// Points of a thumbnail: one for about two pixels of a small picture.
const POINTS: usize = 96;

/// Judges a session for the list. Never fails: what cannot be computed is said in the sentence.
pub fn judge(path: &Path) -> Judgement {
    computed(path).unwrap_or_else(|error| Judgement {
        verdict: None,
        sentence: format!("not judged: {error:#}"),
        bias_pct: None,
        expanded_pct: None,
        thumbnail: Thumbnail::default(),
    })
}

fn computed(path: &Path) -> Result<Judgement> {
    let findings = reopen(path)?.own_findings();
    let bias = findings.overall.bias_pct;
    Ok(Judgement {
        verdict: Some(findings.overall.verdict.words().to_owned()),
        sentence: findings.overall.sentence.clone(),
        bias_pct: bias.map(|bias| bias.value),
        expanded_pct: bias.map(|bias| 2.0 * bias.u),
        thumbnail: Thumbnail::of_seconds(
            &findings.traces.under_test_w,
            &findings.traces.reference_w,
            POINTS,
        ),
    })
}
