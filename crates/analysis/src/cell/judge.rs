//! What a judgement needs besides the data: settings, claim, instruments and the treatment that
//! decides.

use crate::budget::Instruments;
use crate::claim::PowerClaim;
use crate::findings::Treatment;
use crate::settings::Settings;

/// Everything a judgement needs besides the data.
#[derive(Clone, Debug)]
pub struct Judge {
    /// The settings in force.
    pub settings: Settings,
    /// The claim in force.
    pub claim: PowerClaim,
    /// The two instruments.
    pub instruments: Instruments,
}

impl Judge {
    /// For two instruments.
    pub fn new(settings: &Settings, instruments: Instruments) -> Self {
        Self {
            settings: settings.clone(),
            claim: settings.power_claim(),
            instruments,
        }
    }

    /// The treatment that decides: where the claim says that it is meant at the crank, as
    /// indicated; else the first that makes sense for the instruments.
    pub fn treatment(&self) -> Treatment {
        if self.claim.location == crate::claim::ClaimLocation::Crank {
            Treatment::AsIndicated
        } else {
            self.instruments.treatments()[0]
        }
    }

    /// Repeat-to-repeat scatter that is assumed where it was not measured, %.
    pub fn assumed_repeat_pct(&self) -> f64 {
        self.settings.reference.repeat_pct.u()
    }

    /// Share of the indicated reference that the device is compared with.
    pub fn share(&self, treatment: Treatment, indicated_w: f64) -> f64 {
        match treatment {
            Treatment::AsIndicated => 1.0,
            Treatment::HubReferred => self.settings.drivetrain.share_at_hub(indicated_w),
        }
    }
}
