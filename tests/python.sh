# Sourced by the checks that need Python and libraries from PyPI: sets `python`, or ends the caller.
# All of them share one environment, which lives beside the build, where git ignores it, and is made
# anew when a pin changes.
#
# Needs Python 3.11 or later with venv and pip. Without them nothing is checked: that is an error
# where CI is "true", and said loudly everywhere else. The caller sets `check` to its own name.
without() {
  echo "NOT RUN: $check: $1" >&2
  echo "$check: install Python 3.11 or later with venv and pip (Debian: python3-venv), then run this again" >&2
  [ "${CI:-}" = true ] && exit 1
  exit 0
}
command -v python3 >/dev/null || without "there is no python3"
python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' || without "$(python3 --version) is too old"
python3 -c 'import venv, ensurepip' 2>/dev/null || without "python3 has no venv or no pip"

wanted=tests/cross_check/requirements.txt
environment=${CARGO_TARGET_DIR:-target}/cross-check-python
if ! cmp -s "$wanted" "$environment/requirements.txt"; then
  rm -rf "$environment"
  mkdir -p "$environment"
  python3 -m venv "$environment" || without "no virtual environment could be made"
  "$environment/bin/python" -m pip install --quiet --disable-pip-version-check --only-binary :all: -r "$wanted" ||
    without "the pinned packages could not be installed from PyPI"
  cp "$wanted" "$environment/requirements.txt"
fi
python=$environment/bin/python
export PYTHONDONTWRITEBYTECODE=1
