//! The pace of test equipment behind a real radio.
//!
//! The acceptance tests put a simulated bench behind a stand-in for the system's Bluetooth service
//! and let its time run fast, so that twenty minutes of riding take two. The session's clock has
//! to keep that pace; the radio's own time limits stay real. `PRONY_EQUIPMENT_PACE` says how many
//! seconds of the session pass in one of the world. It is heeded only beside
//! `DBUS_SYSTEM_BUS_ADDRESS`, which names a bus other than the system's own, and a session that was
//! recorded so says so in its note: a person on a bicycle cannot be sped up.

/// The environment variable with the pace.
pub const PACE_VARIABLE: &str = "PRONY_EQUIPMENT_PACE";
/// The environment variable that names another bus than the system's.
const BUS_VARIABLE: &str = "DBUS_SYSTEM_BUS_ADDRESS";
/// No equipment runs faster; beyond this the radio's delays would be all there is to see.
const FASTEST: f64 = 100.0;

/// How many seconds of the session pass in one second of the world: 1 wherever no test says
/// otherwise.
pub fn pace() -> f64 {
    let bus = std::env::var_os(BUS_VARIABLE).is_some();
    let told = std::env::var(PACE_VARIABLE).ok();
    from(told.as_deref().filter(|_| bus))
}

fn from(told: Option<&str>) -> f64 {
    told.and_then(|words| words.parse().ok())
        .filter(|pace| (1.0..=FASTEST).contains(pace))
        .unwrap_or(1.0)
}

/// What a session says about its pace, if it was not that of the world.
pub fn note(pace: f64) -> Option<String> {
    (pace > 1.0).then(|| {
        format!(
            "Recorded from test equipment that ran {pace} times as fast as the world. No person \
             rode it."
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_pace_that_can_be_is_kept() {
        assert_eq!(from(None), 1.0);
        assert_eq!(from(Some("10")), 10.0);
        for nonsense in ["", "fast", "0", "-3", "1e9", "NaN"] {
            assert_eq!(from(Some(nonsense)), 1.0, "{nonsense}");
        }
        assert_eq!(note(1.0), None);
        assert!(note(10.0).unwrap().contains("10 times"));
    }
}
