//! Who an instrument says it is.

use serde::{Deserialize, Serialize};

/// What the device information and battery services say.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IdentitySpec {
    /// Maker.
    pub maker: String,
    /// Model.
    pub model: String,
    /// Serial number.
    pub serial: String,
    /// Firmware revision.
    pub firmware: String,
    /// Hardware revision.
    #[serde(default)]
    pub hardware: Option<String>,
    /// Battery level, %; none for a device on the mains.
    #[serde(default)]
    pub battery_pct: Option<u8>,
}
