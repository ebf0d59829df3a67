//! Scripts, claim sheets and the rule: what comes with the program, and the user's own files in
//! the data folder.

use crate::places;
use analysis::claim::{Claim, PowerClaim};
use analysis::settings::Settings;
use analysis::verdict::Tolerance;
use anyhow::{Context, Result, anyhow, bail};
use desk::{DraftCheck, DraftProblem, RuleCard, ScriptCard, SheetCard};
use protocol::{Length, Script, ScriptErrors, ready_scripts};
use session::Document;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

const SCRIPTS: &str = "scripts";
const SHEETS: &str = "claims";
const RULE: &str = "rule.ron";

/// The ready scripts in the order they come, then the user's own.
pub fn scripts() -> Vec<ScriptCard> {
    let ready = ready_scripts()
        .iter()
        .map(|ready| card(ready.name, ready.text));
    let own = files(SCRIPTS).into_iter().map(|(name, text)| ScriptCard {
        is_own: true,
        ..card(&name, &text)
    });
    ready.chain(own).collect()
}

fn card(name: &str, text: &str) -> ScriptCard {
    match Script::from_ron(name, text) {
        Ok(script) => script_card(&script),
        Err(errors) => ScriptCard {
            view: Arc::new(bench::model::ScriptView {
                name: name.to_owned(),
                title: name.to_owned(),
                ..Default::default()
            }),
            problem: Some(errors.to_string()),
            text: text.into(),
            ..ScriptCard::default()
        },
    }
}

fn script_card(script: &Script) -> ScriptCard {
    let mut levels = BTreeMap::<i64, (f64, u32)>::new();
    for step in &script.plan().steps {
        let (Some((from, to)), Length::Fixed(length)) = (step.planned_power(), &step.length) else {
            continue;
        };
        if step.feeds.wants_steady() && (from - to).get().abs() < 0.5 {
            let level = levels.entry(from.get().round() as i64).or_default();
            level.0 += (*length - step.settle).as_secs_f64().max(0.0);
            level.1 += 1;
        }
    }
    let shortest = levels
        .values()
        .copied()
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or_default();
    ScriptCard {
        view: Arc::new(bench::view::script_view(script.plan())),
        about: script.decides().to_owned(),
        effort: effort(script),
        problem: None,
        text: script.text().into(),
        is_own: false,
        levels_w: levels.keys().map(|level| *level as f64).collect(),
        level_seconds: shortest.0 as u32,
        level_repeats: shortest.1,
    }
}

fn effort(script: &Script) -> String {
    let plan = script.plan();
    let work = plan.energy().get() / 1000.0;
    match plan.highest_power() {
        Some(power) => format!("up to {power:.0}, {work:.0} kJ of work"),
        None => format!("{work:.0} kJ of work"),
    }
}

/// What comes of a text that is being edited.
pub fn check(serial: u64, text: &str) -> DraftCheck {
    match Script::from_ron("draft", text) {
        Ok(script) => DraftCheck {
            serial,
            card: Some(script_card(&script)),
            problems: Vec::new(),
        },
        Err(errors) => DraftCheck {
            serial,
            card: None,
            problems: problems(&errors),
        },
    }
}

fn problems(errors: &ScriptErrors) -> Vec<DraftProblem> {
    errors
        .problems
        .iter()
        .map(|problem| DraftProblem {
            line: problem.place.line as usize,
            column: problem.place.column as usize,
            words: problem.what.clone(),
        })
        .collect()
}

/// The script of a name: one of the user's own, or a ready one.
///
/// # Errors
/// If there is none, or it cannot be ridden.
pub fn script(name: &str) -> Result<Script> {
    match files(SCRIPTS).into_iter().find(|(own, _)| own == name) {
        Some((name, text)) => Ok(Script::from_ron(&name, &text)?),
        None => crate::choice::script(Some(name), None),
    }
}

/// Keeps a text as a script of the user's own and gives its name.
///
/// # Errors
/// If the name is a ready script's, or the file cannot be written.
pub fn save_script(name: &str, text: &str) -> Result<String> {
    let name = places::plain(name.trim());
    if ready_scripts().iter().any(|ready| ready.name == name) {
        bail!("{name:?} comes with the program and stays as it is; give yours another name");
    }
    save(SCRIPTS, &name, text)
}

/// Keeps a copy of a script file and gives its name.
///
/// # Errors
/// If the file cannot be read, is no script, or cannot be kept.
pub fn import_script(path: &Path) -> Result<String> {
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("cannot read the script {}", path.display()))?;
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    Script::from_ron(&stem, &text)?;
    save_script(&stem, &text)
}

/// Deletes a script of the user's own.
///
/// # Errors
/// If the file cannot be deleted.
pub fn delete_script(name: &str) -> Result<()> {
    delete(SCRIPTS, name)
}

/// The claim sheets: the assumed tolerance first, with an empty name.
pub fn sheets(chosen: Option<&str>, tolerance_pct: f64) -> Vec<SheetCard> {
    let assumed = SheetCard {
        name: String::new(),
        text: analysis::claim::write_claims(&[assumed(tolerance_pct)]).into(),
        is_chosen: chosen.is_none(),
    };
    std::iter::once(assumed)
        .chain(files(SHEETS).into_iter().map(|(name, text)| SheetCard {
            is_chosen: chosen == Some(name.as_str()),
            name,
            text: text.into(),
        }))
        .collect()
}

/// Keeps a text as a claim sheet and gives its name.
///
/// # Errors
/// If it is no claim sheet, or cannot be written.
pub fn save_sheet(name: &str, text: &str) -> Result<String> {
    analysis::claim::read_sheet(text).context("the claim sheet")?;
    save(SHEETS, &places::plain(name.trim()), text)
}

/// Deletes a claim sheet.
///
/// # Errors
/// If the file cannot be deleted.
pub fn delete_sheet(name: &str) -> Result<()> {
    delete(SHEETS, name)
}

fn assumed(tolerance_pct: f64) -> Claim {
    Claim::PowerAccuracy(PowerClaim {
        tolerance: Tolerance::PercentOfReading(tolerance_pct),
        ..PowerClaim::assumed()
    })
}

/// What the next session will be fixed to.
pub struct Rule {
    /// The settings, claims included.
    pub settings: Settings,
    /// The claim sheet behind them, if one was chosen.
    pub sheet: Option<Document>,
}

/// The rule as it stands: the user's own settings or the usual ones, with the chosen claims.
///
/// # Errors
/// If a file of it cannot be read; the message names it.
pub fn rule(chosen: Option<&str>, tolerance_pct: f64) -> Result<Rule> {
    let path = places::data()?.join(RULE);
    let mut settings = match std::fs::read_to_string(&path) {
        Ok(text) => Settings::from_ron(&text).with_context(|| path.display().to_string())?,
        Err(_) => Settings::default(),
    };
    let sheet = chosen.and_then(|name| {
        files(SHEETS)
            .into_iter()
            .find(|(found, _)| found == name)
            .map(|(name, text)| Document::new(name, text))
    });
    match &sheet {
        Some(sheet) => {
            let read = analysis::claim::read_sheet(&sheet.text)
                .with_context(|| format!("the claim sheet {:?}", sheet.name))?;
            settings = read
                .in_force(&settings)
                .map_err(|not| anyhow!("the claim sheet {:?}: {}", sheet.name, not.reason))?;
        }
        None => settings.claims = vec![assumed(tolerance_pct)],
    }
    Ok(Rule { settings, sheet })
}

/// Keeps the settings; an empty text means the usual ones.
///
/// # Errors
/// If they cannot be read, or not be written.
pub fn save_rule(text: &str) -> Result<()> {
    let path = places::folder("")?.join(RULE);
    if text.is_empty() {
        // Nothing there is as good as gone.
        let _ = std::fs::remove_file(path);
        return Ok(());
    }
    Settings::from_ron(text)?;
    std::fs::write(&path, text).with_context(|| format!("cannot write {}", path.display()))
}

/// The rule as a card.
pub fn rule_card(rule: &Rule, serial: u64) -> RuleCard {
    let text = rule.settings.to_ron();
    RuleCard {
        sha256: Document::new("settings", text.clone()).sha256(),
        settings: Arc::new(rule.settings.clone()),
        text: text.into(),
        serial,
    }
}

/// Every RON file of a folder with its text, by name. What cannot be read is not there.
fn files(folder: &str) -> Vec<(String, String)> {
    let Ok(entries) = places::folder(folder).and_then(|at| Ok(std::fs::read_dir(at)?)) else {
        return Vec::new();
    };
    let mut paths: Vec<PathBuf> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|found| found == "ron"))
        .collect();
    paths.sort();
    paths
        .into_iter()
        .filter_map(|path| {
            let name = path.file_stem()?.to_string_lossy().into_owned();
            Some((name, std::fs::read_to_string(&path).ok()?))
        })
        .collect()
}

fn save(folder: &str, name: &str, text: &str) -> Result<String> {
    if name.is_empty() {
        bail!("give it a name");
    }
    let path = places::folder(folder)?.join(format!("{name}.ron"));
    std::fs::write(&path, text).with_context(|| format!("cannot write {}", path.display()))?;
    Ok(name.to_owned())
}

fn delete(folder: &str, name: &str) -> Result<()> {
    let path = places::folder(folder)?.join(format!("{}.ron", places::plain(name)));
    std::fs::remove_file(&path).with_context(|| format!("cannot delete {}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_card_knows_what_can_be_judged() {
        let ready = protocol::ready_script("first-look").unwrap();
        let card = card(ready.name, ready.text);
        assert_eq!(card.problem, None);
        assert_eq!(card.levels_w, [120.0, 200.0]);
        assert_eq!((card.level_seconds, card.level_repeats), (90, 1));
    }

    #[test]
    fn a_mistake_is_found_at_its_line() {
        let text =
            "Script(\n  title: \"x\",\n  steps: [\n    Hold(power_w: -5, seconds: 60),\n  ],\n)";
        let found = check(3, text);
        assert_eq!(found.serial, 3);
        assert!(found.card.is_none());
        assert_eq!(found.problems[0].line, 4, "{:?}", found.problems);
    }

    #[test]
    fn the_assumed_sheet_reads_and_holds_the_tolerance() {
        let sheets = sheets(None, 1.5);
        let read = analysis::claim::read_sheet(&sheets[0].text).unwrap();
        let Claim::PowerAccuracy(claim) = &read.claims[0] else {
            panic!("{read:?}")
        };
        assert_eq!(claim.tolerance, Tolerance::PercentOfReading(1.5));
    }

    #[test]
    fn every_step_that_can_be_added_can_be_ridden() {
        let script = |step: &str| {
            format!("Script(title: \"x\", cadence_rpm: 90, steps: [{step}, CoolDown()])")
        };
        for template in desk::STEPS {
            let found = check(0, &script(template.text));
            assert_eq!(found.problems, [], "{}", template.kind);
            for (name, value) in template.more {
                let joint = if template.text.ends_with("()") {
                    ""
                } else {
                    ", "
                };
                let step = format!(
                    "{}{joint}{name}: {value})",
                    template.text.trim_end_matches(')')
                );
                // A closing bracket of an inner value went as well where it stood last.
                let open = step.matches('(').count() - step.matches(')').count();
                let step = match open {
                    0 => step,
                    _ => continue,
                };
                let found = check(0, &script(&step));
                assert_eq!(found.problems, [], "{} with {name}", template.kind);
            }
        }
    }
}
