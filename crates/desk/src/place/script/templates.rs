//! What a form can add: steps and claims with usual values, and the values that each may have
//! besides.

/// An entry that can be added to a list.
#[derive(Clone, Copy, Debug)]
pub struct Template {
    /// What it is, as the text spells it.
    pub kind: &'static str,
    /// What it is, in words.
    pub words: &'static str,
    /// The entry with usual values.
    pub text: &'static str,
    /// Values that it may have besides, with a usual value each.
    pub more: &'static [(&'static str, &'static str)],
}

const fn template(
    kind: &'static str,
    words: &'static str,
    text: &'static str,
    more: &'static [(&'static str, &'static str)],
) -> Template {
    Template {
        kind,
        words,
        text,
        more,
    }
}

/// Every step that can be added to a script.
pub const STEPS: &[Template] = &[
    template(
        "Hold",
        "one power",
        "Hold(power_w: 150, seconds: 180)",
        &[
            ("title", "\"a name\""),
            ("settle_seconds", "30"),
            ("cadence_rpm", "90"),
            ("gear", "\"39x17\""),
            ("feeds", "Steady"),
        ],
    ),
    template(
        "Ramp",
        "power that rises or falls evenly",
        "Ramp(from_w: 80, to_w: 150, seconds: 300, feeds: Warmup)",
        &[("title", "\"a name\""), ("cadence_rpm", "90")],
    ),
    template(
        "Staircase",
        "levels up and down",
        "Staircase(from_w: 100, to_w: 300, levels: 5, order: UpDown, seconds: 180)",
        &[
            ("title", "\"a name\""),
            ("settle_seconds", "30"),
            ("cadence_rpm", "90"),
        ],
    ),
    template(
        "Alternate",
        "two levels in turn",
        "Alternate(levels_w: [150, 250], seconds: 30, times: 4)",
        &[("title", "\"a name\""), ("cadence_rpm", "90")],
    ),
    template(
        "CadenceLadder",
        "one power at several cadences",
        "CadenceLadder(power_w: 200, cadences_rpm: [70, 85, 100], seconds: 120)",
        &[("title", "\"a name\""), ("gear", "\"39x17\"")],
    ),
    template(
        "FlywheelLadder",
        "one power at several flywheel speeds",
        "FlywheelLadder(power_w: 200, gears: [\"34x28\", \"39x17\", \"50x14\"], seconds: 120)",
        &[("title", "\"a name\""), ("cadence_rpm", "90")],
    ),
    template(
        "Burst",
        "short hard efforts",
        "Burst(brake: Resistance(40), seconds: 8, times: 3, rest_seconds: 150)",
        &[
            ("title", "\"a name\""),
            ("start", "Standing"),
            ("ready_seconds", "15"),
            ("rest_w", "80"),
        ],
    ),
    template(
        "SlopeSteps",
        "constant grades",
        "SlopeSteps(grades_pct: [0, 3, 6], speed_kmh: 15, seconds: 90)",
        &[("title", "\"a name\""), ("effort_w", "200")],
    ),
    template(
        "SlopeProgram",
        "a grade along time",
        "SlopeProgram(points: [(0, 0.0), (60, 4.0), (120, 0.0)])",
        &[
            ("title", "\"a name\""),
            ("effort_w", "200"),
            ("shape", "Linear"),
        ],
    ),
    template(
        "Resistance",
        "a resistance level",
        "Resistance(level: 20, seconds: 90, effort_w: 150)",
        &[("title", "\"a name\""), ("cadence_rpm", "90")],
    ),
    template(
        "HoldUntil",
        "one power until it is decided",
        "HoldUntil(power_w: 200, until: Decided, limit_seconds: 600)",
        &[
            ("title", "\"a name\""),
            ("at_least_seconds", "60"),
            ("cadence_rpm", "90"),
        ],
    ),
    template(
        "CoastDown",
        "the flywheel left to run down",
        "CoastDown(from_kmh: 35)",
        &[("title", "\"a name\""), ("to_kmh", "10")],
    ),
    template("SpinDown", "the device's spin-down", "SpinDown()", &[]),
    template(
        "ZeroOffset",
        "zero of the instruments",
        "ZeroOffset(of: References)",
        &[("limit_seconds", "300")],
    ),
    template(
        "FreeRide",
        "riding as the rider likes",
        "FreeRide(seconds: 600, feeds: DropOut)",
        &[
            ("title", "\"a name\""),
            ("brake", "Slope(1)"),
            ("effort_w", "150"),
        ],
    ),
    template("Rest", "rest", "Rest(seconds: 60)", &[("power_w", "60")]),
    template(
        "Prompt",
        "words that wait for an answer",
        "Prompt(text: \"Ready?\", answer: Acknowledge)",
        &[("limit_seconds", "1800")],
    ),
    template(
        "CoolDown",
        "easy riding at the end",
        "CoolDown(seconds: 300)",
        &[("power_w", "100")],
    ),
];

/// Every claim that can be put on a sheet.
pub const CLAIMS: &[Template] = &[
    template(
        "PowerAccuracy",
        "power accuracy",
        "PowerAccuracy((name: \"power accuracy\", text: \"\", source: \"\", tolerance: \
         PercentOfReading(2)))",
        &[
            ("range_w", "Some((50, 1000))"),
            ("location", "hub"),
            ("conditions", "[\"after 10 minutes of warming up\"]"),
            ("covers", "each_level"),
        ],
    ),
    template(
        "LargestPower",
        "largest power",
        "LargestPower((name: \"largest power\", text: \"\", source: \"\", limit: AtLeast(2000), \
         over_s: 5))",
        &[("conditions", "[]")],
    ),
    template(
        "LargestSlope",
        "largest slope",
        "LargestSlope((name: \"largest slope\", text: \"\", source: \"\", limit: AtLeast(16)))",
        &[("conditions", "[]")],
    ),
    template(
        "FieldsSent",
        "data fields that are sent",
        "FieldsSent((name: \"data fields\", text: \"\", source: \"\", fields: [power, cadence, \
         speed]))",
        &[("conditions", "[]")],
    ),
    template(
        "UpdateRate",
        "update rate",
        "UpdateRate((name: \"update rate\", text: \"\", source: \"\", limit: AtLeast(1)))",
        &[("conditions", "[]")],
    ),
    template(
        "EquivalentMass",
        "equivalent mass of the flywheel",
        "EquivalentMass((name: \"equivalent mass\", text: \"\", source: \"\", limit: Nominal(50, \
         5)))",
        &[("conditions", "[]")],
    ),
    template(
        "Noise",
        "noise",
        "Noise((name: \"noise\", text: \"\", source: \"\", limit: AtMost(60), distance_m: 1))",
        &[("conditions", "[]")],
    ),
    template(
        "Mass",
        "mass",
        "Mass((name: \"mass\", text: \"\", source: \"\", limit: Nominal(20, 0.5)))",
        &[("conditions", "[]")],
    ),
    template(
        "Dimension",
        "a dimension",
        "Dimension((name: \"width\", text: \"\", source: \"\", limit: Nominal(600, 10)))",
        &[("conditions", "[]")],
    ),
    template(
        "Document",
        "a document that can be shown",
        "Document((name: \"declaration\", text: \"\", source: \"\"))",
        &[("conditions", "[]")],
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_claim_that_can_be_added_can_be_read() {
        for template in CLAIMS {
            let text = format!("(claims: [{}])", template.text);
            let read = analysis::claim::read_claims(&text);
            assert!(read.is_ok(), "{}: {read:?}", template.kind);
            for (name, value) in template.more {
                let entry = template
                    .text
                    .replacen("((", &format!("(({name}: {value}, "), 1);
                let text = format!("(claims: [{entry}])");
                let read = analysis::claim::read_claims(&text);
                assert!(read.is_ok(), "{} with {name}: {read:?}", template.kind);
            }
        }
    }
}
