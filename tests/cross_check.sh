#!/usr/bin/env bash
# An independent recomputation: three generated sessions, their findings, and the same quantities from
# the raw bytes by numpy, scipy, pandas and statsmodels. What is compared and how closely stands at
# the head of cross_check/cross_check.py.
#
#   tests/cross_check.sh                      builds and uses the release program
#   PRONY=/path/to/prony tests/cross_check.sh uses that program instead
#
# Arguments are handed on: --all prints every pair, --no-timing leaves the times away.
#
# Needs Python 3.11 or later with venv and pip. Without them nothing is checked: that is an error
# where CI is "true", and said loudly everywhere else.
set -euo pipefail
cd "$(dirname "$0")/.."

without() {
  echo "NOT RUN: cross_check: $1" >&2
  echo "cross_check: install Python 3.11 or later with venv and pip (Debian: python3-venv), then run this again" >&2
  [ "${CI:-}" = true ] && exit 1
  exit 0
}
command -v python3 >/dev/null || without "there is no python3"
python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' || without "$(python3 --version) is too old"
python3 -c 'import venv, ensurepip' 2>/dev/null || without "python3 has no venv or no pip"

# The environment lives beside the build, which git ignores, and is made anew if a pin changes.
wanted=tests/cross_check/requirements.txt
env=${CARGO_TARGET_DIR:-target}/cross-check-python
if ! cmp -s "$wanted" "$env/requirements.txt"; then
  rm -rf "$env"
  mkdir -p "$env"
  python3 -m venv "$env" || without "no virtual environment could be made"
  "$env/bin/python" -m pip install --quiet --disable-pip-version-check --only-binary :all: -r "$wanted" ||
    without "the pinned packages could not be installed from PyPI"
  cp "$wanted" "$env/requirements.txt"
fi

out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
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

# The seed only picks the noise. A session in which a drift of a clock was applied is passed over:
# the document does not say around which moment, so that it cannot be recomputed to a nanosecond.
sessions=()
for ride in "level-sweep honest" "level-sweep workshop" "first-look honest"; do
  read -r script rig <<<"$ride"
  for seed in 1 3 5 7 9; do
    session=$out/$script-$rig-$seed.prony
    "$prony" run --script "$script" --rig "$rig" --fast --seed "$seed" --out "$session" 2>/dev/null
    if PYTHONDONTWRITEBYTECODE=1 "$env/bin/python" tests/cross_check/cross_check.py --prony "$prony" --usable "$session"; then
      sessions+=("$session")
      continue 2
    fi
  done
  echo "cross_check: no session of $ride without an applied drift among five" >&2
  exit 1
done

PYTHONDONTWRITEBYTECODE=1 "$env/bin/python" tests/cross_check/cross_check.py --prony "$prony" "$@" "${sessions[@]}"
