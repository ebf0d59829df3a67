//! `prony selftest`: sessions whose truth is known; injected faults in, findings out.

use super::Failure;
use crate::cli::{self, SelftestArguments, say};
use crate::places;
use crate::selftest::{Check, Ledger, selftest as rehearse_all};
use indicatif::{ProgressBar, ProgressStyle};

/// Rehearses, compares, and says how often the truth was found.
pub fn selftest(arguments: &SelftestArguments) -> Result<(), Failure> {
    let bar = ProgressBar::new(u64::from(arguments.sessions));
    if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos}/{len} sessions") {
        bar.set_style(style);
    }
    let ledger = rehearse_all(arguments.sessions, |done| bar.set_position(u64::from(done)))?;
    bar.finish_and_clear();
    keep(&ledger, arguments.sessions);
    if let Some(to) = &arguments.json {
        cli::write_json(&ledger.document(arguments.sessions), to)?;
    }
    if arguments
        .json
        .as_ref()
        .is_none_or(|to| to.as_os_str() != "-")
    {
        ledger.checks().iter().for_each(report);
    }
    if ledger.passes() {
        return Ok(());
    }
    Err(anyhow::anyhow!("the self-test failed: do not publish findings of this build").into())
}

/// Keeps the outcome where the desktop finds it. A computer on which nothing can be kept is no
/// reason to fail a self-test.
fn keep(ledger: &Ledger, sessions: u32) {
    let Some(path) = places::self_test_file() else {
        return;
    };
    let text = format!("{:#}\n", ledger.document(sessions));
    let folder = path.parent().map_or(Ok(()), std::fs::create_dir_all);
    if let Err(error) = folder.and_then(|()| std::fs::write(&path, text)) {
        cli::tell(format_args!(
            "the outcome was not kept for the desktop: {error}"
        ));
    }
}

fn report(check: &Check) {
    say(format_args!(
        "{}  {}: {} of {} within",
        if check.passes() { "ok  " } else { "FAIL" },
        check.name,
        check.within,
        check.tried,
    ));
    for miss in &check.misses {
        say(format_args!("      {miss}"));
    }
}
