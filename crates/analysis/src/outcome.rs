//! The common shape of every examination: what was found with its uncertainty, a sentence for
//! people, data for plots – or the reason why it was not tested.

/// The outcome of one examination.
pub type Outcome<R> = Result<Tested<R>, NotTested>;

/// An examination that was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Tested<R> {
    /// The result, with uncertainties in it.
    pub result: R,
    /// The result in one plain sentence.
    pub sentence: String,
    /// Data for the plots of this examination.
    pub plots: Vec<Plot>,
}

/// Why an examination was not made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{examination} not tested: {reason}")]
pub struct NotTested {
    /// Which examination.
    pub examination: &'static str,
    /// Why not, in words that say what to ride or bring to have it tested.
    pub reason: String,
}

/// An estimate with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Standard uncertainty, same unit.
    pub u: f64,
    /// Effective degrees of freedom; infinite is written as `f64::MAX`.
    pub dof: f64,
}

/// One plot as data: what is drawn, not how.
#[derive(Clone, Debug, PartialEq)]
pub struct Plot {
    /// Stable name, `difference-by-level` for example.
    pub name: &'static str,
    /// Title in words.
    pub title: String,
    /// Label of the horizontal axis with its unit.
    pub x: String,
    /// Label of the vertical axis with its unit.
    pub y: String,
    /// What is drawn, back to front.
    pub layers: Vec<Layer>,
    /// Caption: n, window, alignment, treatment and the like.
    pub caption: String,
}

/// One layer of a plot. Coordinates are in the units of the axes.
#[derive(Clone, Debug, PartialEq)]
pub enum Layer {
    /// A line through points in order; several lines where the data have gaps.
    Line {
        /// Whose data.
        ink: Ink,
        /// Label in the legend.
        label: String,
        /// Unbroken runs of points.
        runs: Vec<Vec<[f64; 2]>>,
    },
    /// Single points.
    Points {
        /// Whose data.
        ink: Ink,
        /// Label in the legend.
        label: String,
        /// The points.
        points: Vec<[f64; 2]>,
    },
    /// Points with an interval in y: `[x, low, mid, high]`.
    Intervals {
        /// Whose data.
        ink: Ink,
        /// Label in the legend.
        label: String,
        /// The intervals.
        intervals: Vec<[f64; 4]>,
    },
    /// A horizontal band between two values of y.
    Band {
        /// What the band means.
        ink: Ink,
        /// Label in the legend.
        label: String,
        /// Lower edge.
        low: f64,
        /// Upper edge.
        high: f64,
    },
    /// A horizontal line.
    Level {
        /// What the line means.
        ink: Ink,
        /// Label in the legend.
        label: String,
        /// Height.
        at: f64,
    },
    /// A span of x that is excluded or flagged, with the reason.
    Span {
        /// What the span means.
        ink: Ink,
        /// Reason.
        label: String,
        /// Left edge.
        from: f64,
        /// Right edge.
        to: f64,
    },
}

/// What a mark on a plot stands for; the desk and the report choose the colours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// The device under test.
    UnderTest,
    /// The primary reference.
    Reference,
    /// The second reference.
    SecondReference,
    /// The commanded target.
    Target,
    /// The claimed tolerance.
    Tolerance,
    /// An uncertainty.
    Uncertainty,
    /// An excluded span.
    Excluded,
    /// A fitted curve.
    Fit,
    /// Something beyond its limit.
    Beyond,
}

/// A reason in the common shape.
pub(crate) fn not_tested<R>(examination: &'static str, reason: impl Into<String>) -> Outcome<R> {
    Err(NotTested {
        examination,
        reason: reason.into(),
    })
}
