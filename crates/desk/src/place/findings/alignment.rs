//! An alignment in words.

use crate::parts::words;
use analysis::findings::{Alignment, DriftApplied};

/// An alignment in one sentence.
pub(super) fn alignment_words(alignment: &Alignment) -> String {
    if let Some(refused) = &alignment.refused {
        return format!(
            "{} was left where it was: {}.",
            alignment.source, refused.reason
        );
    }
    if alignment.stretches.len() > 1 {
        let lags: Vec<String> = alignment
            .stretches
            .iter()
            .map(|stretch| {
                format!(
                    "{}\u{a0}s ± {}\u{a0}s",
                    words::signed(stretch.lag_s, 2),
                    words::decimals(2.0 * stretch.lag_u_s, 2)
                )
            })
            .collect();
        return format!(
            "The clock of {} jumped: it was ahead by {} (twice the standard uncertainty), and what \
             it recorded was moved by that.",
            alignment.source,
            lags.join(", then by ")
        );
    }
    let side = if alignment.lag_s < 0.0 {
        "early"
    } else {
        "late"
    };
    let mut sentence = format!(
        "{} is {}\u{a0}s ± {}\u{a0}s {side} (twice the standard uncertainty) and was moved by that",
        alignment.source,
        words::decimals(alignment.lag_s.abs(), 2),
        words::decimals(2.0 * alignment.lag_u_s, 2),
    );
    if let Some(drift) = alignment.drift_ppm {
        let applied = match alignment.drift_applied {
            DriftApplied::Yes => "applied",
            DriftApplied::No => "within its uncertainty and not applied",
        };
        sentence.push_str(&format!(
            "; its clock drifts by {} ± {:.0} ppm, {applied}",
            words::signed(drift.value, 0),
            2.0 * drift.u,
        ));
    }
    sentence.push('.');
    sentence
}
