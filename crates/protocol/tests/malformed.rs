//! Wrong scripts: each is refused with the place of the mistake and words that put it right.
//!
//! A case is a name, the steps (placed on line 2 of a script, from column 1), and for every
//! expected problem its place and words that must be in the message.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "test helpers are tests as well"
)]

use protocol::Script;

struct Case {
    name: &'static str,
    text: &'static str,
    expected: &'static [(&'static str, &'static [&'static str])],
}

macro_rules! cases {
    ($($name:literal: $text:literal => [$($place:literal $words:tt),* $(,)?];)*) => {
        &[$(Case { name: $name, text: $text, expected: &[$(($place, &$words)),*] },)*]
    };
}

/// Cases inside `steps: [ … ]`.
const STEPS: &[Case] = cases! {
    "unknown step": "Hodl(power_w: 200, seconds: 60)" =>
        ["2:1" ["`Hodl` is not known", "did you mean `Hold`?"]];
    "unknown step without a near name": "Juggle(seconds: 60)" =>
        ["2:1" ["`Juggle`", "known: Hold, Ramp"]];
    "unknown field": "Hold(power_w: 200, secs: 60)" =>
        ["2:20" ["no field `secs`", "did you mean `seconds`?"]];
    "missing field": "Hold(power_w: 200)" =>
        ["2:1" ["`Hold` needs `seconds`", "add for example `seconds: 120`"]];
    "field twice": "Hold(power_w: 200, power_w: 210, seconds: 60)" =>
        ["2:20" ["`power_w` is given twice"]];
    "above the limit": "Hold(power_w: 2400, seconds: 60)" =>
        ["2:15" ["`power_w` of `Hold` is 2400 W", "0 to 1500 W"]];
    "below the limit": "Hold(power_w: -5, seconds: 60)" =>
        ["2:15" ["is -5 W", "0 to 1500 W"]];
    "not a number": "Hold(power_w: \"much\", seconds: 60)" =>
        ["2:15" ["`power_w` is not a number", "0 to 1500 W"]];
    "infinite": "Hold(power_w: inf, seconds: 60)" =>
        ["2:15" ["is inf W", "0 to 1500 W"]];
    "no number at all": "Hold(power_w: NaN, seconds: 60)" =>
        ["2:15" ["is NaN W", "0 to 1500 W"]];
    "nothing left after settling": "Hold(power_w: 200, seconds: 60, settle_seconds: 60)" =>
        ["2:49" ["nothing is left to judge", "shorten `settle_seconds`"]];
    "shorter than the usual settling": "Hold(power_w: 200, seconds: 20)" =>
        ["2:29" ["lasts 20 s, of which 30 s settle"]];
    "unknown purpose": "Hold(power_w: 200, seconds: 60, feeds: Stedy)" =>
        ["2:40" ["`feeds` cannot be `Stedy`", "did you mean `Steady`?"]];
    "burst in power mode": "Burst(brake: Power(600), seconds: 8, times: 3)" =>
        ["2:14" ["never ridden in power mode", "Resistance(40)", "Slope(3)"]];
    "burst too long": "Burst(brake: Slope(3), seconds: 300, times: 3)" =>
        ["2:33" ["`seconds` of `Burst` is 300 s", "2 to 60 s"]];
    "burst without enough rest": "Burst(brake: Slope(3), seconds: 8, times: 3, rest_seconds: 5)" =>
        ["2:60" ["rest after a burst", "30 to 900 s"]];
    "one level does not alternate": "Alternate(levels_w: [200], seconds: 30, times: 3)" =>
        ["2:21" ["`levels_w` holds 1 values", "at least 2"]];
    "one bad level of several": "Alternate(levels_w: [150, 9000], seconds: 30, times: 3)" =>
        ["2:27" ["is 9000 W", "0 to 1500 W"]];
    "times do not fit levels":
        "Alternate(levels_w: [150, 250], seconds_each: [20, 20, 20], times: 3)" =>
        ["2:47" ["holds 3 values for 2 levels"]];
    "both kinds of seconds":
        "Alternate(levels_w: [150, 250], seconds: 20, seconds_each: [20, 20], times: 3)" =>
        ["2:42" ["exclude each other"]];
    "half a repetition": "Alternate(levels_w: [150, 250], seconds: 20, times: 2.5)" =>
        ["2:53" ["must be a whole number"]];
    "not a gear": "Hold(power_w: 200, seconds: 60, gear: \"big\")" =>
        ["2:39" ["is not a gear", "\"39x17\""]];
    "ladder without rungs": "FlywheelLadder(power_w: 200, seconds: 60)" =>
        ["2:1" ["needs rungs", "speeds_kmh", "gears"]];
    "program out of order": "SlopeProgram(points: [(0, 0.0), (60, 2.0), (30, 1.0)])" =>
        ["2:45" ["the point at 30 does not come after the one at 60"]];
    "program that does not begin": "SlopeProgram(points: [(10, 0.0), (60, 2.0)])" =>
        ["2:24" ["a program begins at 0"]];
    "grade beyond reason": "SlopeSteps(grades_pct: [0, 45], seconds: 60)" =>
        ["2:28" ["is 45 %", "-25 to 30 %"]];
    "coast down upwards": "CoastDown(from_kmh: 30, to_kmh: 35)" =>
        ["2:33" ["not below `from_kmh` 30"]];
    "wait without a condition": "HoldUntil(power_w: 200, limit_seconds: 300)" =>
        ["2:1" ["needs `until`", "until: Steady"]];
    "wait longer than allowed":
        "HoldUntil(power_w: 200, until: Decided, at_least_seconds: 400, limit_seconds: 300)" =>
        ["2:79" ["needs at least 400 s", "raise the limit"]];
    "silent prompt": "Prompt(text: \" \")" =>
        ["2:14" ["`text` is empty"]];
    "repeat of nothing": "Repeat(times: 3, steps: [])" =>
        ["2:25" ["`steps` is empty"]];
    "shuffle without a seed": "Shuffle(steps: [Rest(seconds: 10)])" =>
        ["2:1" ["`Shuffle` needs `seed`"]];
    "too many steps":
        "Repeat(times: 500, steps: [Repeat(times: 500, steps: [Rest(seconds: 1)])])" =>
        ["2:1" ["unfolds into 250000 steps", "the limit is 20000"]];
    "comma missing": "Hold(power_w: 200 seconds: 60)" =>
        ["2:19" ["comma"]];
    "bracket missing": "Hold(power_w: 200, seconds: 60" =>
        ["3:1" ["closing bracket is missing"]];
    "colon missing": "Hold(power_w 200, seconds: 60)" =>
        ["2:14" ["a colon", "is missing"]];
    "several mistakes, each with its place":
        "Hold(power_w: 2400, seconds: 0),\nHoldd(),\nRest(seconds: 10),\nRamp(from_w: 100, to_w: -1, seconds: 10)" =>
        ["2:15" ["2400 W"], "2:30" ["`seconds` of `Hold` is 0 s"], "3:1" ["`Hold`"],
         "5:25" ["`to_w` of `Ramp` is -1 W"]];
    "inside a repeat":
        "Repeat(times: 2, steps: [\n  // a comment before it\n  Hold(power_w: 1501, seconds: 60),\n])" =>
        ["4:17" ["is 1501 W"]];
};

/// Whole documents.
const DOCUMENTS: &[Case] = cases! {
    "empty file": "" => ["1:1" ["begins with `Script(`"]];
    "no title": "Script(steps: [Rest(seconds: 10)])" =>
        ["1:1" ["`Script` needs `title`"]];
    "no steps": "Script(title: \"x\")" => ["1:1" ["there is no `steps`"]];
    "unknown head field": "Script(\n  titel: \"x\",\n  steps: [Rest(seconds: 10)],\n)" =>
        ["2:3" ["no field `titel`", "did you mean `title`?"]];
    "unknown choice in the head":
        "Script(\n  title: \"x\", decided_holds: Ende,\n  steps: [Rest(seconds: 10)],\n)" =>
        ["2:30" ["`decided_holds` cannot be `Ende`", "did you mean `End`?"]];
    "above the script's own ceiling":
        "Script(\n  title: \"x\", ceiling_w: 250,\n  steps: [Hold(power_w: 260, seconds: 60)],\n)" =>
        ["3:25" ["260 W", "`ceiling_w` is 250 W"]];
    "text after the end": "Script(title: \"x\", steps: [Rest(seconds: 10)])\nRest()" =>
        ["2:1" ["more text after the end"]];
    "quotation mark missing": "Script(title: \"x, steps: [])" => ["1:16" ["quotation mark"]];
    "not a script": "Recipe(title: \"x\")" => ["1:7" ["begins with `Script(`", "`Recipe`"]];
    "longer than a day's work":
        "Script(title: \"x\", steps: [Repeat(times: 20, steps: [Rest(seconds: 3600)])])" =>
        ["1:28" ["lasts 20.0 h", "the limit is 12 h"]];
    "steps are no list": "Script(title: \"x\", steps: 7)" => ["1:27" ["list"]];
    "nested too deeply":
        "Script(title: \"x\", steps: [Repeat(times: 1, steps: [Repeat(times: 1, steps: [Repeat(times: 1, steps: [Repeat(times: 1, steps: [Repeat(times: 1, steps: [Repeat(times: 1, steps: [Repeat(times: 1, steps: [Repeat(times: 1, steps: [Repeat(times: 1, steps: [Rest(seconds: 9)])])])])])])])])])])" =>
        ["1:252" ["nest deeper than 8"]];
};

#[test]
fn every_mistake_has_its_place_and_its_remedy() {
    let mut wrong = Vec::new();
    let wrapped = STEPS.iter().map(|case| {
        (
            case,
            format!("Script(title: \"t\", steps: [\n{}\n])", case.text),
        )
    });
    let whole = DOCUMENTS.iter().map(|case| (case, case.text.to_owned()));
    for (case, text) in wrapped.chain(whole) {
        let errors = match Script::from_ron("t.ron", &text) {
            Ok(_) => {
                wrong.push(format!("{}: it loads", case.name));
                continue;
            }
            Err(errors) => errors,
        };
        let fits = errors.problems.len() == case.expected.len()
            && errors
                .problems
                .iter()
                .zip(case.expected)
                .all(|(problem, (place, words))| {
                    problem.place.to_string() == *place
                        && words.iter().all(|word| problem.what.contains(word))
                });
        if !fits {
            wrong.push(format!(
                "{}: expected {:?}, got\n{errors}",
                case.name, case.expected
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn garbage_is_refused_without_panic() {
    let good = include_str!("../scripts/level-sweep.ron");
    for end in 0..good.len() {
        if let Some(part) = good.get(..end) {
            assert!(Script::from_ron("part", part).is_err() || end + 4 > good.len());
        }
    }
    for text in [
        "\0",
        "((((((",
        "[[[[[[[[",
        "Script(title: \"\u{1F6B2}\", steps: [\u{1F6B2}])",
    ] {
        assert!(Script::from_ron("garbage", text).is_err());
    }
    let deep = format!("Script(title: \"x\", steps: {})", "[".repeat(5000));
    assert!(Script::from_ron("deep", &deep).is_err());
}
