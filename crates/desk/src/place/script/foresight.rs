//! What a script can decide on a bench, before anybody rides it.

use crate::inputs::{RigCard, RuleCard, ScriptCard, told};
use crate::parts::table::{self, Width};
use crate::parts::{self, words};
use analysis::budget::Instruments;
use analysis::evidence::Place;
use analysis::outcome::NotTested;
use analysis::plan::{Foresight, Intent, foresee};
use egui::{Sense, Ui};

/// What was foreseen, and for what.
#[derive(Debug, Default)]
pub(super) struct Foreseen {
    of: (String, String, u64),
    found: Option<Result<Foresight, NotTested>>,
}

/// Draws it; computed once for each choice.
pub(super) fn foresight_ui(
    ui: &mut Ui,
    foreseen: &mut Foreseen,
    rule: &RuleCard,
    rig: &RigCard,
    script: &ScriptCard,
) {
    let of = (script.view.name.clone(), rig.name.clone(), rule.serial);
    if foreseen.found.is_none() || foreseen.of != of {
        foreseen.found = Some(look_ahead(rule, rig, script));
        foreseen.of = of;
    }
    parts::caption(ui, "What it can decide on this bench");
    match &foreseen.found {
        Some(Ok(foresight)) => found_ui(ui, foresight),
        Some(Err(not)) => parts::quiet(ui, &told(ui, &words::sentence_case(&not.to_string()))),
        None => {}
    }
}

fn look_ahead(rule: &RuleCard, rig: &RigCard, script: &ScriptCard) -> Result<Foresight, NotTested> {
    let usual = Intent::default();
    let intent = Intent {
        levels_w: script.levels_w.clone(),
        seconds: script.level_seconds as usize,
        repeats: script.level_repeats,
        ..usual
    };
    let instruments = Instruments {
        under_test: rig.under_test.unwrap_or(Place::Hub),
        reference: rig.reference.unwrap_or(Place::Crank),
        zero_change_nm: None,
    };
    foresee(&rule.settings, &instruments, &intent)
}

fn found_ui(ui: &mut Ui, foresight: &Foresight) {
    parts::paragraph(ui, &told(ui, &foresight.sentence));
    let columns = [
        table::numbers("Level", 64.0).in_title(),
        table::numbers("U (95 %)", 72.0),
        table::words("Shown within", Width::Points(112.0)),
        table::words("Shown beyond", Width::Points(112.0)),
        table::words("Largest term", Width::Share(1.0)),
    ];
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, &columns);
        for level in &foresight.levels {
            let texts = [
                words::watts(level.level_w),
                format!("{}\u{a0}%", words::decimals(level.expanded_pct, 2)),
                level.shown_within_pct.map_or_else(
                    || "never".to_owned(),
                    |pct| format!("up to {}\u{a0}%", words::decimals(pct, 2)),
                ),
                format!("from {}\u{a0}%", words::decimals(level.shown_beyond_pct, 2)),
                told(ui, &level.dominant).into_owned(),
            ];
            table::text_row(ui, &columns, &texts, Sense::hover());
        }
    });
}
