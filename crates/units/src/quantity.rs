//! Physical quantities as types, with only the products that mean something.
//!
//! Factors: the radian is the SI coherent unit of plane angle, 1 r/min = 2π/60 rad/s, and the
//! standard acceleration of free fall is 9.80665 m/s² (3rd CGPM, 1901, BIPM resolution text:
//! 980.665 cm/s²).

use crate::time::Span;
use std::f64::consts::TAU;
use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// Standard acceleration of free fall, m/s² (3rd CGPM, 1901).
pub const STANDARD_GRAVITY_M_PER_S2: f64 = 9.80665;

const METRES_PER_SECOND_IN_KILOMETRES_PER_HOUR: f64 = 3.6;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $symbol:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl $name {
            /// None of it.
            pub const ZERO: Self = Self(0.0);

            /// The bare number, in the unit of the type's name.
            pub const fn get(self) -> f64 {
                self.0
            }

            /// The size without the sign.
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }

            /// The smaller of two.
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The larger of two.
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        /// How many times `other` fits into `self`.
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }

        /// The number with the precision asked for, a no-break space, and the unit.
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, f)?;
                write!(f, "\u{a0}{}", $symbol)
            }
        }
    };
}

quantity!(
    /// Mechanical power in watts.
    Watts, "W"
);
quantity!(
    /// Rotational frequency in revolutions per minute, the unit riders and the radio fields speak.
    RevPerMin, "rpm"
);
quantity!(
    /// Angular velocity in radians per second.
    RadPerSecond, "rad/s"
);
quantity!(
    /// Speed in metres per second.
    MetresPerSecond, "m/s"
);
quantity!(
    /// Torque in newton metres.
    NewtonMetres, "N·m"
);
quantity!(
    /// Force in newtons.
    Newtons, "N"
);
quantity!(
    /// Energy in joules.
    Joules, "J"
);
quantity!(
    /// Mass in kilograms.
    Kilograms, "kg"
);
quantity!(
    /// Temperature in degrees Celsius.
    Celsius, "°C"
);

impl RevPerMin {
    /// The same rotation in radians per second. The only place where 2π/60 is written.
    pub fn to_rad_per_second(self) -> RadPerSecond {
        RadPerSecond(self.0 * TAU / 60.0)
    }
}

impl RadPerSecond {
    /// The same rotation in revolutions per minute.
    pub fn to_rev_per_min(self) -> RevPerMin {
        RevPerMin(self.0 * 60.0 / TAU)
    }
}

impl MetresPerSecond {
    /// From kilometres per hour.
    pub fn from_kilometres_per_hour(kilometres_per_hour: f64) -> Self {
        Self(kilometres_per_hour / METRES_PER_SECOND_IN_KILOMETRES_PER_HOUR)
    }

    /// In kilometres per hour.
    pub fn to_kilometres_per_hour(self) -> f64 {
        self.0 * METRES_PER_SECOND_IN_KILOMETRES_PER_HOUR
    }
}

/// Rotational power: torque times angular velocity.
impl Mul<RadPerSecond> for NewtonMetres {
    type Output = Watts;
    fn mul(self, speed: RadPerSecond) -> Watts {
        Watts(self.0 * speed.0)
    }
}

/// Tractive power: force times speed.
impl Mul<MetresPerSecond> for Newtons {
    type Output = Watts;
    fn mul(self, speed: MetresPerSecond) -> Watts {
        Watts(self.0 * speed.0)
    }
}

/// Energy: power over a length of time.
impl Mul<Span> for Watts {
    type Output = Joules;
    fn mul(self, span: Span) -> Joules {
        Joules(self.0 * span.as_secs_f64())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64) {
        assert!((a - b).abs() <= 1e-9 * b.abs().max(1.0), "{a} is not {b}");
    }

    /// Torque times speed against figures computed outside the project: a public engineering
    /// reference gives 157.079 W for 30 N·m at 50 r/min, and 2000 W at 3600 r/min for 5.3 N·m
    /// (exactly 5.30516477 N·m).
    #[test]
    fn rotational_power_matches_published_examples() {
        let power =
            |torque_nm, rpm| (NewtonMetres(torque_nm) * RevPerMin(rpm).to_rad_per_second()).get();
        close(power(30.0, 50.0), 157.079_632_679_489_66);
        assert!((power(5.305_164_77, 3600.0) - 2000.0).abs() < 1e-5);
        close(power(26.525_823_848_649_224, 90.0), 250.0);
    }

    #[test]
    fn speeds_turn_back_into_themselves() {
        close(
            RevPerMin(93.0).to_rad_per_second().to_rev_per_min().get(),
            93.0,
        );
        close(MetresPerSecond::from_kilometres_per_hour(36.0).get(), 10.0);
        close((Watts(250.0) * Span::from_secs(4)).get(), 1000.0);
    }

    #[test]
    fn display_keeps_the_unit_with_the_number() {
        assert_eq!(format!("{:.1}", Watts(249.96)), "250.0\u{a0}W");
    }
}
