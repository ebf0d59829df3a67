//! The two widths of a resistance level that are in use.

/// How wide a resistance level is on the wire.
///
/// Fitness Machine Service 1.0 and the devices of its time use two octets in Indoor Bike Data and
/// six in the supported range; the present Specification Supplement says one and three. The
/// control point is the other way about: one octet by the letter, two accepted by some devices
/// (common practice, not in a standard).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum ResistanceWidth {
    /// One octet, unsigned.
    OneOctet,
    /// Two octets, signed.
    #[default]
    TwoOctets,
}
