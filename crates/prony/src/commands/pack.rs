//! `prony pack`: a session and everything that was concluded from it, in one archive.

use super::Failure;
use crate::cli::{PackArguments, say, tell};
use crate::packing::{self, Given};

/// Packs a session and says by what the pack is known.
pub fn pack(arguments: &PackArguments) -> Result<(), Failure> {
    let given = Given::read(
        arguments.claims.as_deref(),
        arguments.measurements.as_deref(),
        arguments.imprint.as_deref(),
        &arguments.add,
    )
    .map_err(Failure::unusable)?;
    let packed = packing::pack(&arguments.session, &given, &arguments.out)?;
    say(format_args!(
        "{}: {} members, {} bytes; SHA-256 {}{}",
        arguments.out.display(),
        packed.members,
        packed.bytes,
        packed.sha256,
        packed
            .last_seal
            .map(|digest| format!("; seal {digest}"))
            .unwrap_or_default(),
    ));
    tell(
        "publish one of the two digests: against somebody who makes the pack anew only that helps",
    );
    Ok(())
}
