# Sourced by checks of the release program: sets `prony` to the program, which is built if the caller
# did not name one in PRONY. The caller sets `out` to a folder that it will remove.
if [ -z "${PRONY:-}" ]; then
  cargo build --release --locked --quiet
  prony=${CARGO_TARGET_DIR:-target}/release/prony
  if [ ! -x "$prony" ]; then
    # Cargo was told in another way where to build; let it find the program itself.
    printf '#!/bin/sh\nexec cargo run --release --locked --quiet -- "$@"\n' >"$out/prony"
    chmod +x "$out/prony"
    prony=$out/prony
  fi
else
  prony=$PRONY
fi
