//! What the owner of a device allows, and the most that an audit ever asks of it.

/// The greatest target power that an audit ever asks for, W. Our own choice: less than walking
/// pace on level ground asks of a rider.
pub const MOST_LOAD_W: i16 = 60;

/// What the owner of the device allows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Consent {
    /// Nothing is written.
    #[default]
    ReadOnly,
    /// Questions may be put to the control points of power meters and speed sensors. They change
    /// nothing.
    MayAsk,
    /// The control point of the fitness machine may be used as well: control is taken, and the
    /// load changes, between released and [`MOST_LOAD_W`].
    MayChangeLoad,
}
