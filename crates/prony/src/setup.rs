//! From a choice of script and instruments to everything a session needs: what goes into the file
//! before the first sample, and the bench that will be ridden on.

use crate::bench_file::BenchFile;
use crate::clock::wall_now;
use analysis::before::CalibrationRecord;
use analysis::sequential::{self, Boundary};
use anyhow::{Context, Result};
use bench::model::InstrumentRole;
use bench::plan::{place_from_name, place_name};
use bench::{BenchPlan, Happening, Origin, RideRules, SourcePlan};
use protocol::{Beyond, EarlyEnd, Script};
use rig::{Rig, RigPlan};
use sensor::peripheral::Capabilities;
use session::{About, Document, EntryRef, EventRow, Identity, SourceInfo};
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use units::{Packet, SourceId, Span, Timestamp};

/// The ceiling for target power when nobody set one, W. High enough for the ready scripts, low
/// enough for most legs; the program never asks for more.
pub const DEFAULT_CEILING_W: f64 = 400.0;

/// The share of what a rider can be asked for from which an effort is hard and a cool-down is due.
const HARD_SHARE: f64 = 0.7;

/// Time a simulated bench gets to read out its instruments before the session file is made.
const READ_OUT: Timestamp = Timestamp::from_secs(2);

/// Everything a session needs.
pub struct Setup {
    /// What the session says about itself.
    pub about: About,
    /// The instruments as the file keeps them.
    pub sources: Vec<SourceInfo>,
    /// What the bench is made from.
    pub plan: BenchPlan,
    /// The rules of the ride.
    pub rules: RideRules,
    /// The steps that asked for what the device does not offer, or for more than the rider's
    /// ceiling, as the script was written.
    pub beyond: Vec<Beyond>,
}

impl Setup {
    /// No step is ridden again by itself: a recorded ride happens once.
    pub fn without_repeats(mut self) -> Self {
        self.rules.repeats_failed_gate = false;
        self.plan.runner = self.rules.runner_config();
        self
    }

    /// Whether a hold may end once its question is decided, whatever script and settings say.
    pub fn with_decided_holds(mut self, holds: EarlyEnd) -> Self {
        self.settle_decided_holds(Some(holds));
        self
    }

    /// The script as it is written. What lies beyond the device's range has to be capped by the
    /// operator before it can begin.
    pub fn uncapped(mut self, script: &Script) -> Self {
        self.rules.caps_steps = false;
        self.plan.script = script.plan().clone();
        self
    }

    /// Brings rule, settings and the sealed decision rule into line: a hold may end early only
    /// under a rule whose rate of wrong statements is fixed before the ride. Where the settings
    /// name no such rule, the one of O'Brien and Fleming is spread over the windows that the
    /// script plans, because it costs least where nothing is decided early. A step that waits
    /// until its question is decided needs the rule as well.
    fn settle_decided_holds(&mut self, asked: Option<EarlyEnd>) {
        let settings = &mut self.plan.settings;
        let ends = asked.map_or(settings.early_end.is_some(), |asked| {
            asked == EarlyEnd::WhenDecided
        });
        let waits = asked != Some(EarlyEnd::Off) && self.plan.script.waits_for_decisions();
        let usual = || {
            let window = Span::from_secs(i64::from(settings.gate.window_s));
            sequential::EarlyEnd {
                boundary: Boundary::OBrienFleming,
                windows: self.plan.script.windows_of_a_condition(window),
            }
        };
        settings.early_end = (ends || waits).then(|| settings.early_end.unwrap_or_else(usual));
        self.rules.ends_when_decided = ends;
        self.plan.runner = self.rules.runner_config();
        self.about.decision_rule = Some(decision_rule(&self.plan.settings));
    }

    /// No target above a ceiling that the rider chose, W, if it is lower than the one in force.
    pub fn under(mut self, script: &Script, ceiling_w: f64) -> Self {
        if ceiling_w < self.rules.rider_ceiling_w {
            self.rules.rider_ceiling_w = ceiling_w;
            self.plan.runner = self.rules.runner_config();
            self.plan.script = script.plan().capped(&self.plan.runner.range);
        }
        self
    }

    /// The first event of the session: the rules it is ridden by.
    pub fn rules_row(&self) -> EventRow {
        let (kind, body) = Happening::Rules(self.rules.clone()).to_row();
        EventRow {
            at: Timestamp::ZERO,
            kind,
            body,
        }
    }
}

/// Sets up a session on the simulated bench.
///
/// # Errors
/// If the script asks for more than the rig's trainer offers.
pub fn on_rig(
    script: &Script,
    rig_plan: &RigPlan,
    rig_text: &str,
    rig: &Rig,
    settings: analysis::settings::Settings,
) -> Result<Setup> {
    let capabilities = read_out(rig);
    let of = |id: SourceId| capabilities.get(&id).cloned().unwrap_or_default();
    let sources: Vec<SourcePlan> = rig
        .sources()
        .into_iter()
        .map(|source| SourcePlan {
            id: source.id,
            name: source.name,
            role: InstrumentRole::from_name(source.role).unwrap_or(InstrumentRole::Witness),
            place: place_from_name(source.place),
            main: None,
            calibration: CalibrationRecord::default(),
        })
        .collect();
    let rules = rules_for(script, &sources, of);
    let plan = BenchPlan {
        script: script.plan().capped(&rules.runner_config().range),
        runner: rules.runner_config(),
        origin: Origin::Simulated,
        settings,
        sources,
    };
    let infos = source_infos(&plan.sources, of, Origin::Simulated);
    let about = About {
        rig: Some(rig_text.to_owned()),
        bike: Some(format!("simulated: {}", rig_plan.title())),
        rider: Some("simulated rider".to_owned()),
        note: Some("A simulation. No real instrument, rider or product is behind it.".to_owned()),
        ..about(script, &plan.settings)
    };
    let mut setup = Setup {
        about,
        sources: infos,
        plan,
        beyond: beyond(script, &rules),
        rules,
    };
    setup.settle_decided_holds(script.decided_holds());
    Ok(setup)
}

/// Sets up a session on real instruments that are linked and have said what they are.
pub fn on_bench(
    script: &Script,
    bench: &BenchFile,
    settings: analysis::settings::Settings,
    of: impl Fn(SourceId) -> Capabilities,
) -> Setup {
    let sources: Vec<SourcePlan> = bench
        .instruments
        .iter()
        .map(|(_, plan)| plan.clone())
        .collect();
    let mut rules = rules_for(script, &sources, &of);
    if let Some(ceiling_w) = bench.rider_ceiling_w {
        rules.rider_ceiling_w = rules.rider_ceiling_w.min(ceiling_w);
        rules.hard_w = Some(ceiling_w * HARD_SHARE);
    }
    let about = About {
        bike: Some(bench.name.clone()),
        ..about(script, &settings)
    };
    let infos = source_infos(&sources, &of, Origin::Real);
    let plan = BenchPlan {
        script: script.plan().capped(&rules.runner_config().range),
        runner: rules.runner_config(),
        origin: Origin::Real,
        settings,
        sources,
    };
    let mut setup = Setup {
        about,
        sources: infos,
        plan,
        beyond: beyond(script, &rules),
        rules,
    };
    setup.settle_decided_holds(script.decided_holds());
    setup
}

fn source_infos(
    sources: &[SourcePlan],
    of: impl Fn(SourceId) -> Capabilities,
    origin: Origin,
) -> Vec<SourceInfo> {
    sources
        .iter()
        .map(|source| SourceInfo {
            id: source.id,
            name: source.name.clone(),
            role: source.role.name().to_owned(),
            place: place_name(source.place).to_owned(),
            identity: identity(&of(source.id)),
            calibration: calibration(&source.calibration),
            simulated: origin == Origin::Simulated,
        })
        .collect()
}

/// The record as the file keeps it: nothing, where nothing was done.
fn calibration(record: &CalibrationRecord) -> serde_json::Value {
    if record.before_session.is_empty() {
        return serde_json::Value::Null;
    }
    // Plain fields of text and finite numbers always become JSON.
    serde_json::to_value(record).unwrap_or_default()
}

/// The steps of a script that ask for more than device or rider offer.
fn beyond(script: &Script, rules: &RideRules) -> Vec<Beyond> {
    let config = rules.runner_config();
    script
        .plan()
        .check_against(&config.range.with_ceiling(config.rider_ceiling))
}

/// What every session says about itself, whatever the instruments are.
pub fn about(script: &Script, settings: &analysis::settings::Settings) -> About {
    About {
        session: new_session_id(),
        program: concat!("prony ", env!("CARGO_PKG_VERSION")).to_owned(),
        started: Some(wall_now()),
        script: Some(Document::new(script.name(), script.text())),
        decision_rule: Some(decision_rule(settings)),
        ..About::default()
    }
}

/// The settings as the session seals them before the first sample.
fn decision_rule(settings: &analysis::settings::Settings) -> Document {
    Document::new("settings", settings.to_ron())
}

/// The plan that a recorded session was ridden by.
///
/// # Errors
/// If the file holds no script, or one that this version cannot read.
pub fn from_archive(archive: &session::Archive) -> Result<BenchPlan> {
    let about = archive.about()?;
    let document = about.script.context("the session holds no script")?;
    let script = Script::from_ron(&document.name, &document.text)
        .with_context(|| format!("script {:?} of the session", document.name))?;
    let mut settings = match &about.decision_rule {
        Some(rule) => analysis::settings::Settings::from_ron(&rule.text)
            .context("the decision rule of the session")?,
        None => analysis::settings::Settings::default(),
    };
    // The settings hold the claims; what was measured by hand stands on the sheet only.
    if let Some(sheet) = &about.claims
        && let Ok(sheet) = analysis::claim::read_sheet(&sheet.text)
    {
        settings.measurements = sheet.measurements;
    }
    let rules = recorded_rules(archive)?.unwrap_or_else(|| RideRules::under(DEFAULT_CEILING_W));
    let sources = archive
        .sources()?
        .into_iter()
        .map(|source| SourcePlan {
            id: source.id,
            role: InstrumentRole::from_name(&source.role).unwrap_or(InstrumentRole::Witness),
            place: place_from_name(&source.place),
            name: source.name,
            main: None,
            // Where it is of another shape it is shown, and no zero is taken from it.
            calibration: serde_json::from_value(source.calibration).unwrap_or_default(),
        })
        .collect();
    Ok(BenchPlan {
        script: if rules.caps_steps {
            script.plan().capped(&rules.runner_config().range)
        } else {
            script.plan().clone()
        },
        runner: rules.runner_config(),
        origin: if about.rig.is_some() {
            Origin::Simulated
        } else {
            Origin::Real
        },
        settings,
        sources,
    })
}

/// The rules of the ride, which are the first event of every session: nothing behind them is read.
fn recorded_rules(archive: &session::Archive) -> Result<Option<RideRules>> {
    let mut rules = None;
    archive.for_each_entry(|entry| {
        if let EntryRef::Event(event) = entry
            && let Ok(row) = event.to_event()
            && let Ok(Happening::Rules(found)) = Happening::from_row(&row.kind, &row.body)
        {
            rules = Some(found);
            return ControlFlow::Break(());
        }
        ControlFlow::Continue(())
    })?;
    Ok(rules)
}

/// What each instrument of a rig says about itself, asked on a copy so that the session itself
/// begins at zero.
fn read_out(rig: &Rig) -> BTreeMap<SourceId, Capabilities> {
    let mut copy = rig.clone();
    copy.connect(Timestamp::ZERO);
    copy.advance(READ_OUT);
    let mut found = BTreeMap::<SourceId, Capabilities>::new();
    while let Some(packet) = copy.poll_packet() {
        let packet: Packet = packet;
        found.entry(packet.source).or_default().handle(&packet);
    }
    found
}

fn rules_for(
    script: &Script,
    sources: &[SourcePlan],
    of: impl Fn(SourceId) -> Capabilities,
) -> RideRules {
    let device = sources
        .iter()
        .find(|source| source.role == InstrumentRole::UnderTest);
    let capabilities = device.map(|device| of(device.id)).unwrap_or_default();
    let ceiling = script
        .ceiling()
        .map_or(DEFAULT_CEILING_W, units::Watts::get);
    RideRules {
        hard_w: Some(DEFAULT_CEILING_W * HARD_SHARE),
        device_power_w: capabilities.power_range_w(),
        device_resistance: capabilities.resistance_range(),
        device_grade_pct: capabilities.inclination_range_pct(),
        ..RideRules::under(ceiling)
    }
}

fn identity(capabilities: &Capabilities) -> Identity {
    let identity = capabilities.identity().clone();
    Identity {
        maker: identity.maker,
        model: identity.model,
        serial: identity.serial,
        firmware: identity.firmware,
        hardware: identity.hardware,
        software: identity.software,
    }
}

/// A name that no other session has: a random identifier (RFC 9562, version 4) in hexadecimal.
pub(crate) fn new_session_id() -> String {
    uuid::Uuid::new_v4().simple().to_string()
}

#[cfg(test)]
mod tests;
