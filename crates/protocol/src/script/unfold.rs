//! From the document to the plan: head, steps, repeats and shuffles.

use super::draft::put_into_words;
use super::fields::{Fields, Reader};
use super::problem::{Problem, ScriptErrors};
use super::raw::Raw;
use super::syntax::{ScriptFile, StepFile};
use super::{Script, burst, ladders, limits, slopes, special, steady};
use crate::plan::Plan;
use crate::runner::EarlyEnd;
use crate::step::PlannedStep;
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use units::{RevPerMin, Watts};

/// What may become of a hold whose question is decided, as a script spells it.
const DECIDED_HOLDS: [(&str, EarlyEnd); 2] =
    [("RideOut", EarlyEnd::Off), ("End", EarlyEnd::WhenDecided)];

/// Reads a whole script.
pub(super) fn read(name: &str, text: &str) -> Result<Script, ScriptErrors> {
    let mut reader = Reader::new(text);
    let script = reader
        .parse::<ScriptFile<'_>>(text)
        .map(|file| script(&mut reader, name, &file));
    match script {
        Some(script) if reader.problems.is_empty() => Ok(script),
        _ => {
            let mut problems = reader.problems;
            problems.sort_by_key(|problem| problem.place);
            problems.dedup();
            Err(ScriptErrors {
                name: name.to_owned(),
                problems,
            })
        }
    }
}

fn script<'a>(reader: &mut Reader<'a>, name: &str, file: &ScriptFile<'a>) -> Script {
    let whole = reader.lines.whole();
    let mut head = Fields {
        reader,
        step: "Script",
        at: whole,
    };
    let title = head.need_text(file.title, "title", limits::LONGEST_TITLE);
    let decides = head
        .text(file.decides, "decides", limits::LONGEST_TEXT)
        .unwrap_or_default();
    let needs: Vec<String> = file
        .needs
        .0
        .and_then(|part| head.reader.parse(part))
        .unwrap_or_default();
    let ceiling_w = head.maybe(file.ceiling_w, "ceiling_w", &limits::POWER);
    let cadence = head.maybe(file.cadence_rpm, "cadence_rpm", &limits::CADENCE);
    let rollout_m = head.maybe(file.rollout_m, "rollout_m", &limits::ROLLOUT);
    let crr = head.maybe(file.crr, "crr", &limits::CRR);
    let cw_kg_per_m = head.maybe(file.cw_kg_per_m, "cw_kg_per_m", &limits::CW);
    let decided_holds = head.choice(file.decided_holds, "decided_holds", &DECIDED_HOLDS);
    reader.ceiling_w = ceiling_w;
    reader.cadence = cadence.map_or(reader.cadence, RevPerMin);
    reader.rollout_m = rollout_m.unwrap_or(reader.rollout_m);
    reader.crr = crr.unwrap_or(reader.crr);
    reader.cw_kg_per_m = cw_kg_per_m.unwrap_or(reader.cw_kg_per_m);

    let first_step = file
        .steps
        .0
        .as_deref()
        .and_then(|items| items.first()?.0)
        .unwrap_or(whole);
    let groups = match &file.steps.0 {
        Some(items) => reader.unfold(items, first_step, 0),
        None => reader.no_steps(whole),
    };
    let mut steps: Vec<PlannedStep> = groups.into_iter().flatten().collect();
    for (index, step) in steps.iter_mut().enumerate() {
        step.index = index;
        put_into_words(step);
    }
    let plan = Plan {
        name: name.to_owned(),
        title: title.clone(),
        steps,
        seeds: std::mem::take(&mut reader.seeds),
    };
    let total = plan.total().as_secs_f64();
    if total > limits::LONGEST_SECONDS {
        let what = format!(
            "the script lasts {:.1} h; the limit is {} h: shorten or split it",
            total / 3600.0,
            limits::LONGEST_SECONDS / 3600.0
        );
        reader.report(first_step, what);
    }
    Script {
        name: name.to_owned(),
        text: whole.to_owned(),
        title,
        decides,
        needs,
        ceiling: ceiling_w.map(Watts),
        decided_holds,
        plan,
    }
}

impl<'a> Reader<'a> {
    /// Reads a list of steps and keeps what each unfolds into apart.
    fn groups(&mut self, raw: Raw<'a>, owner: &'a str, depth: usize) -> Vec<Vec<PlannedStep>> {
        let Some(part) = raw.0 else {
            return self.no_steps(owner);
        };
        if depth > limits::DEEPEST {
            let what = format!(
                "repeats and shuffles nest deeper than {}; write the steps out",
                limits::DEEPEST
            );
            self.report(part, what);
            return Vec::new();
        }
        match self.parse::<Vec<Raw<'a>>>(part) {
            Some(items) => self.unfold(&items, part, depth),
            None => Vec::new(),
        }
    }

    fn no_steps(&mut self, owner: &'a str) -> Vec<Vec<PlannedStep>> {
        self.report(owner, "there is no `steps`; add `steps: [ … ]`".to_owned());
        Vec::new()
    }

    /// Unfolds the steps of a list found at `part`.
    fn unfold(&mut self, items: &[Raw<'a>], part: &'a str, depth: usize) -> Vec<Vec<PlannedStep>> {
        if items.is_empty() {
            self.report(part, "`steps` is empty; add at least one step".to_owned());
        }
        let mut count = 0;
        let mut groups = Vec::with_capacity(items.len());
        for at in items.iter().filter_map(|item| item.0) {
            let group = self.step(at, depth);
            count += group.len();
            if count > limits::MOST_STEPS {
                self.too_many(count, at);
                break;
            }
            groups.push(group);
        }
        groups
    }

    fn step(&mut self, at: &'a str, depth: usize) -> Vec<PlannedStep> {
        let plain = StepFile::plain(at);
        let Some(file) = plain.or_else(|| self.parse::<StepFile<'a>>(at)) else {
            return Vec::new();
        };
        macro_rules! unfold {
            ($($step:ident => $function:path),* $(,)?) => {
                match &file {
                    $(StepFile::$step(file) => {
                        $function(file, &mut Fields { reader: self, step: stringify!($step), at })
                    })*
                    StepFile::Repeat(file) => {
                        let mut fields = Fields { reader: self, step: "Repeat", at };
                        let times = fields.count(file.times, "times", &limits::TIMES);
                        let groups = self.groups(file.steps, at, depth + 1);
                        let body: Vec<PlannedStep> = groups.into_iter().flatten().collect();
                        self.multiplied(&body, times, at)
                    }
                    StepFile::Shuffle(file) => {
                        let mut fields = Fields { reader: self, step: "Shuffle", at };
                        let seed = fields.need(file.seed, "seed", &limits::SEED) as u64;
                        let mut groups = self.groups(file.steps, at, depth + 1);
                        groups.shuffle(&mut ChaCha8Rng::seed_from_u64(seed));
                        self.seeds.push(seed);
                        groups.into_iter().flatten().collect()
                    }
                }
            };
        }
        unfold! {
            Hold => steady::hold,
            Ramp => steady::ramp,
            Staircase => steady::staircase,
            Alternate => steady::alternate,
            HoldUntil => steady::hold_until,
            Rest => steady::rest,
            CoolDown => steady::cool_down,
            FlywheelLadder => ladders::flywheel,
            CadenceLadder => ladders::cadence,
            Burst => burst::burst,
            SlopeProgram => slopes::program,
            SlopeSteps => slopes::steps,
            Resistance => slopes::resistance,
            CoastDown => special::coast_down,
            SpinDown => special::spin_down,
            ZeroOffset => special::zero_offset,
            FreeRide => special::free_ride,
            Prompt => special::prompt,
        }
    }

    /// The same steps several times over, unless that is more than a script may have.
    pub(super) fn multiplied(
        &mut self,
        steps: &[PlannedStep],
        times: usize,
        at: &str,
    ) -> Vec<PlannedStep> {
        let count = steps.len().saturating_mul(times);
        if count > limits::MOST_STEPS {
            self.too_many(count, at);
            return steps.to_vec();
        }
        let mut all = Vec::with_capacity(count);
        for _ in 0..times {
            all.extend_from_slice(steps);
        }
        all
    }

    fn too_many(&mut self, count: usize, at: &str) {
        let what = format!(
            "the script unfolds into {count} steps here; the limit is {}: repeat less",
            limits::MOST_STEPS
        );
        let place = self.place(at);
        self.problems.push(Problem { place, what });
    }
}
