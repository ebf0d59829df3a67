//! What the instruments are made with, as typed faults.

use crate::file::RigPlan;
use crate::spec::KindSpec;
use crate::truth::Fault;
use units::{SourceId, Timestamp};

/// What the instruments are made with, as typed faults.
pub(super) fn made_with(plan: &RigPlan, ids: &[SourceId]) -> Vec<Fault> {
    let file = plan.file();
    let mut faults = Vec::new();
    for (&source, spec) in ids.iter().zip(&file.instruments) {
        let signal = &spec.signal;
        let mut when = |there: bool, fault: Fault| {
            if there {
                faults.push(fault);
            }
        };
        when(
            signal.gain_pct != 0.0,
            Fault::Gain {
                source,
                pct: signal.gain_pct,
            },
        );
        when(
            signal.offset_w != 0.0,
            Fault::Offset {
                source,
                offset_w: signal.offset_w,
            },
        );
        when(
            signal.speed_pct_per_10_kmh != 0.0,
            Fault::SpeedDependence {
                source,
                pct_per_10_kmh: signal.speed_pct_per_10_kmh,
                pivot_kmh: signal.pivot_kmh,
            },
        );
        when(
            signal.drift_pct != 0.0,
            Fault::WarmUpDrift {
                source,
                pct: signal.drift_pct,
                tau_s: signal.drift_tau_s,
            },
        );
        let report_ms = match &spec.kind {
            KindSpec::Trainer(trainer) => trainer.report_ms,
            KindSpec::Meter(meter) => meter.report_ms,
            // They measure no power: nothing of what follows can be wrong with them.
            KindSpec::Cadence(_) | KindSpec::HeartRate(_) => continue,
        };
        let transport_s = (spec.link.delay_ms + spec.link.jitter_ms) / 1000.0;
        when(
            true,
            Fault::Lag {
                source,
                group_delay_s: signal.smoothing.group_delay_s() + signal.delay_s + transport_s,
                smoothing_s: signal.smoothing.length_s(),
                interval_s: f64::from(report_ms) / 1000.0,
            },
        );
        when(
            spec.link.lost_pct > 0.0,
            Fault::LostPackets {
                source,
                pct: spec.link.lost_pct,
            },
        );
        match &spec.kind {
            KindSpec::Trainer(trainer) => {
                let share = trainer.echo_share;
                when(share > 0.0, Fault::Echo { source, share });
                let mass_kg = (1.0 - trainer.inertia_share) * file.brake.equivalent_mass_kg;
                when(
                    mass_kg.abs() > 1e-9,
                    Fault::MissingInertia { source, mass_kg },
                );
                let share = file.brake.grade_share;
                when(
                    (share - 1.0).abs() > 1e-9,
                    Fault::GradeShare { source, share },
                );
            }
            KindSpec::Meter(meter) => {
                let torque_nm = meter.zero_nm;
                when(
                    torque_nm != 0.0,
                    Fault::Zero {
                        source,
                        at: Timestamp::ZERO,
                        torque_nm,
                    },
                );
                if let Some(one_sided) = meter.one_sided {
                    when(
                        true,
                        Fault::OneSided {
                            source,
                            left_pct: one_sided.left_pct,
                        },
                    );
                }
            }
            KindSpec::Cadence(_) | KindSpec::HeartRate(_) => {}
        }
    }
    faults
}
