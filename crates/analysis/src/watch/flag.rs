//! Flags: what is worth a look while riding, its words, and when one goes on instead of a new one.

use super::window::WindowJudgement;
use crate::dropout::{Episode, EpisodeKind};

/// Something that the operator should look at while riding.
#[derive(Clone, Debug, PartialEq)]
pub struct Flag {
    /// What it is.
    pub kind: FlagKind,
    /// First second.
    pub from_s: i64,
    /// One past the last second so far.
    pub to_s: i64,
    /// What was seen, with numbers and units.
    pub words: String,
    /// Measured difference, % of the reference; `None` for a drop-out.
    pub measured_pct: Option<f64>,
    /// The limit that it left, %; `None` for a drop-out.
    pub limit_pct: Option<f64>,
    /// Share of windows of a perfect device with this noise that would raise the flag; `None` for
    /// a drop-out.
    pub expected_false_rate: Option<f64>,
}

/// What a flag is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FlagKind {
    /// A steady window left the tolerance; the uncertainty overlaps the limit.
    LikelyBeyond,
    /// A steady window left the tolerance by more than the uncertainty.
    ShownBeyond,
    /// The device shows zero while the reference shows work.
    ZeroUnderLoad,
    /// The device repeats one value while the reference moves.
    Frozen,
    /// Nothing comes from the device.
    DeviceMissing,
    /// Nothing comes from the reference.
    ReferenceMissing,
}

impl Flag {
    /// What a full window raises, if it left the tolerance. `title` is the cell in words.
    pub(super) fn of_window(judged: &WindowJudgement, title: &str) -> Option<Self> {
        let (kind, limit_pct) = flag_of(judged)?;
        let words = format!(
            "{}: {:+.1} % ± {:.1} % at {title}, claimed ±{:.1} %",
            match kind {
                FlagKind::ShownBeyond => "shown beyond",
                _ => "likely beyond",
            },
            judged.difference_pct,
            judged.expanded_pct,
            judged.tolerance_pct
        );
        Some(Self {
            kind,
            from_s: judged.from_s,
            to_s: judged.to_s,
            words,
            measured_pct: Some(judged.difference_pct),
            limit_pct: Some(limit_pct),
            expected_false_rate: Some(judged.expected_false_rate()),
        })
    }

    /// What a drop-out that is going on raises.
    pub(super) fn of_episode(episode: Episode) -> Self {
        let seconds = episode.to_s - episode.from_s;
        let (kind, what) = match episode.kind {
            EpisodeKind::ZeroUnderLoad => (
                FlagKind::ZeroUnderLoad,
                "device shows zero while the reference shows work",
            ),
            EpisodeKind::Frozen => (
                FlagKind::Frozen,
                "device repeats one value while the reference moves",
            ),
            EpisodeKind::DeviceMissing => {
                (FlagKind::DeviceMissing, "nothing comes from the device")
            }
            EpisodeKind::ReferenceMissing => (
                FlagKind::ReferenceMissing,
                "nothing comes from the reference",
            ),
        };
        Self {
            kind,
            from_s: episode.from_s,
            to_s: episode.to_s,
            words: format!("{what} for {seconds} s"),
            measured_pct: None,
            limit_pct: None,
            expected_false_rate: None,
        }
    }
}

/// Which flag a full window raises, with the limit that it left.
fn flag_of(judged: &WindowJudgement) -> Option<(FlagKind, f64)> {
    let error = judged.difference_pct.abs();
    let far = judged.tolerance_pct + 2.0 * judged.u_pct;
    if error > far {
        Some((FlagKind::ShownBeyond, far))
    } else if error > judged.tolerance_pct {
        Some((FlagKind::LikelyBeyond, judged.tolerance_pct))
    } else {
        None
    }
}

/// Adds a flag, or lengthens the one that it continues. Of two windows in a row the larger
/// difference is named.
pub(super) fn raise(flags: &mut Vec<Flag>, flag: Flag, raised: &mut Vec<Flag>) {
    let continued = flags.iter_mut().rev().take(6).find(|known| {
        known.kind == flag.kind
            && (known.to_s == flag.from_s
                || (flag.measured_pct.is_none() && known.from_s == flag.from_s))
    });
    let Some(known) = continued else {
        raised.push(flag.clone());
        flags.push(flag);
        return;
    };
    let larger = match (known.measured_pct, flag.measured_pct) {
        (Some(known), Some(new)) => new.abs() > known.abs(),
        _ => true,
    };
    if larger {
        *known = Flag {
            from_s: known.from_s,
            ..flag
        };
    } else {
        known.to_s = flag.to_s;
    }
}
