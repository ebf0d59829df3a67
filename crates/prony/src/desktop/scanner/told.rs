//! What a procedure before a session says: for the screen, and for the logbook.

use analysis::before::{BeforeSession, SPIN_DOWN, ZERO_OFFSET};
use sensor::control::{PowerMeterEvent, SpinDownEvent};

/// A procedure was broken off by us; the instrument may have gone on with it.
pub fn not_known(procedure: &str) -> BeforeSession {
    BeforeSession {
        procedure: procedure.to_owned(),
        succeeded: false,
        seconds_before: 0.0,
        value: None,
        unit: None,
        words: "begun; how it ended is not known".to_owned(),
    }
}

/// News of a procedure.
pub enum Told {
    Zero(PowerMeterEvent),
    SpinDown(SpinDownEvent),
    /// A spin-down that never began.
    NoControl,
}

impl Told {
    /// For the screen.
    pub fn words(&self) -> String {
        match self {
            Self::Zero(event) => zero(event),
            Self::SpinDown(event) => spin_down(event),
            Self::NoControl => {
                "The spin-down was not begun: the machine did not give control.".to_owned()
            }
        }
    }

    /// For the logbook, where the procedure is over; `seconds_before` is left at nothing.
    pub fn done(&self) -> Option<BeforeSession> {
        let failed = |reason: &str| (false, None, None, format!("failed: {reason}"));
        let (procedure, (succeeded, value, unit, words)) = match self {
            Self::Zero(PowerMeterEvent::ZeroOffset { value, unit }) => {
                let symbol = unit.symbol();
                let words = match value {
                    Some(value) => format!("found, {value:.2}\u{a0}{symbol}"),
                    None => "found, but its value is not told".to_owned(),
                };
                let unit = value.map(|_| symbol.to_owned());
                (ZERO_OFFSET, (true, *value, unit, words))
            }
            Self::Zero(PowerMeterEvent::Failed { reason }) => (ZERO_OFFSET, failed(reason)),
            Self::SpinDown(SpinDownEvent::Succeeded) => {
                (SPIN_DOWN, (true, None, None, "succeeded".to_owned()))
            }
            Self::SpinDown(SpinDownEvent::Failed { reason }) => (SPIN_DOWN, failed(reason)),
            Self::Zero(PowerMeterEvent::CrankLength { .. })
            | Self::SpinDown(SpinDownEvent::Speeds { .. } | SpinDownEvent::StopPedalling)
            | Self::NoControl => return None,
        };
        Some(BeforeSession {
            procedure: procedure.to_owned(),
            succeeded,
            seconds_before: 0.0,
            value,
            unit,
            words,
        })
    }
}

fn zero(event: &PowerMeterEvent) -> String {
    match event {
        PowerMeterEvent::ZeroOffset {
            value: Some(value),
            unit,
        } => {
            let unit = unit.symbol();
            format!("Zero set; it told an offset of {value:.2} {unit}. {KEPT}")
        }
        PowerMeterEvent::ZeroOffset { value: None, .. } => {
            format!("Zero set; it does not tell the offset. {KEPT}")
        }
        PowerMeterEvent::CrankLength { .. } => "Crank length read.".to_owned(),
        PowerMeterEvent::Failed { reason } => format!("The zero was not set: {reason}."),
    }
}

fn spin_down(event: &SpinDownEvent) -> String {
    match event {
        SpinDownEvent::Speeds {
            high_kmh: Some(high),
            ..
        } => format!("Spin-down: ride above {high:.1} km/h, then stop pedalling."),
        SpinDownEvent::Speeds { .. } => {
            "Spin-down: ride up to speed, then stop pedalling.".to_owned()
        }
        SpinDownEvent::StopPedalling => "Spin-down: stop pedalling, touch nothing.".to_owned(),
        SpinDownEvent::Succeeded => format!("The spin-down succeeded. {KEPT}"),
        SpinDownEvent::Failed { reason } => format!("The spin-down failed: {reason}."),
    }
}

/// As long as the logbook keeps it.
const KEPT: &str = "Sessions within twelve hours keep that, until the program is ended.";

#[cfg(test)]
mod tests {
    use super::*;
    use sensor::cycling_power::control::OffsetUnit;

    #[test]
    fn only_what_is_over_is_for_the_logbook() {
        let found = Told::Zero(PowerMeterEvent::ZeroOffset {
            value: Some(1.25),
            unit: OffsetUnit::NewtonMetres,
        });
        let done = found.done().expect("it is over");
        assert!(done.succeeded);
        assert_eq!(done.torque_nm(), Some(1.25));
        assert_eq!(done.words, "found, 1.25\u{a0}N·m");

        let force = Told::Zero(PowerMeterEvent::ZeroOffset {
            value: Some(7.0),
            unit: OffsetUnit::Newtons,
        });
        assert_eq!(force.done().expect("it is over").torque_nm(), None);

        let failed = Told::SpinDown(SpinDownEvent::Failed {
            reason: "too slow".to_owned(),
        });
        let done = failed.done().expect("it is over");
        assert!(!done.succeeded);
        assert_eq!(done.words, "failed: too slow");

        assert_eq!(Told::SpinDown(SpinDownEvent::StopPedalling).done(), None);
        assert_eq!(Told::NoControl.done(), None);
    }
}
