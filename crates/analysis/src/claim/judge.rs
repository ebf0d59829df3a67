//! The verdict on each measurable claim: from the session where it can say something, from a
//! measurement by hand where there is one, else *not tested* with what to do.
//!
//! A measurement by hand comes first: it was made for the claim. Every value is judged by the rule
//! that cells are judged by, guarded both ways. What a session shows only in part (the legs gave
//! out before the device, part of the mass is in the device's report) can speak for a claim, but
//! not against it.

use super::measurement::{Check, Entered, Measurement};
use super::statement::{Field, MeasurableClaim, Subject};
use crate::budget::{Condition, Instruments, combine_terms, terms};
use crate::evidence::{Role, Stream};
use crate::examinations::{Examinations, noise};
use crate::findings::{ClaimFinding, PairedTraces, Treatment};
use crate::limit::{Limit, Reached};
use crate::outcome::Estimate;
use crate::settings::Settings;
use crate::stats::descriptive::{mean, sd};
use crate::verdict::Verdict;
use units::STANDARD_GRAVITY_M_PER_S2;

/// Fewest intervals between packets that tell a rate.
const LEAST_INTERVALS: usize = 30;
/// Seconds of packets from which a field that never came speaks against the claim, s.
const ABSENT_FROM_S: f64 = 300.0;
/// Fewest values of a field that show that it is sent.
const LEAST_VALUES: usize = 10;

/// What a session has to say.
pub(crate) struct Session<'a> {
    pub(crate) settings: &'a Settings,
    pub(crate) received: &'a [Stream],
    pub(crate) examinations: &'a Examinations,
    pub(crate) traces: &'a PairedTraces,
    pub(crate) treatment: Treatment,
    pub(crate) under_test: Option<&'a Stream>,
    pub(crate) reference: Option<&'a Stream>,
}

/// What was measured for one claim.
enum Found {
    /// A value, whether it is an end, and how it came about.
    Value(Estimate, Reached, String),
    /// A statement without a number.
    Seen(Verdict, String),
    /// Nothing; why.
    Nothing(String),
}

/// Judges a claim.
pub(crate) fn judge(claim: &MeasurableClaim, session: &Session<'_>) -> ClaimFinding {
    let rule = &session.settings.decision;
    let by_hand = session
        .settings
        .measurements
        .iter()
        .find(|measurement| measurement.claim == claim.name);
    let found = match by_hand {
        Some(measurement) => entered(measurement, &claim.subject),
        None => session.look(&claim.subject),
    };
    let mut finding = ClaimFinding {
        name: claim.name.clone(),
        text: claim.text.clone(),
        limit: claim.subject.words(),
        measured: None,
        expanded: None,
        unit: claim.subject.unit(),
        verdict: Verdict::NotTested,
        rule: rule_words(claim, rule.shown_at, rule.coverage.words()),
        remark: String::new(),
    };
    match (found, claim.subject.limit()) {
        (Found::Value(value, reached, how), Some(limit)) => {
            let judged = limit.judge(rule, value, reached);
            finding.measured = Some(value.value);
            finding.expanded = Some(judged.expanded);
            finding.verdict = judged.verdict;
            finding.remark = how;
            let partly = reached == Reached::NotEnd && says_nothing(limit, value.value);
            if partly {
                finding.verdict = Verdict::NotTested;
                finding.remark += &format!(
                    "; not tested above {:.1} {}: {}",
                    value.value,
                    claim.subject.unit(),
                    claim.subject.remedy()
                );
            }
        }
        (Found::Seen(verdict, how), None) => {
            finding.verdict = verdict;
            finding.remark = how;
        }
        (Found::Nothing(why), _) => {
            finding.remark = format!("{why}; {}", claim.subject.remedy());
        }
        (Found::Value(..) | Found::Seen(..), _) => {
            finding.remark = format!(
                "what was entered does not fit the claim; {}",
                claim.subject.remedy()
            );
        }
    }
    finding
}

/// Whether a value that the true one may exceed leaves the claim open.
fn says_nothing(limit: Limit, value: f64) -> bool {
    match limit {
        Limit::AtLeast(low) => value < low,
        Limit::AtMost(high) | Limit::Between(_, high) => value <= high,
    }
}

fn rule_words(claim: &MeasurableClaim, shown_at: f64, coverage: &str) -> String {
    let mut words = match claim.subject.limit() {
        Some(_) => format!(
            "Shown within when the probability that the value keeps the limit is at least \
             {0:.0} %, and shown beyond when the probability that it does not is at least {0:.0} %. \
             Expanded uncertainty: {coverage}.",
            100.0 * shown_at
        ),
        None => "Looked up or seen in the recording; there is no number to judge.".to_owned(),
    };
    if !claim.source.is_empty() {
        words += &format!(" Claimed in: {}.", claim.source);
    }
    if !claim.conditions.is_empty() {
        words += &format!(" Under: {}.", claim.conditions.join("; "));
    }
    words
}

fn entered(measurement: &Measurement, subject: &Subject) -> Found {
    let source = &measurement.source;
    match (&measurement.entered, subject) {
        (Entered::Value { value, reached }, _) => {
            Found::Value(*value, *reached, format!("measured by hand: {source}"))
        }
        (
            Entered::Noise {
                running_db,
                background_db,
                distance_m,
                u_meter_db,
            },
            Subject::Noise {
                distance_m: claimed_distance_m,
                limit,
            },
        ) => {
            let readings = noise::NoiseReadings {
                running_db: running_db.clone(),
                background_db: background_db.clone(),
                distance_m: *distance_m,
                claimed_distance_m: *claimed_distance_m,
                u_meter_db: *u_meter_db,
            };
            match noise::noise(&readings) {
                Ok(tested) => {
                    let level = tested.result.level_db;
                    let how = format!("{} Read with: {source}", tested.sentence);
                    // An upper bound above the limit says nothing about the device.
                    let blurred = tested.result.upper_bound_only
                        && !matches!(limit, Limit::AtMost(most) if level.value <= *most);
                    if blurred {
                        Found::Nothing(format!("{how}; too close to the background"))
                    } else {
                        Found::Value(level, Reached::End, how)
                    }
                }
                Err(not_tested) => Found::Nothing(not_tested.reason),
            }
        }
        (Entered::Checked(Check::Confirmed), _) => {
            Found::Seen(Verdict::ShownWithin, format!("looked up: {source}"))
        }
        (Entered::Checked(Check::Refuted), _) => Found::Seen(
            Verdict::ShownBeyond,
            format!("looked up, not as claimed: {source}"),
        ),
        (Entered::Noise { .. }, _) => Found::Nothing("levels were entered for another kind".into()),
    }
}

impl Session<'_> {
    fn look(&self, subject: &Subject) -> Found {
        match subject {
            Subject::LargestPower { over_s, .. } => self.largest_power(*over_s),
            Subject::LargestSlope { .. } => self.largest_slope(),
            Subject::FieldsSent { fields } => self.fields(fields),
            Subject::UpdateRate { .. } => self.rate(),
            Subject::EquivalentMass { .. } => match &self.examinations.inertia {
                Ok(tested) => {
                    let mass = tested.result.unreported_kg;
                    let how = format!(
                        "{} That is the whole mass only if the device reports nothing of what is \
                         stored",
                        tested.sentence
                    );
                    Found::Value(mass, Reached::NotEnd, how)
                }
                Err(not_tested) => Found::Nothing(not_tested.reason.clone()),
            },
            Subject::Noise { .. }
            | Subject::Mass { .. }
            | Subject::Dimension { .. }
            | Subject::Document => Found::Nothing("nothing was entered".into()),
        }
    }

    /// Largest mean of the reference over the time claimed, referred to where the device is.
    fn largest_power(&self, over_s: f64) -> Found {
        let (Some(under_test), Some(reference)) = (self.under_test, self.reference) else {
            return Found::Nothing("device and reference were not both there".into());
        };
        let length = over_s.round().max(1.0) as usize;
        let best = self
            .traces
            .reference_w
            .windows(length)
            .filter_map(|seconds| seconds.iter().copied().sum::<Option<f64>>())
            .max_by(f64::total_cmp);
        let Some(indicated_w) = best.map(|sum| sum / length as f64).filter(|w| *w > 0.0) else {
            return Found::Nothing(format!("the reference has no {over_s} s without a gap"));
        };
        let share = match self.treatment {
            Treatment::AsIndicated => 1.0,
            Treatment::HubReferred => self.settings.drivetrain.share_at_hub(indicated_w),
        };
        // Nobody repeats such an effort, so the scatter counts as one second of a known one.
        let condition = Condition {
            treatment: self.treatment,
            indicated_reference_w: indicated_w,
            cadence_rpm: None,
            type_a: (0.0, f64::MAX),
            n_eff: 1.0,
            under_test_sd_w: 0.0,
            repeat: None,
            closure_w: None,
        };
        let instruments = Instruments::of(under_test, reference);
        let combined = combine_terms(&terms(self.settings, &instruments, &condition));
        let value_w = indicated_w * share;
        let value = Estimate {
            value: value_w,
            u: combined.u / 100.0 * value_w,
            dof: combined.dof,
        };
        let how = format!(
            "largest {over_s} s of the reference, {}; flywheel energy is in it, and the rider \
             ended it",
            self.treatment.words()
        );
        Found::Value(value, Reached::NotEnd, how)
    }

    /// The grade at which the force rose no more, or the steepest that was ridden.
    fn largest_slope(&self) -> Found {
        let slope = match &self.examinations.slope {
            Ok(tested) => &tested.result,
            Err(not_tested) => return Found::Nothing(not_tested.reason.clone()),
        };
        let steepest = slope
            .points
            .iter()
            .filter(|point| !point.beyond_ceiling)
            .map(|point| point.grade_pct)
            .fold(0.0, f64::max);
        let value = slope.ceiling_pct.unwrap_or(steepest);
        let of_force = slope
            .points
            .iter()
            .map(|point| point.u_n)
            .fold(0.0, f64::max)
            / (slope.mass_kg.value.abs().max(1.0) * STANDARD_GRAVITY_M_PER_S2);
        let of_mass = value * slope.mass_kg.u / slope.mass_kg.value.abs().max(1.0);
        let estimate = Estimate {
            value,
            u: (100.0 * of_force).hypot(of_mass),
            dof: slope.mass_kg.dof,
        };
        match slope.ceiling_pct {
            Some(_) => Found::Value(
                estimate,
                Reached::End,
                "the force rose no more beyond this grade".into(),
            ),
            None => Found::Value(
                estimate,
                Reached::NotEnd,
                "the force followed the grade up to the steepest that was ridden".into(),
            ),
        }
    }

    fn of_device(&self) -> impl Iterator<Item = &Stream> {
        self.received
            .iter()
            .filter(|stream| stream.role == Role::UnderTest)
    }

    fn fields(&self, fields: &[Field]) -> Found {
        if self.of_device().next().is_none() {
            return Found::Nothing("the device was not recorded".into());
        }
        let heard_s = self
            .of_device()
            .filter_map(|stream| {
                let first = stream.arrivals.first()?.at;
                Some((stream.arrivals.last()?.at - first).as_secs_f64())
            })
            .fold(0.0, f64::max);
        let (mut absent, mut unseen) = (Vec::new(), Vec::new());
        for field in fields {
            let values = |stream: &Stream| match field {
                Field::Power => Some(stream.power_w.len()),
                Field::Cadence => Some(stream.cadence_rpm.len()),
                Field::Speed => Some(stream.speed_kmh.len()),
                Field::Other(_) => None,
            };
            match self.of_device().filter_map(values).max() {
                None => unseen.push(field.words()),
                Some(count) if count < LEAST_VALUES => absent.push(field.words()),
                Some(_) => {}
            }
        }
        match (absent.is_empty(), unseen.is_empty()) {
            (true, true) => Found::Seen(Verdict::ShownWithin, "all of them were received".into()),
            (true, false) => Found::Nothing(format!(
                "the recording does not hold {}; look it up by hand",
                unseen.join(", ")
            )),
            // A service that was not recorded may still send it, so it is not shown.
            (false, _) if heard_s >= ABSENT_FROM_S => Found::Seen(
                Verdict::LikelyBeyond,
                format!(
                    "{} never came in {heard_s:.0} s of what was recorded of the device; list \
                     all its services to be sure",
                    absent.join(", ")
                ),
            ),
            (false, _) => Found::Nothing(format!(
                "{} did not come in {heard_s:.0} s",
                absent.join(", ")
            )),
        }
    }

    /// Packets per second within one link, of the stream that is judged.
    fn rate(&self) -> Found {
        let Some(stream) = self.under_test else {
            return Found::Nothing("the device was not recorded".into());
        };
        let intervals: Vec<f64> = stream
            .arrivals
            .windows(2)
            .filter(|pair| pair[0].epoch == pair[1].epoch)
            .map(|pair| (pair[1].at - pair[0].at).as_secs_f64())
            .collect();
        let n = intervals.len();
        match (mean(&intervals), sd(&intervals)) {
            (Some(middle), Some(spread)) if n >= LEAST_INTERVALS && middle > 0.0 => {
                let rate = Estimate {
                    value: 1.0 / middle,
                    u: spread / (n as f64).sqrt() / (middle * middle),
                    dof: (n - 1) as f64,
                };
                Found::Value(rate, Reached::End, format!("{n} intervals within one link"))
            }
            _ => Found::Nothing(format!("only {n} intervals between packets were recorded")),
        }
    }
}
