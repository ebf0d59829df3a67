//! Through which window power is seen: as it was reported, or every stream over the same seconds.
//!
//! There is one switch for all streams, so a smoothed one can never stand beside a raw one.

use crate::chart::smooth::Smoothed;
use bench::Model;
use bench::model::InstrumentView;
use bench::trace::Trace;
use units::SourceId;

/// A window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Window {
    /// None: every value as it was reported.
    #[default]
    Raw,
    /// Means over three seconds.
    Three,
    /// Means over ten seconds.
    Ten,
    /// Means over thirty seconds, as they are judged.
    Thirty,
}

impl Window {
    pub(super) const ALL: [Self; 4] = [Self::Raw, Self::Three, Self::Ten, Self::Thirty];

    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::Raw => "Raw",
            Self::Three => "3\u{a0}s",
            Self::Ten => "10\u{a0}s",
            Self::Thirty => "30\u{a0}s",
        }
    }

    pub(super) const fn title(self) -> &'static str {
        match self {
            Self::Raw => "Power, W",
            Self::Three => "Power, W, means over 3\u{a0}s",
            Self::Ten => "Power, W, means over 10\u{a0}s",
            Self::Thirty => "Power, W, means over 30\u{a0}s",
        }
    }

    /// The next one, the first after the last.
    pub(super) fn next(self) -> Self {
        let here = Self::ALL.iter().position(|one| *one == self);
        Self::ALL[here.map_or(0, |here| (here + 1) % Self::ALL.len())]
    }

    const fn seconds(self) -> Option<u32> {
        match self {
            Self::Raw => None,
            Self::Three => Some(3),
            Self::Ten => Some(10),
            Self::Thirty => Some(30),
        }
    }
}

/// Every stream of power through the window in use; empty where power is shown as reported.
#[derive(Debug, Default)]
pub(crate) struct AllSmoothed(Vec<(SourceId, Smoothed)>);

impl AllSmoothed {
    /// Takes what is new in the recording.
    pub(super) fn refresh(&mut self, model: &Model, window: Window) {
        let Some(window_s) = window.seconds() else {
            self.0.clear();
            return;
        };
        if self.0.iter().any(|(_, one)| one.window_s() != window_s) {
            self.0.clear();
        }
        for instrument in &model.instruments {
            let source = instrument.source;
            if !self.0.iter().any(|(of, _)| *of == source) {
                self.0.push((source, Smoothed::over(window_s)));
            }
            let smoothed = self.0.iter_mut().find(|(of, _)| *of == source);
            if let Some((_, smoothed)) = smoothed {
                smoothed.take(&instrument.power, model.now);
            }
        }
    }

    /// The curve of a source, if power is smoothed.
    pub(super) fn of(&self, source: SourceId) -> Option<&Trace> {
        let (_, smoothed) = self.0.iter().find(|(of, _)| *of == source)?;
        Some(smoothed.means())
    }

    /// The power of an instrument now, W, and how old it is, seconds: the latest mean of the
    /// window, or what was reported last.
    pub(super) fn now(&self, instrument: &InstrumentView, model: &Model) -> Option<(f64, f64)> {
        let reported = instrument.power_w?;
        let reported = (reported.value, reported.age.as_secs_f64());
        let Some(means) = self.of(instrument.source) else {
            return Some(reported);
        };
        let last = means.last()?;
        let age = model.now - last.at;
        // A mean stands until the next whole second; an older one belongs to a gap.
        (age <= means.hold()).then_some((last.value, reported.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_windows_go_round() {
        let mut window = Window::Raw;
        for expected in [Window::Three, Window::Ten, Window::Thirty, Window::Raw] {
            window = window.next();
            assert_eq!(window, expected);
        }
    }
}
