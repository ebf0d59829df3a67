//! What is not as it should be, in words: noted, shown and counted, never silently repaired.

use crate::cell::Judge;
use crate::evidence::{Evidence, Place, Role, Stream};
use crate::findings::{Alignment, Cell, Treatment};
use crate::settings::Settings;
use crate::verdict::Verdict;

/// Change of the reference's zero that is worth a word, N·m at the crank.
const ZERO_CHANGE_NM: f64 = 0.3;

fn with_power(evidence: &Evidence, role: Role) -> Option<&Stream> {
    evidence
        .streams
        .iter()
        .find(|stream| stream.role == role && !stream.power_w.is_empty())
}

/// What is not as it should be about the streams and their alignment.
pub(crate) fn of_streams(evidence: &Evidence, alignment: &[Alignment]) -> Vec<String> {
    let mut anomalies = Vec::new();
    let devices: Vec<&str> = evidence
        .streams
        .iter()
        .filter(|stream| stream.role == Role::UnderTest && !stream.power_w.is_empty())
        .map(|stream| stream.name.as_str())
        .collect();
    if let [judged, further @ ..] = devices.as_slice()
        && !further.is_empty()
    {
        anomalies.push(format!(
            "{} streams come from the device under test; {judged} is judged, not {}",
            devices.len(),
            further.join(", ")
        ));
    }
    for found in alignment {
        if let (Some(power), Some(cadence)) = (found.from_power, found.from_cadence)
            && (power.value - cadence.value).abs() > 2.0 * power.u.hypot(cadence.u).max(0.1)
        {
            anomalies.push(format!(
                "{}: power is {:+.2} s late against the reference, cadence {:+.2} s: the two are \
                 not smoothed alike",
                found.source, power.value, cadence.value
            ));
        }
        if found.lag_s.abs() > 10.0 {
            anomalies.push(format!(
                "{}: moved by {:.1} s; its clock did not start with the session's",
                found.source, found.lag_s
            ));
        }
    }
    if let (Some(device), Some(reference)) = (
        with_power(evidence, Role::UnderTest),
        with_power(evidence, Role::PrimaryReference),
    ) {
        if reference.place == Place::OneSide {
            anomalies.push(format!(
                "{} measures one side and doubles it; its left and right split cannot be known",
                reference.name
            ));
        }
        if reference.place.is_behind_drivetrain() && !device.place.is_behind_drivetrain() {
            anomalies.push(
                "the reference measures behind the drivetrain and the device before it; the loss \
                 between them is not corrected"
                    .into(),
            );
        }
        if reference.cadence_rpm.is_empty() && device.cadence_rpm.is_empty() {
            anomalies
                .push("no instrument reports cadence: windows could not be gated by it".into());
        }
    }
    anomalies
}

/// What is not as it should be about the cells and the reference.
pub(crate) fn of_cells(
    cells: &[Cell],
    treatment: Treatment,
    settings: &Settings,
    judge: &Judge,
) -> Vec<String> {
    let mut anomalies = Vec::new();
    for cell in cells.iter().filter(|cell| cell.treatment == treatment) {
        let closure = cell
            .budget
            .iter()
            .find(|term| term.term == "flywheel energy not closed")
            .map(|term| term.u_pct * 3f64.sqrt());
        if let Some(closure_pct) = closure
            && closure_pct > settings.gate.cell_closure_pct
        {
            anomalies.push(format!(
                "{:.0} W: flywheel energy of {closure_pct:.2} % is not closed, {:.1} % is asked",
                cell.level_w, settings.gate.cell_closure_pct
            ));
        }
    }
    if judge
        .instruments
        .zero_change_nm
        .is_some_and(|change| change.abs() > ZERO_CHANGE_NM)
    {
        anomalies.push(
            "the zero of the reference changed by more than 0.3 N·m from before to after".into(),
        );
    }
    if cells.iter().all(|cell| cell.verdict == Verdict::NotTested) && !cells.is_empty() {
        anomalies.push("no cell has enough steady windows to be judged".into());
    }
    if settings.power_claim().text.is_empty() {
        anomalies.push("no claim sheet was given: ±2 % is the tester's own limit".into());
    }
    let on_the_sheet = |name: &str| settings.claims.iter().any(|claim| claim.name() == name);
    for measurement in &settings.measurements {
        if !on_the_sheet(&measurement.claim) {
            anomalies.push(format!(
                "a measurement was entered for {:?}, which is no claim of the sheet",
                measurement.claim
            ));
        }
    }
    anomalies
}
