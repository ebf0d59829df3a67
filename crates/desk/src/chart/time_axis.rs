//! The one time axis that linked charts share: which stretch is shown, whether it follows the
//! present, and what is picked out on it.

use super::pick::{Height, Pick};
use units::{Span, Timestamp};

/// Stretches that can be chosen, with their words.
pub const STRETCHES: [(&str, Stretch); 4] = [
    ("2 min", Stretch::Seconds(120.0)),
    ("10 min", Stretch::Seconds(600.0)),
    ("1 h", Stretch::Seconds(3600.0)),
    ("All", Stretch::Whole),
];

/// How long a stretch is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stretch {
    /// So many seconds.
    Seconds(f64),
    /// From the beginning to the end.
    Whole,
}

/// As many steps of the cursor as lie in a view: a second each where two minutes are shown.
const CURSOR_STEPS: f64 = 120.0;

/// Shortest and longest stretch, seconds.
const LIMITS_S: [f64; 2] = [5.0, 48.0 * 3600.0];

/// The state of a shared time axis.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeAxis {
    stretch: Stretch,
    /// Right edge in seconds when the present is not followed.
    held_right_s: Option<f64>,
    /// Cursor, selected stretch and held heights.
    pub pick: Pick,
}

impl TimeAxis {
    /// An axis that follows the present.
    pub const fn following(stretch: Stretch) -> Self {
        Self {
            stretch,
            held_right_s: None,
            pick: Pick::nothing(),
        }
    }

    /// Whether the right edge is the present.
    pub const fn follows(&self) -> bool {
        self.held_right_s.is_none()
    }

    /// Returns to the present.
    pub fn follow(&mut self) {
        self.held_right_s = None;
        self.pick.free_heights();
    }

    /// Shows everything there is, with heights that fit.
    pub fn fit(&mut self) {
        self.choose(Stretch::Whole);
    }

    /// Shows a stretch and nothing around it, seconds.
    pub fn show(&mut self, [from_s, to_s]: [f64; 2]) {
        let length = (to_s - from_s).clamp(LIMITS_S[0], LIMITS_S[1]);
        let middle = 0.5 * (from_s + to_s);
        if middle.is_finite() {
            self.stretch = Stretch::Seconds(length);
            self.held_right_s = Some(middle + 0.5 * length);
        }
    }

    /// Shows the selected stretch alone, as large as it can be shown.
    pub fn show_selected(&mut self) {
        if let Some(stretch) = self.pick.stretch() {
            self.show(stretch);
            self.pick.set_height(Height::Close);
        }
    }

    /// Moves the cursor by a small part of what is shown; it begins in the middle.
    pub fn step_cursor(&mut self, steps: f64, now_s: f64) {
        let [left, right] = self.range(now_s);
        let from = self.pick.cursor().filter(|at| (left..=right).contains(at));
        let from = from.unwrap_or(0.5 * (left + right));
        let to = from + steps * (right - left) / CURSOR_STEPS;
        self.pick.set_cursor(to.clamp(left.max(0.0), right));
    }

    /// The stretch that was chosen.
    pub const fn stretch(&self) -> Stretch {
        self.stretch
    }

    /// Chooses a stretch; the right edge stays.
    pub fn choose(&mut self, stretch: Stretch) {
        self.stretch = stretch;
        if stretch == Stretch::Whole {
            self.follow();
        }
    }

    /// Left and right edge in seconds when the session is `now_s` old.
    pub fn range(&self, now_s: f64) -> [f64; 2] {
        let length = match self.stretch {
            Stretch::Seconds(seconds) => seconds,
            Stretch::Whole => now_s.max(60.0),
        };
        let right = self.held_right_s.unwrap_or_else(|| now_s.max(length));
        [right - length, right]
    }

    /// Left and right edge as moments.
    pub fn moments(&self, now: Timestamp) -> [Timestamp; 2] {
        self.range(now.as_secs_f64()).map(Timestamp::from_secs_f64)
    }

    /// Moves the view by so many seconds and stops following.
    pub fn pan(&mut self, by_s: f64, now_s: f64) {
        if by_s == 0.0 || !by_s.is_finite() {
            return;
        }
        let [left, right] = self.range(now_s);
        let length = right - left;
        self.stretch = Stretch::Seconds(length);
        let wanted = right + by_s;
        self.held_right_s = Some(wanted.clamp(0.25 * length, now_s.max(length) + 0.25 * length));
    }

    /// Makes the stretch `factor` times as long around a moment. While the present is followed,
    /// the right edge stays where it is.
    pub fn zoom(&mut self, factor: f64, around_s: f64, now_s: f64) {
        if factor == 1.0 || !(factor > 0.0 && factor.is_finite()) {
            return;
        }
        let [left, right] = self.range(now_s);
        let length = ((right - left) * factor).clamp(LIMITS_S[0], LIMITS_S[1]);
        let applied = length / (right - left);
        self.stretch = Stretch::Seconds(length);
        if !self.follows() {
            self.held_right_s = Some(around_s + (right - around_s) * applied);
        }
    }

    /// Shows a stretch with some of what lies around it.
    pub fn jump(&mut self, from: Timestamp, to: Timestamp) {
        let span = (to - from).max(Span::ZERO).as_secs_f64();
        let length = (2.0 * span).clamp(60.0, LIMITS_S[1]);
        let middle = from.as_secs_f64() + 0.5 * span;
        self.stretch = Stretch::Seconds(length);
        self.held_right_s = Some((middle + 0.5 * length).max(length));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_session_fills_the_chart_from_the_left() {
        let axis = TimeAxis::following(Stretch::Seconds(120.0));
        assert_eq!(axis.range(30.0), [0.0, 120.0]);
        assert_eq!(axis.range(300.0), [180.0, 300.0]);
    }

    #[test]
    fn panning_stops_following_until_asked_back() {
        let mut axis = TimeAxis::following(Stretch::Seconds(120.0));
        axis.pan(-60.0, 300.0);
        assert!(!axis.follows());
        assert_eq!(axis.range(300.0), [120.0, 240.0]);
        assert_eq!(axis.range(400.0), [120.0, 240.0]);
        axis.follow();
        assert_eq!(axis.range(400.0), [280.0, 400.0]);
    }

    #[test]
    fn zooming_keeps_the_moment_under_the_pointer_or_the_present() {
        let mut axis = TimeAxis::following(Stretch::Seconds(120.0));
        axis.zoom(0.5, 200.0, 300.0);
        assert_eq!(axis.range(300.0), [240.0, 300.0]);
        axis.pan(-60.0, 300.0);
        axis.zoom(2.0, 210.0, 300.0);
        assert_eq!(axis.range(300.0), [150.0, 270.0]);
    }

    #[test]
    fn the_selected_stretch_can_be_shown_alone_and_everything_again() {
        let mut axis = TimeAxis::following(Stretch::Seconds(120.0));
        axis.step_cursor(-1.0, 300.0);
        assert_eq!(axis.pick.cursor(), Some(239.0));
        axis.pick.select([250.0, 230.0]);
        axis.show_selected();
        assert_eq!(axis.range(300.0), [230.0, 250.0]);
        assert_eq!(axis.pick.height("power"), Some(Height::Close));
        axis.fit();
        assert_eq!(axis.range(300.0), [0.0, 300.0]);
        assert!(axis.follows());
        assert_eq!(axis.pick.height("power"), None);
    }

    #[test]
    fn the_view_cannot_be_lost() {
        let mut axis = TimeAxis::following(Stretch::Whole);
        axis.pan(-1e9, 300.0);
        let [left, right] = axis.range(300.0);
        assert!(right > 0.0 && left < 300.0, "{left} {right}");
        axis.zoom(1e-9, 10.0, 300.0);
        let [left, right] = axis.range(300.0);
        assert!(right - left >= 5.0);
    }

    #[test]
    fn a_jump_shows_the_window_and_as_much_again() {
        let mut axis = TimeAxis::following(Stretch::Seconds(120.0));
        axis.jump(Timestamp::from_secs(600), Timestamp::from_secs(700));
        assert_eq!(axis.range(5000.0), [550.0, 750.0]);
        axis.jump(Timestamp::from_secs(1), Timestamp::from_secs(3));
        assert_eq!(axis.range(5000.0), [0.0, 60.0]);
    }
}
