//! What an instrument can be, whatever its kind: its name, its role, its upsets and its link.

use super::error::RigError;
use super::judge::Judge;
use crate::spec::{InstrumentSpec, KindSpec, RoleSpec};

impl Judge<'_> {
    pub(super) fn instrument(&self, index: usize, spec: &InstrumentSpec) -> Result<(), RigError> {
        let at = |field: &str| format!("instruments[{index}].{field}");
        if spec.name.trim().is_empty() {
            return Err(self.no(&at("name"), "empty", "a name"));
        }
        self.signal(&at, &spec.signal)?;
        match &spec.kind {
            KindSpec::Trainer(trainer) => self.trainer(&at, trainer)?,
            KindSpec::Meter(meter) => self.meter(&at, meter)?,
            KindSpec::Cadence(sensor) => self.cadence(&at, sensor)?,
            KindSpec::HeartRate(strap) => self.strap(&at, strap)?,
        }
        let measures_power = matches!(spec.kind, KindSpec::Trainer(_) | KindSpec::Meter(_));
        if !measures_power && spec.role != RoleSpec::Witness {
            return Err(self.no(&at("role"), "a judge", "witness: it measures no power"));
        }
        for upset in &spec.upsets.planned {
            self.not_negative(&at("upsets.planned.after_ridden_s"), upset.after_ridden_s)?;
            self.within(
                &at("upsets.planned.seconds"),
                upset.seconds,
                0.02,
                3600.0,
                "0.02 to 3600 s",
            )?;
        }
        if let Some(chance) = spec.upsets.by_chance {
            self.within(
                &at("upsets.by_chance.per_hour"),
                chance.per_hour,
                0.0,
                600.0,
                "0 to 600",
            )?;
            self.ordered(&at("upsets.by_chance.seconds"), chance.seconds)?;
        }
        let link = &spec.link;
        for (field, pct) in [
            ("link.lost_pct", link.lost_pct),
            ("link.twice_pct", link.twice_pct),
            ("link.late_pct", link.late_pct),
        ] {
            self.within(&at(field), pct, 0.0, 100.0, "0 to 100 %")?;
        }
        self.within(
            &at("link.delay_ms"),
            link.delay_ms,
            0.0,
            5000.0,
            "0 to 5000 ms",
        )?;
        self.within(
            &at("link.jitter_ms"),
            link.jitter_ms,
            0.0,
            1000.0,
            "0 to 1000 ms",
        )?;
        self.within(
            &at("link.clock_ppm"),
            link.clock_ppm,
            -10_000.0,
            10_000.0,
            "-10000 to 10000",
        )?;
        self.not_negative(&at("link.lost_links_per_hour"), link.lost_links_per_hour)?;
        if let Some(phase) = link.phase {
            self.within(&at("link.phase"), phase, 0.0, 1.0, "0 to 1")?;
        }
        let spans = link.lost_links.iter().chain(&link.silences);
        for &(after_s, seconds) in spans.chain(&link.restarts) {
            self.not_negative(&at("link: seconds after connection"), after_s)?;
            self.not_negative(&at("link: length in seconds"), seconds)?;
        }
        Ok(())
    }
}
