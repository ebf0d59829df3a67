//! What a person prefers, kept from one start to the next.

/// Preferences. Theme and text size are kept beside them, see
/// [`Remembered`](crate::Remembered).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Preferences {
    /// How flywheel speed is shown.
    pub speed: SpeedUnit,
    /// Tolerance that is judged by where no claim sheet is chosen, % of reading.
    pub tolerance_pct: f64,
    /// No script is given a target above this, W.
    pub ceiling_w: f64,
}

impl Preferences {
    /// Smallest and largest tolerance, %.
    pub const TOLERANCE_PCT: [f64; 2] = [0.5, 10.0];
    /// Smallest and largest ceiling, W.
    pub const CEILING_W: [f64; 2] = [50.0, 1000.0];
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            speed: SpeedUnit::KmH,
            tolerance_pct: 2.0,
            ceiling_w: 400.0,
        }
    }
}

/// How flywheel speed is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SpeedUnit {
    /// Kilometres in an hour.
    #[default]
    KmH,
    /// Miles in an hour.
    Mph,
}

/// Kilometres in an international mile (1.609344 exactly: NIST SP 811, appendix B.8).
const KM_PER_MILE: f64 = 1.609_344;

impl SpeedUnit {
    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::KmH => "km/h",
            Self::Mph => "mph",
        }
    }

    /// A speed in this unit.
    pub fn from_kmh(self, kmh: f64) -> f64 {
        match self {
            Self::KmH => kmh,
            Self::Mph => kmh / KM_PER_MILE,
        }
    }

    /// The unit that the desk is drawn in at present.
    pub fn current(ctx: &egui::Context) -> Self {
        ctx.data(|data| data.get_temp(egui::Id::NULL.with("speed unit")))
            .unwrap_or_default()
    }

    /// Makes it the unit that the desk is drawn in.
    pub(crate) fn use_in(self, ctx: &egui::Context) {
        ctx.data_mut(|data| data.insert_temp(egui::Id::NULL.with("speed unit"), self));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST SP 811 (2008), appendix B.8: one mile is 1.609344 km.
    #[test]
    fn a_mile_is_the_international_one() {
        assert!((SpeedUnit::Mph.from_kmh(160.9344) - 100.0).abs() < 1e-12);
        assert_eq!(SpeedUnit::KmH.from_kmh(35.0), 35.0);
    }
}
