//! Invented papers: a script of one's own, claim sheets, the rule, and sessions side by side.

use super::{LONG, scripts};
use analysis::settings::Settings;
use desk::{DraftCheck, DraftProblem, Interrupted, RuleCard, ScriptCard, SheetCard};
use std::sync::Arc;

/// The text of a script with steps of several kinds.
pub const TEXT: &str = "\
// For the workshop, on the left stand.
Script(
    title: \"Own sweep\",
    decides: \"Whether the difference depends on the level.\",
    ceiling_w: 320,
    cadence_rpm: 90,
    steps: [
        Ramp(title: \"warm up\", from_w: 100, to_w: 200, seconds: 480, feeds: Warmup),
        Repeat(times: 2, steps: [
            Hold(title: \"low\", power_w: 150, seconds: 180),
            Hold(title: \"high\", power_w: 300, seconds: 180, settle_seconds: 40),
        ]),
        SlopeSteps(grades_pct: [0, 3, 6], speed_kmh: 15, seconds: 90),
        CoastDown(from_kmh: 35),
        CoolDown(seconds: 300),
    ],
)
";

/// A script of one's own.
pub fn own_script() -> ScriptCard {
    let mut card = scripts().remove(1);
    let view = Arc::make_mut(&mut card.view);
    view.name = "own-sweep".into();
    view.title = "Own sweep".into();
    card.text = TEXT.into();
    card.is_own = true;
    card
}

/// What came of reading a text with mistakes in it.
pub fn wrong_draft(serial: u64) -> DraftCheck {
    let problem = |line, column, words: &str| DraftProblem {
        line,
        column,
        words: words.into(),
    };
    DraftCheck {
        serial,
        card: None,
        problems: vec![
            problem(
                11,
                32,
                "a target is at most 320 W, the ceiling of this script; lower it, or raise \
                 `ceiling_w` in line 5",
            ),
            problem(
                14,
                9,
                "`feeds` names nothing that is known; write feeds: Steady",
            ),
        ],
    }
}

/// Claim sheets; the second is chosen.
pub fn sheets() -> Vec<SheetCard> {
    let sheet = |name: &str, text: &str, is_chosen| SheetCard {
        name: name.into(),
        text: text.into(),
        is_chosen,
    };
    let accuracy = "(claims: [PowerAccuracy((name: \"power\", tolerance: PercentOfReading(1)))])";
    let several = "(claims: [
    PowerAccuracy((name: \"power accuracy\", text: \"accurate to within 2 %\",
        tolerance: PercentOfReading(2), range_w: Some((75, 1000)),
        conditions: [\"after ten minutes of riding\"])),
    LargestPower((name: \"largest power\", text: \"up to 280 W\", limit: AtLeast(280), over_s: 60)),
    Noise((name: \"noise\", text: \"58 dB at one metre\", limit: AtMost(58), distance_m: 1,
        conditions: [\"200 W at 90 rpm and 29 km/h\"])),
    Mass((name: \"mass\", text: \"weighs 19.5 kg\", limit: Nominal(19.5, 0.3))),
])";
    vec![
        sheet("", accuracy, false),
        sheet("trainer-7-leaflet", several, true),
        sheet(LONG, accuracy, false),
        sheet("torn", "(claims: [", false),
    ]
}

/// The usual rule.
pub fn rule() -> RuleCard {
    let settings = Settings::default();
    RuleCard {
        text: settings.to_ron().into(),
        settings: Arc::new(settings),
        sha256: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08".into(),
        serial: 1,
    }
}

/// Recordings that were not closed.
pub fn interrupted() -> Vec<Interrupted> {
    vec![
        Interrupted {
            key: "a".into(),
            title: "Trainer 7, torn off in the middle of the second level".into(),
        },
        Interrupted {
            key: "b".into(),
            title: LONG.into(),
        },
    ]
}
