//! What the slope simulation comes to: the result, its sentence and its plot.

use super::model::Model;
use super::stretches::{Commanded, SlopePoint};
use crate::examinations::given::WindFactor;
use crate::examinations::road::sine_and_cosine;
use crate::examinations::words;
use crate::outcome::{Estimate, Ink, Plot, Tested};
use crate::stats::intervals::interval_95;
use units::STANDARD_GRAVITY_M_PER_S2;

/// What the device makes of a commanded slope.
#[derive(Clone, Debug, PartialEq)]
pub struct Slope {
    /// Mass that the device simulates, kg. The command does not contain it.
    pub mass_kg: Estimate,
    /// 95 % interval of the mass.
    pub mass_interval_kg: [f64; 2],
    /// Rolling force found, N.
    pub rolling_n: Option<Estimate>,
    /// Coefficient of rolling resistance found with that mass.
    pub crr: Option<Estimate>,
    /// Coefficient of rolling resistance commanded.
    pub commanded_crr: f64,
    /// Force over speed squared found, kg/m.
    pub drag_kg_per_m: Option<Estimate>,
    /// Wind coefficient commanded, kg/m.
    pub commanded_cw_kg_per_m: f64,
    /// Factor by which the device applies the commanded coefficient: found over commanded.
    pub wind_factor: Option<Estimate>,
    /// The usual reading of the coefficient that the factor fits, if only one does.
    pub wind_factor_reading: Option<WindFactor>,
    /// Grade beyond which the force rose no more, %, if it was reached.
    pub ceiling_pct: Option<f64>,
    /// Time from the command to 63 % of the change of force, s.
    pub response_s: Option<Estimate>,
    /// The points.
    pub points: Vec<SlopePoint>,
}

pub(super) fn report(
    points: &[(Commanded, SlopePoint)],
    model: Model,
    ceiling_pct: Option<f64>,
    response_s: Option<Estimate>,
) -> Tested<Slope> {
    let mass_kg = model.estimate(0);
    let mass_interval_kg = interval_95(mass_kg);
    let n = points.len() as f64;
    let mean = |f: fn(&Commanded) -> f64| points.iter().map(|(c, _)| f(c)).sum::<f64>() / n;
    let (commanded_crr, commanded_cw) = (mean(|c| c.crr), mean(|c| c.cw_kg_per_m));
    // Without a drag term the constant part holds rolling and air together and says neither.
    let rolling_n = model.has_drag.then(|| model.estimate(1));
    let drag_kg_per_m = model.has_drag.then(|| model.estimate(2));
    let weight = mass_kg.value * STANDARD_GRAVITY_M_PER_S2;
    let crr = rolling_n.filter(|_| weight > 0.0).map(|rolling| Estimate {
        value: rolling.value / weight,
        u: (rolling.u / weight).hypot(rolling.value * mass_kg.u / (weight * mass_kg.value)),
        dof: rolling.dof,
    });
    let wind_factor = drag_kg_per_m
        .filter(|_| commanded_cw > 0.0)
        .map(|drag| Estimate {
            value: drag.value / commanded_cw,
            u: drag.u / commanded_cw,
            dof: drag.dof,
        });
    let wind_factor_reading = wind_factor.and_then(|found| {
        let [low, high] = interval_95(found);
        let fits = |factor: WindFactor| low <= factor.value() && factor.value() <= high;
        match (fits(WindFactor::Whole), fits(WindFactor::Half)) {
            (true, false) => Some(WindFactor::Whole),
            (false, true) => Some(WindFactor::Half),
            _ => None,
        }
    });
    let mut sentence = format!(
        "The simulated slope behaves like a mass of {:.0} kg ({})",
        mass_kg.value,
        words::interval_of_size(mass_interval_kg, 0, "kg")
    );
    if let Some(factor) = wind_factor {
        let reading = match wind_factor_reading {
            Some(WindFactor::Whole) => " – the coefficient is applied whole",
            Some(WindFactor::Half) => " – the coefficient is applied by half",
            None => "",
        };
        sentence += &format!(
            "; drag is {} times the commanded coefficient{reading}",
            words::plain(factor.value, 2)
        );
    }
    match ceiling_pct {
        Some(ceiling) => sentence += &format!("; beyond {ceiling:.1} % the force rises no more"),
        None => sentence += "; no ceiling was reached",
    }
    let plots = vec![plot_of(points, &model, ceiling_pct)];
    let result = Slope {
        mass_kg,
        mass_interval_kg,
        rolling_n,
        crr,
        commanded_crr,
        drag_kg_per_m,
        commanded_cw_kg_per_m: commanded_cw,
        wind_factor,
        wind_factor_reading,
        ceiling_pct,
        response_s,
        points: points.iter().map(|(_, point)| *point).collect(),
    };
    Tested {
        result,
        sentence: sentence + ".",
        plots,
    }
}

fn plot_of(points: &[(Commanded, SlopePoint)], model: &Model, ceiling: Option<f64>) -> Plot {
    let sine = |p: &SlopePoint| sine_and_cosine(p.grade_pct / 100.0).0;
    // Drag is taken out, so that points of all speeds lie on one line.
    let still = |c: &Commanded, p: &SlopePoint| {
        let drag = model.force(c, p)
            - model.climbing_n(p.grade_pct)
            - model.fit.coefficients[1] * sine_and_cosine(p.grade_pct / 100.0).1;
        p.force_n - drag
    };
    let bars = |beyond: bool| -> Vec<[f64; 4]> {
        points
            .iter()
            .filter(|(_, p)| p.beyond_ceiling == beyond)
            .map(|(c, p)| {
                let force = still(c, p);
                [sine(p), force - 2.0 * p.u_n, force, force + 2.0 * p.u_n]
            })
            .collect()
    };
    let ends = points
        .iter()
        .fold([f64::MAX, f64::MIN], |[low, high], (_, p)| {
            [low.min(p.grade_pct), high.max(p.grade_pct)]
        });
    let line = ends.map(|grade_pct| {
        let (sine, cosine) = sine_and_cosine(grade_pct / 100.0);
        [
            sine,
            model.climbing_n(grade_pct) + model.fit.coefficients[1] * cosine,
        ]
    });
    words::plot(
        "force-by-slope",
        "Force against the sine of the commanded grade",
        ["sine of the grade", "force at the road without drag, N"],
        vec![
            words::line(Ink::Fit, "fitted mass", line.to_vec()),
            words::intervals(Ink::UnderTest, "steady stretches", bars(false)),
            words::intervals(Ink::Beyond, "beyond the ceiling", bars(true)),
        ],
        format!(
            "{} stretches; force by the reference{}",
            points.len(),
            ceiling.map_or(String::new(), |c| format!("; ceiling at {c:.1} %"))
        ),
    )
}
