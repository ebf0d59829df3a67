#!/usr/bin/env bash
# Times, side by side on this machine: all findings of an hour with three instruments, computed by the
# program and by the vectorised recomputation with numpy, scipy, pandas and statsmodels; in one
# process each with everything decoded, and as whole processes from the file to the document.
# Decides nothing. Needs what cross_check.sh needs, which it runs first for its environment.
set -euo pipefail
cd "$(dirname "$0")/../.."
target=${CARGO_TARGET_DIR:-target}
python=$target/cross-check-python/bin/python
[ -x "$python" ] || bash tests/cross_check.sh --no-timing >/dev/null
cargo build --release --locked --quiet
prony=$target/release/prony
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
for seed in 1 3 5 7 9; do
  session=$out/hour-$seed.prony
  "$prony" run --script tests/cross_check/hour.ron --rig honest --fast --seed "$seed" --out "$session" >/dev/null 2>&1
  "$python" tests/cross_check/cross_check.py --prony "$prony" --usable "$session" && break
done
check() { PYTHONDONTWRITEBYTECODE=1 "$python" tests/cross_check/cross_check.py --prony "$prony" "$@"; }
check --dump "$out/streams.json" "$session"
rust=$(PRONY_STREAMS=$out/streams.json cargo bench --quiet --locked -p analysis --bench findings)
numpy=$(check --speed "$session")
echo "in one process, median: program $rust ms, recomputation $numpy ms"
"$python" - "$prony" "$session" "$rust" "$numpy" <<'PY'
import statistics, subprocess, sys, time
prony, session, rust, numpy = sys.argv[1:]
print(f"in one process the program is {float(numpy) / float(rust):.1f} times as fast")
def whole(command, runs):
    times = []
    for _ in range(runs):
        begin = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True)
        times.append(1000 * (time.perf_counter() - begin))
    return statistics.median(times)
program = whole([prony, "assess", session, "--json", "-"], 11)
script = [sys.executable, "tests/cross_check/whole.py", session]
recomputed = whole(script, 3)
print(f"whole process, median: program {program:.1f} ms, recomputation {recomputed:.1f} ms, "
      f"{recomputed / program:.1f} times as fast")
PY
