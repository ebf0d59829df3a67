//! What a brake can be.

use super::error::RigError;
use super::judge::Judge;
use crate::spec::BrakeSpec;

impl Judge<'_> {
    pub(super) fn brake(&self, brake: &BrakeSpec) -> Result<(), RigError> {
        self.within(
            "brake.equivalent_mass_kg",
            brake.equivalent_mass_kg,
            1.0,
            200.0,
            "1 to 200 kg",
        )?;
        for (field, value) in [
            ("brake.rise_w_per_s", brake.rise_w_per_s),
            ("brake.fall_w_per_s", brake.fall_w_per_s),
            ("brake.listen_s", brake.listen_s),
            ("brake.actuator_s", brake.actuator_s),
            ("brake.ceiling_n", brake.ceiling_n),
            ("brake.ceiling_n_per_mps", brake.ceiling_n_per_mps),
            ("brake.full_resistance_n", brake.full_resistance_n),
            ("brake.resistance_most", brake.resistance_most),
            ("brake.simulated_mass_kg", brake.simulated_mass_kg),
            ("brake.warm_up_tau_s", brake.warm_up_tau_s),
        ] {
            self.above_zero(field, value)?;
        }
        for (field, value) in [
            ("brake.dead_time_s", brake.dead_time_s),
            ("brake.loop_per_s", brake.loop_per_s),
            ("brake.power_from_mps", brake.power_from_mps),
            ("brake.floor_n", brake.floor_n),
            ("brake.floor_n_per_mps2", brake.floor_n_per_mps2),
            ("brake.grade_most_pct", brake.grade_most_pct),
            ("brake.grade_share", brake.grade_share),
        ] {
            self.not_negative(field, value)?;
        }
        let (least_w, most_w) = brake.power_range_w;
        if least_w >= most_w {
            let value = format!("({least_w}, {most_w})");
            return Err(self.no("brake.power_range_w", &value, "a pair, the smaller first"));
        }
        Ok(())
    }
}
