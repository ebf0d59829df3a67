//! The parts of a rig file: rider, drivetrain, brake and instruments, each with sensible defaults,
//! so that a file only says what is special. Plain data; [`crate::RigFile::check`] judges it.

use serde::{Deserialize, Serialize};

/// The person on the bicycle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct RiderSpec {
    /// Cadence when nobody asked for one, rpm.
    pub preferred_rpm: f64,
    /// Standard deviation of the cadence around what was asked for, fresh, rpm.
    pub cadence_sd_rpm: f64,
    /// Correlation time of that variation, s.
    pub cadence_memory_s: f64,
    /// Standard deviation of the torque around what the cadence needs, %.
    pub torque_sd_pct: f64,
    /// Torque the rider can keep up, N·m.
    pub strength_nm: f64,
    /// Torque for a moment at standstill, N·m; falls linearly with cadence.
    pub burst_nm: f64,
    /// Cadence at which no torque is left in a burst, rpm.
    pub burst_end_rpm: f64,
    /// Work after which the cadence varies twice as much as fresh, kJ.
    pub tires_after_kj: f64,
    /// How often per hour the rider stands up unasked, fresh.
    pub stands_per_hour: f64,
    /// Shortest and longest time from a prompt to the deed, s.
    pub reaction_s: (f64, f64),
}

impl Default for RiderSpec {
    fn default() -> Self {
        Self {
            preferred_rpm: 88.0,
            cadence_sd_rpm: 0.8,
            cadence_memory_s: 6.0,
            torque_sd_pct: 2.0,
            strength_nm: 75.0,
            burst_nm: 190.0,
            burst_end_rpm: 230.0,
            tires_after_kj: 2500.0,
            stands_per_hour: 4.0,
            reaction_s: (0.5, 1.5),
        }
    }
}

/// What is lost between crank and hub: a constant and a share.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct DrivetrainSpec {
    /// Constant part, W.
    pub constant_w: f64,
    /// Share of the crank power, %.
    pub fraction_pct: f64,
}

impl Default for DrivetrainSpec {
    fn default() -> Self {
        Self {
            constant_w: 0.6,
            fraction_pct: 1.7,
        }
    }
}

/// The machine that brakes, its control loop and its heat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct BrakeSpec {
    /// Moving mass with the flywheel's kinetic energy at road speed, kg.
    pub equivalent_mass_kg: f64,
    /// From a new load to the first reaction, s.
    pub dead_time_s: f64,
    /// Fastest rise of the power aimed at, W/s.
    pub rise_w_per_s: f64,
    /// Fastest fall of the power aimed at, W/s.
    pub fall_w_per_s: f64,
    /// Road speed below which a target power is let go, m/s; it is taken up again from zero.
    pub power_from_mps: f64,
    /// Averaging of the power the loop listens to, s.
    pub listen_s: f64,
    /// Integral gain of the loop, 1/s.
    pub loop_per_s: f64,
    /// Time constant of the actuator, s.
    pub actuator_s: f64,
    /// Least force, N, at standstill …
    pub floor_n: f64,
    /// … and how it grows with the square of the speed, N/(m/s)².
    pub floor_n_per_mps2: f64,
    /// Greatest force, N.
    pub ceiling_n: f64,
    /// Greatest force per speed at low speed, N/(m/s).
    pub ceiling_n_per_mps: f64,
    /// Force at the highest resistance level and high speed, N.
    pub full_resistance_n: f64,
    /// Highest resistance level.
    pub resistance_most: f64,
    /// Lowest and highest power that may be asked for, W.
    pub power_range_w: (i16, i16),
    /// Mass of rider and bicycle in slope simulation, kg.
    pub simulated_mass_kg: f64,
    /// Steepest slope it can simulate, %.
    pub grade_most_pct: f64,
    /// Share of the commanded grade that is simulated: 1 is honest.
    pub grade_share: f64,
    /// Time constant of the casing's warm-up, s.
    pub warm_up_tau_s: f64,
    /// Rise of the casing at steady 200 W, K.
    pub warm_up_k: f64,
    /// Temperature of the room, °C.
    pub room_c: f64,
}

impl Default for BrakeSpec {
    fn default() -> Self {
        Self {
            equivalent_mass_kg: 32.0,
            dead_time_s: 0.35,
            rise_w_per_s: 120.0,
            fall_w_per_s: 200.0,
            power_from_mps: 1.8,
            listen_s: 0.3,
            // Slow against the flywheel and the legs, which are an integrator with a controller of its
            // own: a faster loop rings with a period of about ten seconds.
            loop_per_s: 0.15,
            actuator_s: 0.25,
            floor_n: 3.0,
            floor_n_per_mps2: 0.035,
            ceiling_n: 260.0,
            ceiling_n_per_mps: 55.0,
            full_resistance_n: 130.0,
            resistance_most: 25.0,
            power_range_w: (0, 2000),
            simulated_mass_kg: 83.0,
            grade_most_pct: 16.0,
            grade_share: 1.0,
            warm_up_tau_s: 600.0,
            warm_up_k: 22.0,
            room_c: 20.0,
        }
    }
}

/// One instrument with a radio.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InstrumentSpec {
    /// Name for people.
    pub name: String,
    /// What it is for.
    pub role: RoleSpec,
    /// Where it measures.
    pub place: PlaceSpec,
    /// What kind it is.
    pub kind: KindSpec,
    /// How its word differs from the truth.
    #[serde(default)]
    pub signal: SignalSpec,
    /// Where it fails altogether.
    #[serde(default)]
    pub upsets: UpsetsSpec,
    /// How its packets travel.
    #[serde(default)]
    pub link: LinkSpec,
    /// Who it says it is.
    pub identity: IdentitySpec,
}

/// What an instrument is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RoleSpec {
    /// The device whose claims are tested.
    UnderTest,
    /// What it is judged against.
    Reference,
    /// A further trusted instrument.
    SecondReference,
    /// Recorded only.
    Witness,
}

/// Where an instrument measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PlaceSpec {
    /// Behind the chain.
    Hub,
    /// Crank, spider or chain ring, both legs.
    Crank,
    /// Pedals, both legs.
    Pedals,
    /// One leg, doubled.
    OneSide,
    /// The rider's body.
    Body,
}

/// The kind of an instrument.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum KindSpec {
    /// A trainer: reports indoor bike data and controls the brake.
    Trainer(TrainerSpec),
    /// A power meter.
    Meter(MeterSpec),
    /// A cadence sensor at the crank, with or without a sensor at the wheel.
    Cadence(CadenceSpec),
    /// A heart-rate strap.
    HeartRate(StrapSpec),
}

/// What is special to a sensor of the speed and cadence service.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct CadenceSpec {
    /// Time between measurements, ms.
    pub report_ms: u32,
    /// Circumference of the wheel it counts as well, mm; none if it counts the crank only.
    pub wheel_mm: Option<f64>,
}

impl Default for CadenceSpec {
    fn default() -> Self {
        Self {
            report_ms: 1000,
            wheel_mm: None,
        }
    }
}

/// What is special to a heart-rate strap, and the heart under it. The heart follows the power at
/// the crank to first order; that is enough to have beats to record, and no physiology.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct StrapSpec {
    /// Time between measurements, ms.
    pub report_ms: u32,
    /// Heart rate at rest, 1/min.
    pub rest_bpm: f64,
    /// Highest heart rate, 1/min.
    pub most_bpm: f64,
    /// Power at which the heart settles halfway between the two, W.
    pub half_at_w: f64,
    /// Time constant of the heart, s.
    pub tau_s: f64,
}

impl Default for StrapSpec {
    fn default() -> Self {
        Self {
            report_ms: 1000,
            rest_bpm: 62.0,
            most_bpm: 182.0,
            half_at_w: 180.0,
            tau_s: 35.0,
        }
    }
}

/// What is special to a trainer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TrainerSpec {
    /// Time between records of indoor bike data, ms.
    pub report_ms: u32,
    /// Time between its cycling power measurements, ms; none if it does not offer the service.
    pub power_service_ms: Option<u32>,
    /// Whether its records come whole or in two notifications.
    pub records: Records,
    /// Share of the flywheel's acceleration power that its power contains: 1 is the power
    /// through the hub, 0 is what the brake alone takes.
    pub inertia_share: f64,
    /// Time between new values of the power it shows, ms; reports in between repeat the last one.
    /// Every report has its own if this is not given.
    pub renew_ms: Option<u32>,
    /// Which instrument the brake's loop listens to.
    pub steered_by: SteeredBy,
    /// Share of the target in the reported power while a target power is held: 0 is honest.
    pub echo_share: f64,
    /// Spin-down speeds, low and high, km/h, if it knows the procedure. A good spin-down takes
    /// away the drift there is at that moment.
    pub spin_down_kmh: Option<(f64, f64)>,
    /// From a write to its indication, ms.
    pub answer_ms: u32,
    /// Targets it does not know, of those that trainers usually have.
    pub lacks: Vec<TargetSpec>,
    /// When another controller takes control away and releases the brake, s from the first
    /// connection.
    pub taken_over: Vec<f64>,
}

/// A kind of target that a trainer may not know.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TargetSpec {
    /// Target power.
    Power,
    /// Resistance level.
    Resistance,
    /// Simulation of a slope.
    Simulation,
}

impl Default for TrainerSpec {
    fn default() -> Self {
        Self {
            report_ms: 250,
            power_service_ms: None,
            records: Records::Whole,
            inertia_share: 1.0,
            renew_ms: None,
            steered_by: SteeredBy::Own,
            echo_share: 0.0,
            spin_down_kmh: Some((15.0, 32.0)),
            answer_ms: 30,
            lacks: Vec::new(),
            taken_over: Vec::new(),
        }
    }
}

/// Which instrument a trainer's brake listens to in power control.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SteeredBy {
    /// Its own.
    Own,
    /// The first power meter of the bench, as where a trainer is matched to a meter: whoever then
    /// judges the held power by that meter judges in a circle.
    FirstMeter,
}

/// How a data record is sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Records {
    /// In one notification.
    Whole,
    /// In two, the first with More Data set.
    Split,
}

/// What is special to a power meter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MeterSpec {
    /// Sensor location, assigned number (5 left crank, 7 left pedal, 15 spider …).
    pub location: u8,
    /// Time between measurements, ms.
    pub report_ms: u32,
    /// Fields besides power and crank revolutions.
    pub fields: MeterFields,
    /// If it measures the left leg only and doubles it.
    pub one_sided: Option<OneSidedSpec>,
    /// Length of the crank arm it is set to, mm.
    pub crank_mm: f64,
    /// Error of its zero as torque at the crank, N·m; an offset compensation removes it.
    pub zero_nm: f64,
    /// How its zero wanders away, N·m per hour; an offset compensation removes what has come.
    pub zero_nm_per_hour: f64,
    /// If it sets its zero by itself while coasting: after how many seconds, and the standard
    /// deviation of the new zero, N·m.
    pub auto_zero: Option<(f64, f64)>,
}

impl Default for MeterSpec {
    fn default() -> Self {
        Self {
            location: 5,
            report_ms: 1000,
            fields: MeterFields::Crank,
            one_sided: None,
            crank_mm: 172.5,
            zero_nm: 0.0,
            zero_nm_per_hour: 0.0,
            auto_zero: None,
        }
    }
}

/// Which optional fields a meter sends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MeterFields {
    /// Crank revolutions.
    Crank,
    /// Crank revolutions and accumulated torque.
    CrankAndTorque,
    /// Crank revolutions and the balance of the legs.
    CrankAndBalance,
}

/// A meter that knows one leg only.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OneSidedSpec {
    /// Share of the left leg at 200 W, %.
    pub left_pct: f64,
    /// How the share changes with power, percentage points per 100 W.
    pub per_100_w: f64,
    /// Standard deviation of the slow wandering of the share, percentage points.
    pub wander_pct: f64,
}

/// How an instrument's word differs from the truth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SignalSpec {
    /// Error of the scale, % of the true power.
    pub gain_pct: f64,
    /// Constant error, W, while turning.
    pub offset_w: f64,
    /// How the scale changes with flywheel speed, % per 10 km/h …
    pub speed_pct_per_10_kmh: f64,
    /// … from this speed, km/h.
    pub pivot_kmh: f64,
    /// How the scale changes with cadence, % per 10 rpm from 90 rpm on; trainers only.
    pub cadence_pct_per_10_rpm: f64,
    /// How much more it reads at a power reached from below than at one reached from above, %.
    pub hysteresis_pct: f64,
    /// How the scale changes from cold to warm at steady 200 W, %; in proportion to power.
    pub drift_pct: f64,
    /// Time constant of that change, s.
    pub drift_tau_s: f64,
    /// Noise from report to report, % of the power.
    pub noise_pct: f64,
    /// Noise from report to report, W.
    pub noise_w: f64,
    /// Noise with a memory, % of the power …
    pub wander_pct: f64,
    /// … and its correlation time, s.
    pub wander_memory_s: f64,
    /// Averaging before reporting.
    pub smoothing: Smoothing,
    /// Delay inside the instrument on top of the averaging, s.
    pub delay_s: f64,
    /// Smallest step of the reported power, W.
    pub step_w: f64,
}

impl Default for SignalSpec {
    fn default() -> Self {
        Self {
            gain_pct: 0.0,
            offset_w: 0.0,
            speed_pct_per_10_kmh: 0.0,
            pivot_kmh: 25.0,
            cadence_pct_per_10_rpm: 0.0,
            hysteresis_pct: 0.0,
            drift_pct: 0.0,
            drift_tau_s: 480.0,
            noise_pct: 0.5,
            noise_w: 0.5,
            wander_pct: 0.0,
            wander_memory_s: 3.0,
            smoothing: Smoothing::Mean(1.0),
            delay_s: 0.0,
            step_w: 1.0,
        }
    }
}

/// How an instrument averages.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Smoothing {
    /// The mean of the last so many seconds.
    Mean(f64),
    /// First order with this time constant, s.
    FirstOrder(f64),
}

impl Smoothing {
    /// How far the averaged value trails the truth, s: half a window, or the time constant.
    pub fn group_delay_s(self) -> f64 {
        match self {
            Self::Mean(window_s) => window_s / 2.0,
            Self::FirstOrder(tau_s) => tau_s,
        }
    }

    /// Length of the window, or the time constant, s.
    pub fn length_s(self) -> f64 {
        match self {
            Self::Mean(length_s) | Self::FirstOrder(length_s) => length_s,
        }
    }
}

/// Where an instrument fails altogether.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct UpsetsSpec {
    /// Failures at planned moments.
    pub planned: Vec<PlannedUpset>,
    /// Failures by chance.
    pub by_chance: Option<ChanceUpset>,
}

/// A failure at a planned moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedUpset {
    /// What fails.
    pub kind: UpsetKind,
    /// After so many seconds of pedalling against load, so that it never falls into a pause.
    pub after_ridden_s: f64,
    /// For how long, s.
    pub seconds: f64,
}

/// Failures by chance, while pedalling.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChanceUpset {
    /// What fails.
    pub kind: UpsetKind,
    /// How often, on average.
    pub per_hour: f64,
    /// Shortest and longest, s.
    pub seconds: (f64, f64),
}

/// How an instrument fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum UpsetKind {
    /// It reports zero while the rider works.
    Zero,
    /// It repeats its last record, counters included.
    Frozen,
    /// It sends nothing.
    Silent,
}

/// How packets travel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LinkSpec {
    /// Shortest time from instrument to receiver, ms.
    pub delay_ms: f64,
    /// Mean of the exponential rest of that time, ms.
    pub jitter_ms: f64,
    /// Share of notifications that are lost, %.
    pub lost_pct: f64,
    /// Share of notifications that arrive twice, %.
    pub twice_pct: f64,
    /// Share of notifications that are held up by half a second to two seconds, %.
    pub late_pct: f64,
    /// Lost links: after so many seconds from the first connection, for so many seconds.
    pub lost_links: Vec<(f64, f64)>,
    /// Lost links by chance, per hour, for 2 to 8 s.
    pub lost_links_per_hour: f64,
    /// Silences with the link up: after so many seconds, for so many seconds.
    pub silences: Vec<(f64, f64)>,
    /// Restarts of the device: after so many seconds from the first connection its link is gone for
    /// so many seconds, and all it counted begins at zero.
    pub restarts: Vec<(f64, f64)>,
    /// How much the instrument's clock is fast, parts per million.
    pub clock_ppm: f64,
    /// Beginning of its reports within the first interval, 0 to 1; by chance if not given.
    pub phase: Option<f64>,
}

impl Default for LinkSpec {
    fn default() -> Self {
        Self {
            delay_ms: 12.0,
            jitter_ms: 8.0,
            lost_pct: 0.0,
            twice_pct: 0.0,
            late_pct: 0.0,
            lost_links: Vec::new(),
            lost_links_per_hour: 0.0,
            silences: Vec::new(),
            restarts: Vec::new(),
            clock_ppm: 0.0,
            phase: None,
        }
    }
}

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
