//! `prony import`: recordings made elsewhere become a session, `prony nudge`: one is moved by hand.

use super::Failure;
use crate::cli::{ImportArguments, NudgeArguments, say, tell};
use crate::importing::{self, GivenWord, Moved, NotBrought, NotMovable, Original, Told, bring_in};
use crate::{choice, places, reopening};
use anyhow::{Context, anyhow};
use session::import::{Columns, ImportError};
use std::path::Path;

/// Brings in what the command line names.
pub fn import(arguments: &ImportArguments) -> Result<(), Failure> {
    let settings = choice::settings(arguments.settings.as_deref()).map_err(Failure::unusable)?;
    let mut originals = vec![original(
        0,
        &arguments.under_test,
        &arguments.under_test_place,
        arguments.under_test_columns.as_deref(),
    )?];
    for (index, path) in arguments.reference.iter().enumerate() {
        originals.push(original(
            index + 1,
            path,
            &arguments.reference_place,
            arguments.reference_columns.as_deref(),
        )?);
    }
    let word = GivenWord {
        same_ride: arguments.same_ride,
        clocks_may_be_wrong: arguments.clocks_may_be_wrong,
    };
    bring_in(
        originals,
        word,
        &settings,
        (&arguments.out, &|| true),
        &mut |told| match told {
            Told::Found(words) => say(format_args!("{words}")),
            Told::Imperfect(words) => tell(format_args!("{words}")),
        },
    )
    .map_err(|not| match not {
        NotBrought::Unusable(error) => Failure::unusable(with_option(error)),
        NotBrought::Refused(error) => Failure::from(error),
    })?;
    say(format_args!("{}: imported", arguments.out.display()));
    Ok(())
}

/// Where columns are not understood, the option by which they are said.
fn with_option(error: anyhow::Error) -> anyhow::Error {
    match error.downcast_ref::<ImportError>() {
        Some(ImportError::Columns { .. }) => {
            anyhow!("{error:#}, in --under-test-columns or --reference-columns \"power=HEADER\"")
        }
        _ => error,
    }
}

/// Roles of recordings in their order: the device under test, then the references.
fn role_of(index: usize) -> &'static str {
    match index {
        0 => "under-test",
        1 => "reference",
        _ => "second-reference",
    }
}

fn original(
    index: usize,
    path: &Path,
    place: &str,
    columns: Option<&str>,
) -> Result<Original, Failure> {
    let bytes = std::fs::read(path)
        .with_context(|| format!("cannot read {}; is it there?", path.display()))
        .map_err(Failure::unusable)?;
    let columns = columns.map(Columns::parse).transpose();
    Ok(Original {
        role: role_of(index),
        file: places::file_name(path),
        bytes,
        place: place.to_owned(),
        columns: columns.map_err(Failure::unusable)?,
    })
}

/// Moves one recording of an imported session by hand; the shift is an event of its own.
pub fn nudge(arguments: &NudgeArguments) -> Result<(), Failure> {
    let path = &arguments.session;
    importing::nudge(path, Moved::WithRole(&arguments.role), arguments.later).map_err(|error| {
        match error.is::<NotMovable>() {
            true => Failure::unusable(error),
            false => Failure::from(error),
        }
    })?;
    if let Some(imported) = reopening::reopen(path)?.imported {
        for line in imported.check() {
            say(format_args!("placed  {line}"));
        }
    }
    Ok(())
}
