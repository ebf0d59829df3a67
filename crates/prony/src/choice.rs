//! From what a person named to what is meant: a file, or something that comes with the program.

use analysis::settings::Settings;
use anyhow::{Context, Result, anyhow, bail};
use protocol::{Script, ready_script};
use rig::{RecordedRide, RigPlan};
use session::Document;
use std::path::Path;
use std::sync::Arc;

/// A script by file or ready name; without a name, the ride that is to be repeated is the script.
///
/// # Errors
/// If there is no such script, or it does not load.
pub fn script(name: Option<&str>, ride: Option<&RecordedRide>) -> Result<Script> {
    match (name, ride) {
        (Some(name), _) if is_file(name, "ron") => {
            let text = read(Path::new(name))?;
            Ok(Script::from_ron(name, &text)?)
        }
        (Some(name), _) => Ok(ready_script(name)?.load()?),
        (None, Some(ride)) => {
            let text = ride_script(ride);
            Script::from_ron("recorded-ride", &text).context("the script made of the ride")
        }
        (None, None) => bail!("name a script with --script; `first-look` is the shortest"),
    }
}

/// A recorded ride as a script: nothing is asked of the rider but to ride.
fn ride_script(ride: &RecordedRide) -> String {
    let seconds = ride.duration().as_secs_f64().ceil();
    format!(
        "Script(\n    title: {:?},\n    decides: {:?},\n    steps: [\n        \
         FreeRide(title: \"Repeat the recorded ride\", seconds: {seconds}, feeds: Steady),\n    ],\n)\n",
        format!("Recorded ride {}", ride.name()),
        "how the instruments agree over a ride that was recorded elsewhere",
    )
}

/// A rig by file or built-in name, with its text.
///
/// # Errors
/// If there is no such rig, or it does not load.
pub fn rig(name: &str) -> Result<(RigPlan, String)> {
    if is_file(name, "ron") {
        let text = read(Path::new(name))?;
        return Ok((RigPlan::parse(&text, name)?, text));
    }
    let plan = rig::built_in(name)?;
    let text = rig::built_in_text(name).context("a built-in rig has a text")?;
    Ok((plan, text.to_owned()))
}

/// A recorded ride from a FIT file.
///
/// # Errors
/// If the file cannot be read or holds no ride with power.
pub fn ride(path: &Path) -> Result<Arc<RecordedRide>> {
    let bytes =
        std::fs::read(path).with_context(|| format!("cannot read the ride {}", path.display()))?;
    let name = crate::places::file_name(path);
    Ok(Arc::new(RecordedRide::from_fit(&bytes, &name)?))
}

/// Settings of the judgement from a file, or the usual ones.
///
/// # Errors
/// If the file cannot be read or does not hold settings.
pub fn settings(path: Option<&Path>) -> Result<Settings> {
    let Some(path) = path else {
        return Ok(Settings::default());
    };
    Settings::from_ron(&read(path)?).with_context(|| path.display().to_string())
}

/// A claim sheet in force over settings, with its text as the session keeps it; without a sheet the
/// settings as they are.
///
/// # Errors
/// If the file cannot be read or does not hold a claim sheet.
pub fn claims(path: Option<&Path>, settings: Settings) -> Result<(Settings, Option<Document>)> {
    let Some(path) = path else {
        return Ok((settings, None));
    };
    let (settings, sheet) = claims_in(&read(path)?, &crate::places::file_name(path), settings)
        .with_context(|| path.display().to_string())?;
    Ok((settings, Some(sheet)))
}

/// The same of the text of a claim sheet, which goes by `name`.
///
/// # Errors
/// If the text is not a claim sheet.
pub fn claims_in(text: &str, name: &str, settings: Settings) -> Result<(Settings, Document)> {
    let settings = analysis::claim::read_sheet(text)?
        .in_force(&settings)
        .map_err(|not| anyhow!("{}", not.reason))?;
    Ok((settings, Document::new(name, text)))
}

/// Measurements by hand for the claims in force, from a file.
///
/// # Errors
/// If the file cannot be read, or holds something that is no measurement of one of the claims.
pub fn measurements(path: &Path, settings: &mut Settings) -> Result<()> {
    measurements_in(&read(path)?, settings).with_context(|| path.display().to_string())
}

/// The same of the text of such a file.
///
/// # Errors
/// If the text holds something that is no measurement of one of the claims.
pub fn measurements_in(text: &str, settings: &mut Settings) -> Result<()> {
    let found = analysis::claim::read_measurements(text, &settings.claims)?;
    // What was entered last counts, so that a sheet may be completed after the ride.
    settings
        .measurements
        .retain(|known| found.iter().all(|new| new.claim != known.claim));
    settings.measurements.extend(found);
    Ok(())
}

fn is_file(name: &str, extension: &str) -> bool {
    let path = Path::new(name);
    path.extension().is_some_and(|found| found == extension) || path.components().count() > 1
}

/// The text of a file.
///
/// # Errors
/// If it cannot be read, or is not text; the message names it.
pub fn read(path: &Path) -> Result<String> {
    std::fs::read_to_string(path).with_context(|| {
        format!(
            "cannot read {}; is it there, and is it text?",
            path.display()
        )
    })
}
