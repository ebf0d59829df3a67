//! `prony plan`: can this bench decide the claim at all, and how long has it to be ridden?

use super::Failure;
use super::listing::Listing;
use crate::choice;
use crate::cli::{self, PlanArguments, say};
use analysis::budget::Instruments;
use analysis::evidence::Place;
use analysis::plan::{Foresight, Intent, foresee};
use analysis::settings::{HalfWidth, SlopeKnowledge};
use analysis::verdict::Tolerance;
use anyhow::{Context, anyhow};
use serde_json::{Value, json};
use units::Watts;

/// Foresees what could be shown, and says it.
pub fn plan(arguments: &PlanArguments) -> Result<(), Failure> {
    let mut settings =
        choice::settings(arguments.settings.as_deref()).map_err(Failure::unusable)?;
    if let Some(pct) = arguments.claim {
        let mut claim = settings.power_claim();
        claim.tolerance = Tolerance::PercentOfReading(positive(pct, "--claim")?);
        settings.claims = vec![analysis::claim::Claim::PowerAccuracy(claim)];
    }
    if let Some(pct) = arguments.reference {
        settings.reference.slope = SlopeKnowledge::Claimed(HalfWidth::new(
            positive(pct, "--reference")?,
            "given on the command line: half-width of a rectangular distribution",
        ));
    }
    let script = match &arguments.script {
        Some(name) => Some(choice::script(Some(name), None).map_err(Failure::unusable)?),
        None => None,
    };
    let above = Watts(positive(arguments.above, "--above")?);
    let usual = script
        .as_ref()
        .and_then(|script| Listing::new(script, above).intent())
        .unwrap_or_default();
    let intent = Intent {
        levels_w: if arguments.levels.is_empty() {
            usual.levels_w
        } else {
            arguments.levels.clone()
        },
        seconds: arguments.seconds.unwrap_or(usual.seconds),
        repeats: arguments.repeats.unwrap_or(usual.repeats),
        noise_pct: arguments.noise.unwrap_or(usual.noise_pct),
        ..usual
    };
    let instruments = Instruments {
        under_test: Place::Hub,
        reference: Place::Crank,
        zero_change_nm: None,
    };
    let foresight = foresee(&settings, &instruments, &intent)
        .map_err(|not| Failure::unusable(anyhow!("{not}")))?;
    let listing = script.as_ref().map(|script| Listing::new(script, above));
    if let Some(to) = &arguments.json {
        let mut document = document(&foresight);
        if let Some(listing) = &listing {
            document["script"] = listing.document();
        }
        cli::write_json(&document, to)?;
    }
    if arguments
        .json
        .as_ref()
        .is_none_or(|to| to.as_os_str() != "-")
    {
        if let Some(listing) = &listing {
            say(listing);
        }
        say(&foresight.sentence);
        for level in &foresight.levels {
            say(format_args!(
                "  {:>4.0} W  U {:.2} %  shown within {}  shown beyond {:.2} %  largest term: {}",
                level.level_w,
                level.expanded_pct,
                level
                    .shown_within_pct
                    .map_or("never".to_owned(), |pct| format!("up to {pct:.2} %")),
                level.shown_beyond_pct,
                level.dominant,
            ));
        }
    }
    Ok(())
}

fn positive(value: f64, name: &str) -> Result<f64, Failure> {
    (value.is_finite() && value > 0.0)
        .then_some(value)
        .with_context(|| format!("{name} takes a number above zero, not {value}"))
        .map_err(Failure::unusable)
}

fn document(foresight: &Foresight) -> Value {
    json!({
        "schema": "prony-plan-1",
        "sentence": foresight.sentence,
        "capable": foresight.capable,
        "minutes": foresight.minutes,
        "minutes_to_decide": foresight.minutes_to_decide,
        "decidable_levels": foresight.decidable_levels,
        "reduce_first": foresight.reduce_first.as_ref().map(|(term, capability)| json!({
            "term": term,
            "figure": capability,
        })),
        "levels": foresight.levels.iter().map(|level| json!({
            "level_w": level.level_w,
            "tolerance_pct": level.tolerance_pct,
            "u_pct": level.u_pct,
            "expanded_pct": level.expanded_pct,
            "shown_within_pct": level.shown_within_pct,
            "shown_beyond_pct": level.shown_beyond_pct,
            "dominant": level.dominant,
            "useful_seconds": level.useful_seconds,
            "needs": level.needs.words(),
        })).collect::<Vec<_>>(),
    })
}
