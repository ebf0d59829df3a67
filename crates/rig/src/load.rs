//! What a brake can be told, and what a rider can be told.

/// A load of the brake.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Load {
    /// None but bearings and air.
    Released,
    /// A resistance level in the units of the level characteristics (0.1 steps on the air).
    Level(f64),
    /// A power to hold, W.
    Power(f64),
    /// A slope to simulate.
    Slope(Slope),
}

/// A simulated road.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slope {
    /// Wind from ahead, m/s.
    pub head_wind_mps: f64,
    /// Rise over run, %; uphill positive.
    pub grade_pct: f64,
    /// Coefficient of rolling resistance, unitless.
    pub rolling: f64,
    /// Coefficient of air resistance, kg/m.
    pub air_kg_per_m: f64,
}

/// What a prompt tells the rider. Carried out after a human reaction time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Instruction {
    /// Hold this cadence, whatever torque it takes, rpm.
    Cadence {
        /// Revolutions of the crank per minute.
        rpm: f64,
    },
    /// Change into a gear of this development.
    Gear {
        /// Metres of road per crank revolution.
        development_m: f64,
    },
    /// Ride at this effort; the cadence is what the load makes it.
    Effort {
        /// Power at the crank, W.
        power_w: f64,
    },
    /// Ride as hard as this for so long, then go on as before.
    Burst {
        /// Power at the crank the rider tries for, W.
        power_w: f64,
        /// How long, s.
        seconds: f64,
    },
    /// Stand up for so long.
    Stand {
        /// How long, s.
        seconds: f64,
    },
    /// Sit down.
    Sit,
    /// Bring the flywheel to this speed and keep it there.
    Accelerate {
        /// Road speed of the flywheel, km/h.
        speed_kmh: f64,
    },
    /// Rest the legs; the flywheel coasts.
    StopPedalling,
    /// Pedal again, as before the rest.
    Resume,
}
