#!/usr/bin/env bash
# The whole job without a display, as the README tells it: run a script on the simulated bench,
# verify the file, assess it, and look at what came out.
set -euo pipefail
cd "$(dirname "$0")/.."
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
cargo build --release --locked --quiet
prony() { cargo run --release --locked --quiet -- "$@"; }

prony run --script level-sweep --rig workshop --fast --out "$out/workshop.prony"
prony run --script level-sweep --rig honest --fast --out "$out/honest.prony"
for name in workshop honest; do
  prony verify "$out/$name.prony"
  prony assess "$out/$name.prony" --json - >"$out/$name.json"
done
prony selftest --sessions 8 --json - >"$out/selftest.json"

python3 - "$out" <<'PY'
import json, sys
out = sys.argv[1]
keys = "schema session sources alignment cells overall examinations budget claims exclusions anomalies not_tested".split()
for name in ("workshop", "honest"):
    doc = json.load(open(f"{out}/{name}.json"))
    missing = [key for key in keys if key not in doc]
    assert not missing, f"{name}: {missing} missing"
    assert doc["cells"], f"{name}: no cells"
    beyond = [c for c in doc["cells"] if c["verdict"] == "shown beyond"]
    print(f"{name}: {len(doc['cells'])} cells, {len(beyond)} shown beyond")
    assert bool(beyond) == (name == "workshop"), f"{name}: {beyond}"
selftest = json.load(open(f"{out}/selftest.json"))
assert selftest["passed"], selftest
PY
echo "rehearsal: 2 sessions recorded, verified and assessed"
