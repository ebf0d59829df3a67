//! A script as a list for people: what is ridden when, how long it takes, how hard it is.

use analysis::plan::Intent;
use protocol::{PlannedStep, Script};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fmt;
use units::{Span, Watts};

/// A script and the effort above which time is counted.
pub(super) struct Listing<'a> {
    script: &'a Script,
    above: Watts,
}

impl<'a> Listing<'a> {
    pub(super) const fn new(script: &'a Script, above: Watts) -> Self {
        Self { script, above }
    }

    /// What the script would let one decide: its steady levels, and the least that any of them is
    /// ridden. `None` if it holds no power steadily.
    pub(super) fn intent(&self) -> Option<Intent> {
        let mut levels: BTreeMap<i64, (f64, u32)> = BTreeMap::new();
        let steps = &self.script.plan().steps;
        for step in steps.iter().filter(|step| step.feeds.wants_steady()) {
            if let Some(power) = step.constant_power() {
                let judged = (step.length.expected() - step.settle).max(Span::ZERO);
                let level = levels.entry(power.get().round() as i64).or_default();
                level.0 += judged.as_secs_f64();
                level.1 += 1;
            }
        }
        let seconds = levels.values().map(|level| level.0).reduce(f64::min)?;
        let repeats = levels.values().map(|level| level.1).min()?;
        Some(Intent {
            levels_w: levels.keys().map(|level| *level as f64).collect(),
            seconds: seconds as usize,
            repeats,
            ..Intent::default()
        })
    }

    /// The same as JSON. `curve` holds the corners of the planned target: seconds and watts, null
    /// where nobody asks for a power.
    pub(super) fn document(&self) -> Value {
        let plan = self.script.plan();
        json!({
            "name": self.script.name(),
            "title": self.script.title(),
            "decides": self.script.decides(),
            "needs": self.script.needs(),
            "total_s": plan.total().as_secs_f64(),
            "longest_s": plan.longest().as_secs_f64(),
            "above_w": self.above.get(),
            "above_s": plan.time_above(self.above).as_secs_f64(),
            "highest_w": plan.highest_power().map(Watts::get),
            "energy_kj": plan.energy().get() / 1000.0,
            "steps": self.rows().map(|(from, step)| json!({
                "from_s": from.as_secs_f64(),
                "seconds": step.length.expected().as_secs_f64(),
                "kind": step.kind.name(),
                "title": step.title,
                "feeds": step.feeds.name(),
                "power_w": step.planned_power().map(|(from, to)| [from.get(), to.get()]),
            })).collect::<Vec<_>>(),
            "curve": plan.curve().iter().map(|point| {
                json!([point.at.as_secs_f64(), point.power.map(Watts::get)])
            }).collect::<Vec<_>>(),
        })
    }

    fn rows(&self) -> impl Iterator<Item = (Span, &PlannedStep)> {
        self.script
            .plan()
            .steps
            .iter()
            .scan(Span::ZERO, |at, step| {
                let from = *at;
                *at += step.length.expected();
                Some((from, step))
            })
    }
}

impl fmt::Display for Listing<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plan = self.script.plan();
        writeln!(f, "{}", self.script.title())?;
        if !self.script.decides().is_empty() {
            writeln!(f, "decides: {}", self.script.decides())?;
        }
        for need in self.script.needs() {
            writeln!(f, "needs:   {need}")?;
        }
        for (from, step) in self.rows() {
            let power = match step.planned_power() {
                Some((from, to)) if from == to => format!("{from:.0}"),
                Some((from, to)) => format!("{from:.0} to {to:.0}"),
                None => "–".to_owned(),
            };
            let begins = from.to_string();
            let lasts = step.length.expected().to_string();
            writeln!(f, "  {begins:>8}  {lasts:>8}  {power:>16}  {}", step.title)?;
        }
        write!(
            f,
            "{} in {} steps, {:.0}\u{a0}kJ of work, {} above {:.0}",
            plan.total(),
            plan.steps.len(),
            plan.energy().get() / 1000.0,
            plan.time_above(self.above),
            self.above,
        )?;
        match plan.highest_power() {
            Some(highest) => writeln!(f, ", highest {highest:.0}"),
            None => writeln!(f),
        }
    }
}
