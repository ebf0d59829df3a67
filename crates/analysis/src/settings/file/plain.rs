//! Gate, alignment and drop-outs: structs of plain numbers, which differ from the domain only in
//! being serialisable.

use crate::settings::{AlignSettings, DropOutSettings, GateSettings};
use serde::{Deserialize, Serialize};

/// Structs of plain numbers differ from the domain only in being serialisable.
macro_rules! plain_file {
    ($file:ident, $name:literal, $domain:ident, { $($field:ident : $kind:ty),+ $(,)? }) => {
        #[derive(Serialize, Deserialize)]
        #[serde(rename = $name, deny_unknown_fields, default)]
        pub(super) struct $file { $($field: $kind),+ }

        impl From<&$domain> for $file {
            fn from(value: &$domain) -> Self {
                Self { $($field: value.$field),+ }
            }
        }

        impl From<$file> for $domain {
            fn from(value: $file) -> Self {
                Self { $($field: value.$field),+ }
            }
        }

        impl Default for $file {
            fn default() -> Self {
                Self::from(&$domain::default())
            }
        }
    };
}

plain_file!(GateFile, "Gate", GateSettings, {
    window_s: u32,
    shortest_s: u32,
    settle_s: u32,
    cadence_cv_pct: f64,
    gear_ratio_pct: f64,
    coverage_pct: f64,
    equivalent_mass_kg: f64,
    window_closure_pct: f64,
    cell_closure_pct: f64,
    reference_zero_below_w: f64,
    plateau_change_pct: f64,
    plateau_cv_pct: f64,
    plateau_min_w: f64,
});

plain_file!(AlignFile, "Align", AlignSettings, {
    near_s: f64,
    far_s: f64,
    segment_s: f64,
    min_correlation: f64,
    max_u_s: f64,
});

plain_file!(DropOutFile, "DropOut", DropOutSettings, {
    work_above_w: f64,
    pedalling_above_rpm: f64,
    flag_after_s: u32,
    frozen_after_s: f64,
    frozen_change_w: f64,
    frozen_change_pct: f64,
});
