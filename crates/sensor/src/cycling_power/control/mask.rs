//! Which fields of the measurement are switched off, for the present link.

use crate::bits::bit_set;

bit_set! {
    /// Fields of the measurement that are to be switched *off*.
    ContentMask(u16),
    /// One field that may be switched off.
    MaskableContent {
        Balance = 0, "pedal power balance";
        AccumulatedTorque = 1, "accumulated torque";
        WheelRevolutions = 2, "wheel revolution data";
        CrankRevolutions = 3, "crank revolution data";
        ExtremeMagnitudes = 4, "extreme magnitudes";
        ExtremeAngles = 5, "extreme angles";
        TopDeadSpot = 6, "top dead spot angle";
        BottomDeadSpot = 7, "bottom dead spot angle";
        AccumulatedEnergy = 8, "accumulated energy";
    }
}
