//! How long a controller waits for what, and how often it tries.

use units::Span;

/// Without an indication for this long, a demand counts as unconfirmed.
pub const UNCONFIRMED_AFTER: Span = Span::from_secs(3);
/// Procedure time-out of the standard (30 s from the write), after which only a new link helps.
pub const PROCEDURE_TIMEOUT: Span = Span::from_secs(30);
/// A release waits no longer than this for the procedure before it.
pub const RELEASE_WAITS: Span = Span::from_millis(250);
/// Wait before a write that was turned away is tried again.
pub const RETRY_AFTER: Span = Span::from_millis(300);
/// Longest wait between two tries of a release.
pub const LONGEST_BACK_OFF: Span = Span::from_secs(2);
/// Wait before control is requested again after it was refused.
pub const ASK_AGAIN_AFTER: Span = Span::from_secs(2);
/// So often a load is tried in vain before it counts as refused. A release is never given up.
pub const MOST_TRIES: u32 = 4;
/// A new target that the trainer reports later than this after a release is not that release.
pub const ECHO_WITHIN: Span = Span::from_secs(1);
/// So often control is requested without any answer before it is taken for granted: some trainers
/// never answer at all (common practice).
pub(super) const SILENT_ASKS: u32 = 2;
