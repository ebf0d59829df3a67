//! The conditions of several sessions, each with its cell in every session that rode it.

use super::change::{Change, change};
use super::common::Common;
use super::sides::Side;
use crate::evidence::Feeds;
use crate::findings::{Cell, Treatment};

/// Levels closer than this are one condition, W; cadences, rpm; speeds, km/h.
pub const SAME_LEVEL_W: f64 = 10.0;
/// Cadences closer than this are one condition, rpm.
pub const SAME_CADENCE_RPM: f64 = 5.0;
/// Flywheel speeds closer than this are one condition, km/h.
pub const SAME_SPEED_KMH: f64 = 3.0;

/// One condition: level, cadence, flywheel speed and what it was ridden for.
#[derive(Clone, Debug, PartialEq)]
pub struct Condition {
    /// In words: `200 W, 90 rpm, 33 km/h`.
    pub words: String,
    /// What the steps were ridden for; `None` without a script.
    pub feeds: Option<Feeds>,
    /// Level, W.
    pub level_w: f64,
    /// Cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Flywheel speed, km/h.
    pub speed_kmh: Option<f64>,
    /// The cell of each session; `None` where it was not ridden.
    pub cells: Vec<Option<Compared>>,
}

/// A cell in a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// The cell.
    pub cell: Cell,
    /// Whether it has the windows that its rule asks for. Others are shown and enter nothing.
    pub counts: Counts,
    /// Change from the first session, if that rode it, too, and both count.
    pub change: Option<Change>,
}

/// Whether a cell enters means, spreads and changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counts {
    /// It does.
    Yes,
    /// It has fewer windows than its rule asks for.
    TooFewWindows,
}

impl Condition {
    /// The cells of these sessions, if all of them have one that counts.
    pub(super) fn cells_of(&self, sessions: &[usize]) -> Option<Vec<&Cell>> {
        sessions
            .iter()
            .map(|session| {
                let compared = self.cells[*session].as_ref()?;
                (compared.counts == Counts::Yes).then_some(&compared.cell)
            })
            .collect()
    }

    /// Whether the device may have been cold.
    fn is_warm_up(&self) -> bool {
        self.feeds == Some(Feeds::Drift)
    }
}

/// The conditions that all of these sessions have. Those of the warm-up count only if there are
/// no others: a device is judged warm.
pub(super) fn shared<'a>(conditions: &'a [Condition], sessions: &[usize]) -> Vec<&'a Condition> {
    let all = || conditions.iter().filter(|c| c.cells_of(sessions).is_some());
    let warm: Vec<&Condition> = all().filter(|condition| !condition.is_warm_up()).collect();
    if warm.is_empty() {
        all().collect()
    } else {
        warm
    }
}

/// The treatment a side is compared in: that of the first where the side has it, else its own.
pub(super) fn treatment_of(side: &Side<'_>, first: Treatment) -> Treatment {
    let has = |treatment| side.findings.cells.iter().any(|c| c.treatment == treatment);
    if has(first) {
        first
    } else {
        side.findings.overall.treatment
    }
}

/// Puts cells together, and computes every change from the first session.
pub(super) fn conditions(sides: &[Side<'_>], common: &[Vec<Common>]) -> Vec<Condition> {
    let first = sides[0].findings.overall.treatment;
    let mut found: Vec<Condition> = Vec::new();
    for (index, side) in sides.iter().enumerate() {
        let treatment = treatment_of(side, first);
        let cells: Vec<&Cell> = side
            .findings
            .cells
            .iter()
            .filter(|cell| cell.treatment == treatment)
            .collect();
        let places = matched(&found, &cells);
        for (cell, place) in cells.into_iter().zip(places) {
            let place = place.unwrap_or_else(|| {
                found.push(Condition::of(cell, sides.len()));
                found.len() - 1
            });
            let enough = cell.windows >= side.settings.in_force().decision.min_windows;
            found[place].cells[index] = Some(Compared {
                cell: cell.clone(),
                counts: if enough {
                    Counts::Yes
                } else {
                    Counts::TooFewWindows
                },
                change: None,
            });
        }
    }
    found.sort_by(|a, b| a.level_w.total_cmp(&b.level_w));
    for condition in &mut found {
        let Some(base) = condition.cells[0]
            .clone()
            .filter(|base| base.counts == Counts::Yes)
        else {
            continue;
        };
        let others = condition.cells.iter_mut().zip(common).skip(1);
        for (compared, common) in others {
            if let Some(compared) = compared.as_mut().filter(|c| c.counts == Counts::Yes) {
                compared.change = Some(change(&base.cell, &compared.cell, common));
            }
        }
    }
    found
}

impl Condition {
    fn of(cell: &Cell, sessions: usize) -> Self {
        Self {
            words: words(cell),
            feeds: cell.feeds,
            level_w: cell.level_w,
            cadence_rpm: cell.cadence_rpm,
            speed_kmh: cell.speed_kmh,
            cells: vec![None; sessions],
        }
    }
}

/// The condition that each cell of one session belongs to, if there is one. Of all pairs that are
/// near enough the nearest are put together first, so that it does not matter in which order the
/// cells stand.
fn matched(found: &[Condition], cells: &[&Cell]) -> Vec<Option<usize>> {
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for (at, cell) in cells.iter().enumerate() {
        for (place, condition) in found.iter().enumerate() {
            pairs.extend(distance(condition, cell).map(|distance| (distance, at, place)));
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut places = vec![None; cells.len()];
    for (_, at, place) in pairs {
        if places[at].is_none() && !places.contains(&Some(place)) {
            places[at] = Some(place);
        }
    }
    places
}

/// How far a cell lies from a condition, as a share of what is still the same, root of squares;
/// `None` where it is another condition.
fn distance(condition: &Condition, cell: &Cell) -> Option<f64> {
    let share = |a: Option<f64>, b: Option<f64>, within: f64| {
        let apart = a.zip(b).map_or(0.0, |(a, b)| (a - b).abs());
        (apart <= within).then_some(apart / within)
    };
    if condition.feeds != cell.feeds {
        return None;
    }
    let level = share(Some(condition.level_w), Some(cell.level_w), SAME_LEVEL_W)?;
    let cadence = share(condition.cadence_rpm, cell.cadence_rpm, SAME_CADENCE_RPM)?;
    let speed = share(condition.speed_kmh, cell.speed_kmh, SAME_SPEED_KMH)?;
    Some(level.hypot(cadence).hypot(speed))
}

/// The condition in words.
pub(super) fn words(cell: &Cell) -> String {
    let mut words = format!("{:.0} W", cell.level_w);
    if let Some(rpm) = cell.cadence_rpm {
        words.push_str(&format!(", {rpm:.0} rpm"));
    }
    if let Some(kmh) = cell.speed_kmh {
        words.push_str(&format!(", {kmh:.0} km/h"));
    }
    match cell.feeds {
        Some(Feeds::Drift) => words.push_str(", warming up"),
        Some(Feeds::Cadence) => words.push_str(", cadence series"),
        Some(Feeds::FlywheelSpeed) => words.push_str(", speed series"),
        _ => {}
    }
    words
}

#[cfg(test)]
mod tests {
    use super::super::samples::{Sample, sides};
    use super::*;

    #[test]
    fn the_nearest_levels_are_one_condition_whichever_comes_first() {
        let of = |levels: &[f64]| Sample {
            cells: levels.iter().map(|level| (*level, 1.0)).collect(),
            ..Sample::default()
        };
        let both_ways = [
            [of(&[100.0]), of(&[95.0, 104.0])],
            [of(&[95.0, 104.0]), of(&[100.0])],
        ];
        for samples in both_ways {
            let found = conditions(&sides(&samples), &[Vec::new(), Vec::new()]);
            let ridden = |condition: &&Condition| condition.cells.iter().all(Option::is_some);
            let shared: Vec<&Condition> = found.iter().filter(ridden).collect();
            assert_eq!((found.len(), shared.len()), (2, 1));
            let levels = |c: &Condition| c.cells.iter().flatten().map(|it| it.cell.level_w).sum();
            let sum: f64 = levels(shared[0]);
            assert_eq!(sum, 204.0);
        }
        let far = conditions(
            &sides(&[of(&[100.0]), of(&[111.0])]),
            &[Vec::new(), Vec::new()],
        );
        assert_eq!(far.len(), 2);
    }
}
