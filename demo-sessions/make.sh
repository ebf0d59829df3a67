#!/usr/bin/env bash
# Makes the demo sessions anew. Everything in them comes from the simulated bench.
set -euo pipefail
cd "$(dirname "$0")/.."
make() {
  rm -f "demo-sessions/$1-$2.prony"
  cargo run --release --locked --quiet -- run --script "$1" --rig "$2" --fast --seed "$3" \
    --out "demo-sessions/$1-$2.prony"
}
make first-look honest 11
make level-sweep honest 12
make level-sweep workshop 13
