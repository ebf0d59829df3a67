//! What is picked out on a set of linked charts: a moment under the cursor, a selected stretch,
//! and heights that were chosen by a box.

/// Cursor, selected stretch and held heights. Times are seconds since the session began.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pick {
    /// Where the pointer was in the last frame.
    pointer_s: Option<f64>,
    /// Where the pointer is in this frame, as far as the charts drawn so far know.
    pointer_next_s: Option<f64>,
    /// Where the keys have put the cursor.
    by_key_s: Option<f64>,
    /// Both ends of the selected stretch, in the order they were given.
    ends_s: [Option<f64>; 2],
    /// A drag that is not finished.
    pub(super) drag: Option<Drag>,
    /// Heights of charts, by their name.
    heights: Vec<(String, [f64; 2])>,
    /// Whether every chart is as high as what it shows.
    close: bool,
    copy: Copy,
}

/// A drag with the pointer that marks something out.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Drag {
    /// What will be done when it ends.
    pub(super) kind: DragKind,
    /// Name of the chart that it began on.
    pub(super) chart: String,
    /// Where it began, seconds and the unit of the chart.
    pub(super) from: [f64; 2],
}

/// What a drag marks out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum DragKind {
    /// A stretch of time to be summed up.
    Stretch,
    /// A box to be shown alone.
    Box,
}

/// A height that is not the usual one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Height {
    /// From here to there.
    Held([f64; 2]),
    /// As close as what is shown allows.
    Close,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Copy {
    #[default]
    No,
    Wanted,
    Done,
}

/// Whether the pointer moved since the last frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PointerMoved {
    /// It did.
    Yes,
    /// It did not.
    No,
}

impl Pick {
    /// Nothing is picked out.
    pub const fn nothing() -> Self {
        Self {
            pointer_s: None,
            pointer_next_s: None,
            by_key_s: None,
            ends_s: [None, None],
            drag: None,
            heights: Vec::new(),
            close: false,
            copy: Copy::No,
        }
    }

    /// The moment that is read out: under the pointer, else where the keys have put the cursor.
    pub fn cursor(&self) -> Option<f64> {
        self.pointer_s.or(self.by_key_s)
    }

    /// Puts the cursor somewhere by key.
    pub fn set_cursor(&mut self, at_s: f64) {
        self.by_key_s = Some(at_s);
        self.pointer_s = None;
        self.copy = Copy::No;
    }

    /// A chart has the pointer. One that lies still does not take the cursor back from the keys.
    pub fn set_pointer(&mut self, at_s: f64, moved: PointerMoved) {
        if self.by_key_s.is_none() || moved == PointerMoved::Yes {
            self.pointer_next_s = Some(at_s);
        }
    }

    /// All charts of the frame are drawn. Says whether the pointer moved, so that charts drawn
    /// before the one that has it are drawn once more.
    pub fn end_frame(&mut self) -> PointerMoved {
        let next = self.pointer_next_s.take();
        if next.is_some() {
            self.by_key_s = None;
        }
        if next == self.pointer_s {
            return PointerMoved::No;
        }
        self.pointer_s = next;
        PointerMoved::Yes
    }

    /// The selected stretch, earlier end first, if it has two ends.
    pub fn stretch(&self) -> Option<[f64; 2]> {
        let [Some(a), Some(b)] = self.ends_s else {
            return None;
        };
        (a != b).then(|| [a.min(b), a.max(b)])
    }

    /// An end that waits for the other one.
    pub fn lone_end(&self) -> Option<f64> {
        match self.ends_s {
            [Some(end), None] | [None, Some(end)] => Some(end),
            _ => None,
        }
    }

    /// Selects a stretch.
    pub fn select(&mut self, [from_s, to_s]: [f64; 2]) {
        self.ends_s = [Some(from_s), Some(to_s)];
        self.copy = Copy::No;
    }

    /// Puts one end of the stretch where the cursor is.
    pub fn select_end(&mut self, end: End) {
        if let Some(at) = self.cursor() {
            self.ends_s[end as usize] = Some(at);
            self.copy = Copy::No;
        }
    }

    /// Nothing is selected any more, and the keys have no cursor.
    pub fn clear(&mut self) {
        self.ends_s = [None, None];
        self.by_key_s = None;
        self.copy = Copy::No;
    }

    /// The height of a chart, if it is not the usual one.
    pub fn height(&self, chart: &str) -> Option<Height> {
        let held = self.heights.iter().find(|(name, _)| name == chart);
        held.map(|(_, height)| Height::Held(*height))
            .or(self.close.then_some(Height::Close))
    }

    /// Gives every chart a height.
    pub(super) fn set_height(&mut self, height: Height) {
        self.heights.clear();
        self.close = height == Height::Close;
    }

    /// Holds the height of one chart.
    pub(super) fn hold_height(&mut self, chart: &str, height: [f64; 2]) {
        self.heights.retain(|(name, _)| name != chart);
        self.heights.push((chart.to_owned(), height));
    }

    /// Every chart has its usual height again.
    pub fn free_heights(&mut self) {
        self.heights.clear();
        self.close = false;
    }

    /// The values are to be copied when the charts are drawn.
    pub fn want_copy(&mut self) {
        self.copy = Copy::Wanted;
    }

    /// Whether the values are to be copied now; asked once.
    pub fn take_copy(&mut self) -> bool {
        let wanted = self.copy == Copy::Wanted;
        if wanted {
            self.copy = Copy::Done;
        }
        wanted
    }

    /// Whether what is picked out was copied.
    pub fn is_copied(&self) -> bool {
        self.copy == Copy::Done
    }
}

/// An end of a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The first that was named A.
    A = 0,
    /// The second, B.
    B = 1,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pointer_that_lies_still_leaves_the_cursor_to_the_keys() {
        let mut pick = Pick::nothing();
        pick.set_pointer(10.0, PointerMoved::Yes);
        assert_eq!(pick.end_frame(), PointerMoved::Yes);
        assert_eq!(pick.cursor(), Some(10.0));
        pick.set_cursor(20.0);
        pick.set_pointer(10.0, PointerMoved::No);
        assert_eq!(pick.end_frame(), PointerMoved::No);
        assert_eq!(pick.cursor(), Some(20.0));
        pick.set_pointer(11.0, PointerMoved::Yes);
        pick.end_frame();
        assert_eq!(pick.cursor(), Some(11.0));
        pick.end_frame();
        assert_eq!(pick.cursor(), None);
    }

    #[test]
    fn a_stretch_has_two_different_ends_in_any_order() {
        let mut pick = Pick::nothing();
        pick.set_cursor(30.0);
        pick.select_end(End::A);
        assert_eq!((pick.stretch(), pick.lone_end()), (None, Some(30.0)));
        pick.select_end(End::B);
        assert_eq!(pick.stretch(), None);
        pick.set_cursor(10.0);
        pick.select_end(End::B);
        assert_eq!(pick.stretch(), Some([10.0, 30.0]));
        pick.clear();
        assert_eq!((pick.stretch(), pick.cursor()), (None, None));
    }

    #[test]
    fn values_are_copied_once_and_that_is_said_until_something_else_is_picked() {
        let mut pick = Pick::nothing();
        pick.want_copy();
        assert!(pick.take_copy() && !pick.take_copy() && pick.is_copied());
        pick.select([1.0, 2.0]);
        assert!(!pick.is_copied());
    }
}
