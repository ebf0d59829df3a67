//! What only the rig knows: the true quantities and every fault that was injected, for tests of
//! the tests. Nothing that judges a session may look in here.

use crate::spec::UpsetKind;
use std::collections::BTreeMap;
use units::{Series, SourceId, Span, Timestamp};

/// How finely the truth is written down.
pub const TRUTH_INTERVAL: Span = Span::from_millis(200);

/// The hidden truth of a rig, as means over [`TRUTH_INTERVAL`], each stamped with the beginning
/// of its interval.
#[derive(Clone, Debug, Default)]
pub struct Truth {
    /// Power of the rider into the crank, W.
    pub crank_power_w: Series,
    /// Power through the hub, W.
    pub hub_power_w: Series,
    /// Power the brake takes out of the flywheel, W.
    pub brake_power_w: Series,
    /// Cadence, rpm.
    pub cadence_rpm: Series,
    /// Road speed of the flywheel, km/h.
    pub speed_kmh: Series,
    /// Temperature of the brake's casing, °C.
    pub brake_temperature_c: Series,
    /// What each instrument would indicate without noise, averaging, delay and drop-outs, W.
    pub ideal_power_w: BTreeMap<SourceId, Series>,
    /// Work so far.
    pub work: Work,
    pub(crate) faults: Vec<Fault>,
}

/// Work since the beginning, J.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Work {
    /// Of the rider into the crank.
    pub crank_j: f64,
    /// Lost between crank and hub.
    pub loss_j: f64,
    /// Taken by the brake.
    pub brake_j: f64,
    /// In the flywheel now, less what was in it at the beginning.
    pub kinetic_j: f64,
}

/// One injected fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// Another controller took control of the trainer and released the brake.
    ControlTaken {
        /// The instrument.
        source: SourceId,
        /// When.
        at: Timestamp,
    },
    /// The device was switched off and on; what it counts began at zero.
    Restart {
        /// The instrument.
        source: SourceId,
        /// When.
        at: Timestamp,
    },
    /// The scale is off, % of the true power.
    Gain {
        /// The instrument.
        source: SourceId,
        /// Indicated over true less one, %.
        pct: f64,
    },
    /// A constant error, W.
    Offset {
        /// The instrument.
        source: SourceId,
        /// The error, W.
        offset_w: f64,
    },
    /// The scale depends on flywheel speed.
    SpeedDependence {
        /// The instrument.
        source: SourceId,
        /// Change of scale, % per 10 km/h.
        pct_per_10_kmh: f64,
        /// Speed at which the scale is right, km/h.
        pivot_kmh: f64,
    },
    /// The scale changes as the device warms up; in proportion to power.
    WarmUpDrift {
        /// The instrument.
        source: SourceId,
        /// Change from cold to warm at steady 200 W, %.
        pct: f64,
        /// Time constant, s.
        tau_s: f64,
    },
    /// The word trails the truth.
    Lag {
        /// The instrument.
        source: SourceId,
        /// Group delay of averaging, inner delay and mean transport together, s. Holding a value
        /// until the next report trails half a report interval more.
        group_delay_s: f64,
        /// Length of the averaging, s: window of a mean, time constant of a first order.
        smoothing_s: f64,
        /// Time between reports, s.
        interval_s: f64,
    },
    /// The reported power contains the target.
    Echo {
        /// The instrument.
        source: SourceId,
        /// Share of the target, 0 to 1.
        share: f64,
    },
    /// The power does not contain all of the flywheel's acceleration.
    MissingInertia {
        /// The instrument.
        source: SourceId,
        /// Moving mass whose acceleration is not in the report, kg.
        mass_kg: f64,
    },
    /// Less or more grade is simulated than asked for.
    GradeShare {
        /// The instrument.
        source: SourceId,
        /// Simulated over commanded grade.
        share: f64,
    },
    /// One leg is taken for two.
    OneSided {
        /// The instrument.
        source: SourceId,
        /// Share of the leg that is measured at 200 W, %.
        left_pct: f64,
    },
    /// The zero is off, N·m at the crank.
    Zero {
        /// The instrument.
        source: SourceId,
        /// When it became so.
        at: Timestamp,
        /// The error, N·m.
        torque_nm: f64,
    },
    /// Notifications are lost by chance.
    LostPackets {
        /// The instrument.
        source: SourceId,
        /// Share lost, %.
        pct: f64,
    },
    /// A failure that happened.
    DropOut {
        /// The instrument.
        source: SourceId,
        /// How it failed.
        kind: UpsetKind,
        /// Beginning.
        from: Timestamp,
        /// End.
        to: Timestamp,
    },
    /// A link that was lost.
    LostLink {
        /// The instrument.
        source: SourceId,
        /// When.
        at: Timestamp,
    },
    /// A spin-down took drift away.
    DriftZeroed {
        /// The instrument.
        source: SourceId,
        /// When.
        at: Timestamp,
        /// The drift that was taken away, %.
        pct: f64,
    },
}

impl Fault {
    /// The instrument that has the fault.
    pub fn source(&self) -> SourceId {
        match *self {
            Self::ControlTaken { source, .. }
            | Self::Restart { source, .. }
            | Self::Gain { source, .. }
            | Self::Offset { source, .. }
            | Self::SpeedDependence { source, .. }
            | Self::WarmUpDrift { source, .. }
            | Self::Lag { source, .. }
            | Self::Echo { source, .. }
            | Self::MissingInertia { source, .. }
            | Self::GradeShare { source, .. }
            | Self::OneSided { source, .. }
            | Self::Zero { source, .. }
            | Self::LostPackets { source, .. }
            | Self::DropOut { source, .. }
            | Self::LostLink { source, .. }
            | Self::DriftZeroed { source, .. } => source,
        }
    }
}

impl Truth {
    /// Everything injected so far: what the instruments are made with first, then what happened,
    /// in order of time.
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// What `source` would have indicated too much over `from..to` with no noise, % of the true
    /// power at the crank: the bias a perfect comparison as indicated finds.
    pub fn bias_to_crank_pct(
        &self,
        source: SourceId,
        from: Timestamp,
        to: Timestamp,
    ) -> Option<f64> {
        self.bias_pct(source, &self.crank_power_w, from, to)
    }

    /// The same against the true power through the hub: the bias a perfect comparison referred to
    /// the hub finds.
    pub fn bias_to_hub_pct(&self, source: SourceId, from: Timestamp, to: Timestamp) -> Option<f64> {
        self.bias_pct(source, &self.hub_power_w, from, to)
    }

    fn bias_pct(
        &self,
        source: SourceId,
        true_w: &Series,
        from: Timestamp,
        to: Timestamp,
    ) -> Option<f64> {
        let ideal_w = self.ideal_power_w.get(&source)?.mean_over(from, to)?.value;
        let true_w = true_w.mean_over(from, to)?.value;
        (true_w > 0.0).then(|| 100.0 * (ideal_w / true_w - 1.0))
    }
}

/// Sums up steps into the truth's intervals.
#[derive(Clone, Debug, Default)]
pub(crate) struct Ledger {
    steps: u32,
    begins: Timestamp,
    sums: [f64; 5],
    ideal_w: Vec<f64>,
}

impl Ledger {
    pub(crate) fn new(instruments: usize) -> Self {
        Self {
            ideal_w: vec![0.0; instruments],
            ..Self::default()
        }
    }

    /// Adds one step that began at `begins`: crank, hub and brake power, cadence and speed, and
    /// what the instruments would ideally indicate.
    pub(crate) fn add(
        &mut self,
        begins: Timestamp,
        values: [f64; 5],
        ideal_w: impl Iterator<Item = f64>,
    ) {
        if self.steps == 0 {
            self.begins = begins;
        }
        self.steps += 1;
        for (sum, value) in self.sums.iter_mut().zip(values) {
            *sum += value;
        }
        for (sum, value) in self.ideal_w.iter_mut().zip(ideal_w) {
            *sum += value;
        }
    }

    /// Closes the interval once it is full at `now`.
    pub(crate) fn close(
        &mut self,
        now: Timestamp,
        temperature_c: f64,
        sources: &[SourceId],
        truth: &mut Truth,
    ) {
        if self.steps == 0 || now - self.begins < TRUTH_INTERVAL {
            return;
        }
        let count = f64::from(self.steps);
        let series = [
            &mut truth.crank_power_w,
            &mut truth.hub_power_w,
            &mut truth.brake_power_w,
            &mut truth.cadence_rpm,
            &mut truth.speed_kmh,
        ];
        // Intervals follow one another and physics is finite, so no push is refused.
        for (series, sum) in series.into_iter().zip(&mut self.sums) {
            let pushed = series.push(self.begins, *sum / count);
            debug_assert_eq!(pushed, Ok(()));
            *sum = 0.0;
        }
        let pushed = truth.brake_temperature_c.push(self.begins, temperature_c);
        debug_assert_eq!(pushed, Ok(()));
        for (&source, sum) in sources.iter().zip(&mut self.ideal_w) {
            let pushed = truth
                .ideal_power_w
                .entry(source)
                .or_default()
                .push(self.begins, *sum / count);
            debug_assert_eq!(pushed, Ok(()));
            *sum = 0.0;
        }
        self.steps = 0;
    }
}
