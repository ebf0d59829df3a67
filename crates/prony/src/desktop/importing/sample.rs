//! A ride as a recorder might write it, for tests.

/// Twenty minutes of steps with scatter of their own, by a seed, in columns of these names; `from`
/// is the first second that was recorded.
pub fn recording(header: &str, seed: u64, from: usize) -> String {
    let mut state = seed;
    let mut scatter = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 33) as f64 / f64::from(1_u32 << 31) * 40.0
    };
    let steps = [0.0, 2.0, 1.0, 3.0, 0.5, 1.5, 4.0, 2.5];
    let watts = (0..1200).map(|second| 150.0 + 50.0 * steps[second / 150] + scatter());
    let rows = watts
        .enumerate()
        .skip(from)
        .map(|(second, watts)| format!("{};{watts:.0};7\n", second + 5));
    format!("{header}\n{}", rows.collect::<String>())
}
