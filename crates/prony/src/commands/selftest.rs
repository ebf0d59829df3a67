//! `prony selftest`: sessions whose truth is known; injected faults in, findings out.

use super::Failure;
use crate::cli::{self, SelftestArguments, say};
use crate::places;
use crate::selftest::rates::{self, Rate};
use crate::selftest::{Check, Ledger, selftest as rehearse_all};
use indicatif::{ProgressBar, ProgressStyle};

/// Rehearses, compares, and says how often the truth was found and how often a verdict was wrong.
pub fn selftest(arguments: &SelftestArguments) -> Result<(), Failure> {
    let bar = ProgressBar::new(u64::from(arguments.sessions));
    if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos}/{len} sessions") {
        bar.set_style(style);
    }
    let ledger = rehearse_all(arguments.sessions, |done| bar.set_position(u64::from(done)))?;
    bar.finish_and_clear();
    keep(&ledger, arguments.sessions);
    bar.set_length(u64::from(rates::sessions_in_all(arguments.rates)));
    bar.reset();
    let rates = if arguments.rates > 0 {
        rates::rates(arguments.rates, |done| bar.set_position(u64::from(done)))
    } else {
        Vec::new()
    };
    bar.finish_and_clear();
    if let Some(to) = &arguments.json {
        let mut document = ledger.document(arguments.sessions);
        if !rates.is_empty() {
            document["rates"] = rates::document(&rates);
        }
        cli::write_json(&document, to)?;
    }
    if arguments
        .json
        .as_ref()
        .is_none_or(|to| to.as_os_str() != "-")
    {
        ledger.checks().iter().for_each(report);
        rates.iter().for_each(report_rate);
    }
    if ledger.passes() && rates.iter().all(Rate::passes) {
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

fn report_rate(rate: &Rate) {
    let percent = |count: rates::Count| {
        let [low, high] = count.interval();
        format!(
            "{:.1} % ({:.1} to {:.1})",
            100.0 * count.share(),
            100.0 * low,
            100.0 * high
        )
    };
    say(format_args!(
        "{}  {}, reference {}: shown within {}, shown beyond {} of {} sessions; 95 % intervals hold \
         the truth in {:.1} %",
        if rate.passes() { "ok  " } else { "FAIL" },
        rate.condition,
        rate.bench,
        percent(rate.shown_within),
        percent(rate.shown_beyond),
        rate.shown_within.of,
        100.0 * rate.covered.share(),
    ));
}
