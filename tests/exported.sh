#!/usr/bin/env bash
# Exports the demo sessions and one that is ridden here, as CSV and as a Parquet dataset, packs two of
# them, and lets Python look at all of it without the program: sqlite3 and the decoder of the
# cross-check at the sessions, pyarrow, DuckDB and DataFusion at the dataset, zipfile and hashlib at
# the packs. What is compared stands at the head of exported/exported.py.
#
#   tests/exported.sh                      builds and uses the release program
#   PRONY=/path/to/prony tests/exported.sh uses that program instead
set -euo pipefail
cd "$(dirname "$0")/.."

check=exported
source tests/python.sh
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
source tests/program.sh
[[ $prony == /* ]] || prony=$PWD/$prony
[[ $python == /* ]] || python=$PWD/$python

cp demo-sessions/*.prony "$out"
"$prony" run --script first-look --rig workshop --fast --seed 4 \
  --claims demo-sessions/ferrule-claims.ron --out "$out/ridden.prony" 2>/dev/null

"$prony" export "$out"/*.prony --csv "$out/csv" --parquet "$out/dataset" >/dev/null
# Again, one alone: the same files, and nothing else touched.
(cd "$out/dataset" && find . -type f | sort | xargs sha256sum) >"$out/before.txt"
"$prony" export "$out/ridden.prony" --parquet "$out/dataset" >/dev/null
(cd "$out/dataset" && find . -type f | sort | xargs sha256sum) | cmp - "$out/before.txt"

"$prony" pack "$out/level-sweep-workshop.prony" --out "$out/plain.zip" --add demo-sessions/README.md >/dev/null 2>&1
"$prony" pack "$out/ridden.prony" --out "$out/claimed.zip" \
  --measurements demo-sessions/ferrule-measurements.ron >/dev/null 2>&1
"$prony" verify "$out/plain.zip" "$out/claimed.zip" >/dev/null

"$python" tests/exported/exported.py --prony "$prony" --out "$out"
