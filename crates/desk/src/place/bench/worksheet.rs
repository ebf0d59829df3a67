//! The static check of a reference with weights: what was hung and what was shown, and what comes
//! of it. Nothing in here is sent to an instrument.

use crate::chart::plot::plot_ui;
use crate::parts::{self, Voice, control, field, words};
use crate::theme::tokens;
use analysis::claim::reference_check::{ARM_MM, day_words};
use analysis::claim::{Checked, ReferenceCheck};
use analysis::examinations::static_check::{
    Direction, Side, StaticCheck, StaticFindings, StaticReading, normal_gravity, static_check,
};
use analysis::outcome::{Estimate, Outcome, Tested};
use egui::{Role, Ui, WidgetInfo};

/// Days between two checks: half a year, as many laboratories do with force instruments (common
/// practice).
const VALID_DAYS: i64 = 182;

/// Relative standard uncertainty of local gravity computed from the latitude alone: sea level and
/// the densities below are left out.
const U_GRAVITY_REL: f64 = 0.0005;

/// What was typed.
#[derive(Debug)]
pub(super) struct Worksheet {
    rows: Vec<Row>,
    arm_mm: f64,
    u_arm_mm: f64,
    u_mass_pct: f64,
    level_deg: f64,
    latitude_deg: f64,
    of: Checked,
    source: String,
    drawn: Option<Drawn>,
}

/// What came of it, and of which numbers.
#[derive(Debug)]
struct Drawn {
    of: StaticCheck,
    outcome: Outcome<StaticFindings>,
}

#[derive(Clone, Debug)]
struct Row {
    side: Side,
    direction: Direction,
    mass: String,
    shown: String,
}

impl Default for Worksheet {
    fn default() -> Self {
        let masses = ["5", "10", "15", "20"];
        let mut rows = Vec::new();
        for side in [Side::Left, Side::Right] {
            for mass in masses {
                rows.push(Row::new(side, Direction::Adding, mass));
            }
            for mass in masses[..3].iter().rev() {
                rows.push(Row::new(side, Direction::TakingOff, mass));
            }
        }
        Self {
            rows,
            arm_mm: 172.5,
            u_arm_mm: 0.3,
            u_mass_pct: 0.05,
            level_deg: 1.0,
            latitude_deg: 50.0,
            of: Checked::Reference,
            source: String::new(),
            drawn: None,
        }
    }
}

impl Row {
    fn new(side: Side, direction: Direction, mass: &str) -> Self {
        Self {
            side,
            direction,
            mass: mass.to_owned(),
            shown: String::new(),
        }
    }
}

impl Worksheet {
    fn check(&self, today: i64) -> StaticCheck {
        let gravity = normal_gravity(self.latitude_deg);
        StaticCheck {
            readings: self
                .rows
                .iter()
                .filter_map(|row| {
                    Some(StaticReading {
                        side: row.side,
                        mass_kg: field::read(&row.mass)?,
                        arm_m: self.arm_mm / 1000.0,
                        shown_nm: field::read(&row.shown)?,
                        direction: row.direction,
                    })
                })
                .collect(),
            u_mass_rel: self.u_mass_pct / 100.0,
            u_arm_m: self.u_arm_mm / 1000.0,
            level_deg: self.level_deg,
            gravity_m_per_s2: Estimate {
                value: gravity,
                u: U_GRAVITY_REL * gravity,
                dof: f64::MAX,
            },
            day: today,
            valid_days: VALID_DAYS,
        }
    }
}

/// Draws the worksheet.
pub(super) fn worksheet_ui(ui: &mut Ui, today: i64, sheet: &mut Worksheet) {
    parts::paragraph(
        ui,
        "Hang known masses on a level crank, one side after the other, adding and taking off, and \
         write down the torque that the reference shows. At least five loads; better three times. \
         Block the wheel first, and keep feet away from below the weights.",
    );
    ui.add_space(tokens::GRID);
    let wide = ui.available_width() > 96.0 * tokens::GRID;
    if wide {
        let side = 0.5 * (ui.available_width() - 2.0 * tokens::GAP);
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = 2.0 * tokens::GAP;
            ui.vertical(|ui| {
                ui.set_width(side);
                ui.spacing_mut().item_spacing.x = tokens::GRID;
                entries(ui, sheet);
            });
            ui.vertical(|ui| {
                ui.set_width(side);
                ui.spacing_mut().item_spacing.x = tokens::GRID;
                results(ui, today, sheet);
            });
        });
    } else {
        entries(ui, sheet);
        ui.add_space(tokens::GAP);
        results(ui, today, sheet);
    }
}

fn entries(ui: &mut Ui, sheet: &mut Worksheet) {
    let number = |ui: &mut Ui, label: &str, unit: &str, value: &mut f64, range: [f64; 2]| {
        ui.horizontal(|ui| {
            let width = 25.0 * tokens::GRID;
            ui.allocate_ui_with_layout(
                egui::vec2(width, tokens::CONTROL),
                egui::Layout::left_to_right(egui::Align::Center),
                |ui| {
                    ui.set_width(width);
                    parts::line(ui, label);
                },
            );
            if let Some(given) = field::number(ui, label, unit, *value, range) {
                *value = given;
            }
        });
    };
    number(ui, "Arm, crank length", "mm", &mut sheet.arm_mm, ARM_MM);
    number(
        ui,
        "Its standard uncertainty",
        "mm",
        &mut sheet.u_arm_mm,
        [0.0, 20.0],
    );
    number(
        ui,
        "Masses, standard uncertainty",
        "%",
        &mut sheet.u_mass_pct,
        [0.0, 5.0],
    );
    number(
        ui,
        "Arm off level by at most",
        "°",
        &mut sheet.level_deg,
        [0.0, 20.0],
    );
    number(
        ui,
        "Latitude of the workshop",
        "°",
        &mut sheet.latitude_deg,
        [-90.0, 90.0],
    );
    let gravity = normal_gravity(sheet.latitude_deg);
    parts::quiet(
        ui,
        &format!(
            "Free fall there: {} m/s², at sea level.",
            words::decimals(gravity, 4)
        ),
    );
    ui.add_space(tokens::GRID);
    let mut gone = None;
    for (index, row) in sheet.rows.iter_mut().enumerate() {
        if row_ui(ui, index, row) {
            gone = Some(index);
        }
    }
    if let Some(index) = gone {
        sheet.rows.remove(index);
    }
    ui.horizontal_wrapped(|ui| {
        if parts::button(ui, "One more reading", "", Voice::Plain).clicked() {
            let last = sheet.rows.last().cloned();
            sheet.rows.push(last.map_or_else(
                || Row::new(Side::Left, Direction::Adding, "5"),
                |last| Row {
                    shown: String::new(),
                    ..last
                },
            ));
        }
        if parts::button(ui, "Once more from the beginning", "", Voice::Plain).clicked() {
            let again = Worksheet::default().rows;
            sheet.rows.extend(again);
        }
        if parts::button(ui, "Clear what is shown", "", Voice::Plain).clicked() {
            for row in &mut sheet.rows {
                row.shown.clear();
            }
        }
    });
}

/// One reading; says whether it is to go.
fn row_ui(ui: &mut Ui, index: usize, row: &mut Row) -> bool {
    let mut goes = false;
    ui.push_id(index, |ui| {
        ui.horizontal_wrapped(|ui| {
            let side = match row.side {
                Side::Left => "left",
                Side::Right => "right",
            };
            let direction = match row.direction {
                Direction::Adding => "adding",
                Direction::TakingOff => "taking off",
            };
            let n = index + 1;
            let named = |response: egui::Response, word: &str| {
                let name = format!("{word}, reading {n}");
                response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &name));
                response.clicked()
            };
            let pressed = parts::button(ui, side, "", Voice::Plain);
            if named(pressed, side) {
                row.side = match row.side {
                    Side::Left => Side::Right,
                    Side::Right => Side::Left,
                };
            }
            let width = control::button_width(ui, "taking off", "", Voice::Plain);
            ui.allocate_ui(egui::vec2(width, tokens::CONTROL), |ui| {
                ui.set_width(width);
                let pressed = parts::button(ui, direction, "", Voice::Plain);
                if named(pressed, direction) {
                    row.direction = match row.direction {
                        Direction::Adding => Direction::TakingOff,
                        Direction::TakingOff => Direction::Adding,
                    };
                }
            });
            field::line(ui, &format!("Mass {n}, kg"), "kg", &mut row.mass, 64.0);
            parts::quiet_line(ui, "kg");
            field::line(
                ui,
                &format!("Torque shown {n}, N·m"),
                "N·m",
                &mut row.shown,
                80.0,
            );
            parts::quiet_line(ui, "N·m");
            goes = control::sign_button(ui, "×", &format!("Remove reading {n}")).clicked();
        });
    });
    goes
}

fn results(ui: &mut Ui, today: i64, sheet: &mut Worksheet) {
    let check = sheet.check(today);
    if sheet.drawn.as_ref().is_none_or(|drawn| drawn.of != check) {
        sheet.drawn = Some(Drawn {
            outcome: static_check(&check),
            of: check,
        });
    }
    let Some(drawn) = &sheet.drawn else { return };
    match &drawn.outcome {
        Ok(tested) => {
            found(ui, tested);
            let check = drawn.of.clone();
            handed_on(ui, check, &mut sheet.of, &mut sheet.source);
            plots(ui, sheet);
        }
        Err(not) => {
            parts::caption(ui, "Not enough yet");
            parts::paragraph(ui, &words::sentence_case(&not.to_string()));
        }
    }
}

fn found(ui: &mut Ui, tested: &Tested<StaticFindings>) {
    let result = &tested.result;
    let pct = |slope: f64| words::signed(100.0 * (slope - 1.0), 2);
    // The day of the check is today and the sentence counts days; only its first part is of use.
    let sentence = tested.sentence.split(';').next().unwrap_or_default();
    parts::caption(ui, "Result");
    parts::paragraph(ui, &format!("{sentence}."));
    let [low, high] = result.slope_interval;
    let mut facts = vec![
        (
            "Slope, shown over applied".to_owned(),
            format!(
                "{} (95 %: {} to {} %)",
                words::decimals(result.slope.value, 4),
                pct(low),
                pct(high)
            ),
        ),
        (
            "Shown without a load".to_owned(),
            format!(
                "{} N·m ± {} N·m",
                words::signed(result.intercept_nm.value, 2),
                words::decimals(2.0 * result.intercept_nm.u, 2)
            ),
        ),
        (
            "Worst distance from the line".to_owned(),
            format!("{} N·m", words::decimals(result.worst_residual_nm, 2)),
        ),
    ];
    for (side, slope) in &result.sides {
        let side = match side {
            Side::Left => "Left side",
            Side::Right => "Right side",
        };
        facts.push((side.to_owned(), format!("{} %", pct(slope.value))));
    }
    if let Some(hysteresis) = result.hysteresis_nm {
        facts.push((
            "Hysteresis, taking off minus adding".to_owned(),
            format!("{} N·m", words::signed(hysteresis, 2)),
        ));
    }
    let terms: Vec<String> = result
        .terms
        .iter()
        .map(|(name, pct)| format!("{name} {} %", words::decimals(*pct, 2)))
        .collect();
    facts.push((
        "Standard uncertainty of the slope".to_owned(),
        format!(
            "{} %: {}",
            words::decimals(100.0 * result.slope.u, 2),
            terms.join(", ")
        ),
    ));
    facts.push((
        "Due again".to_owned(),
        format!(
            "on {}, or after a knock, a service or new firmware",
            day_words(result.due_day)
        ),
    ));
    for (label, value) in facts {
        parts::fact(ui, &label, &value);
    }
}

/// The check as it goes onto a claim sheet, which takes it into the budget: the uncertainty of the
/// slope, and its deviation from one beside it, because nothing is corrected.
fn handed_on(ui: &mut Ui, check: StaticCheck, of: &mut Checked, source: &mut String) {
    ui.add_space(tokens::GRID);
    parts::caption(ui, "For a claim sheet under Script");
    let known = [Checked::Reference, Checked::SecondReference];
    let chosen = known.iter().position(|one| one == of);
    if let Some(index) = control::words_row(ui, &["reference", "second reference"], chosen) {
        *of = known[index];
    }
    let width = ui.available_width().min(0.7 * tokens::MEASURE);
    let hint = "weights, place and tester";
    field::line(ui, "Weights, place and tester", hint, source, width);
    if source.trim().is_empty() {
        parts::quiet(
            ui,
            "Name weights, place and tester; then the check can be copied.",
        );
        return;
    }
    let found = ReferenceCheck {
        of: *of,
        check,
        source: source.trim().to_owned(),
    };
    if parts::button(ui, "Copy the check", "", Voice::Plain).clicked() {
        ui.ctx().copy_text(found.written());
    }
    parts::quiet(
        ui,
        "Put it between the brackets of static_checks: [ ] on a claim sheet of your own. It takes the \
         place of the reference's published accuracy, and is sealed with every session judged by that \
         sheet.",
    );
}

fn plots(ui: &mut Ui, sheet: &Worksheet) {
    let outcome = sheet.drawn.as_ref().map(|drawn| &drawn.outcome);
    for plot in outcome
        .iter()
        .flat_map(|found| found.iter())
        .flat_map(|tested| &tested.plots)
    {
        ui.add_space(tokens::GRID);
        plot_ui(ui, plot);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::claim::read_sheet;
    use analysis::settings::SlopeKnowledge;

    /// 10 kg at 172.5 mm where free fall is 9.81 m/s² apply 16.92 N·m (torque is mass times free
    /// fall times arm: a definition).
    #[test]
    fn what_is_typed_becomes_a_check() {
        let mut sheet = Worksheet::default();
        assert!(
            static_check(&sheet.check(0)).is_err(),
            "nothing was shown yet"
        );
        for row in &mut sheet.rows {
            let mass: f64 = field::read(&row.mass).unwrap();
            row.shown = format!("{:.3}", 1.01 * mass * 9.8107 * 0.1725).replace('.', ",");
        }
        let check = sheet.check(20_000);
        assert_eq!(check.readings.len(), 14);
        let found = static_check(&check).unwrap().result;
        assert!((found.slope.value - 1.01).abs() < 1e-3, "{found:?}");
        // What is copied is what a claim sheet reads, and the budget takes the deviation as well.
        let written = ReferenceCheck {
            of: Checked::SecondReference,
            check: check.clone(),
            source: "own weights".to_owned(),
        }
        .written();
        let text = format!("(claims: [], static_checks: [{written}])");
        let read = read_sheet(&text).expect("a claim sheet").static_checks;
        assert_eq!(read[0].of, Checked::SecondReference);
        assert_eq!(read[0].check.day, 20_000);
        let Ok(known) = read[0].knowledge() else {
            panic!("the check is sound");
        };
        let SlopeKnowledge::Calibrated { u_pct, .. } = known.result else {
            panic!("{:?}", known.result);
        };
        // One per cent off, taken as a rectangular distribution (JCGM 100:2008, 4.3.7).
        assert!(u_pct > 1.0 / 3_f64.sqrt() - 0.01, "{u_pct}");
    }
}
