#!/usr/bin/env bash
# Has a verifier that shares nothing with this program judge the same badges as the server, good, altered, forged,
# ended and held ones, and the published test vectors.
# Usage: tests/outside/verifier/check.sh [DIRECTORY]
# Needs python3 with venv. SELLION_VENV names the Python environment to use or make.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../../.." && pwd)
target=${CARGO_TARGET_DIR:-$root/target}
out=${1:-$target/verifier-samples}
venv=${SELLION_VENV:-$root/target/venv}

if ! [ -x "$venv/bin/python" ]; then
    python3 -m venv "$venv"
fi
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --requirement "$root/tests/outside/badge/requirements.txt"

rm -rf "$out"
mkdir -p "$out"
# The server's own words: the test that writes them fails where they are not the right ones. All tests are built, as
# tests/run.sh builds them: those of one program alone want other features of what they stand on, built once more.
SELLION_BADGE_CASES="$out" cargo test --quiet --locked --manifest-path "$root/Cargo.toml" --workspace --tests -- \
    --exact forgeries::a_thousand_badges_enter_and_nothing_that_was_altered_or_forged_does

status=0
"$venv/bin/python" "$here/check_verifier.py" "$root/api-spec/test-vectors" "$out/cases.json" >"$out/check.log" || status=$?
# Thousands of lines that say ok would hide the one that does not.
grep '^FAIL' "$out/check.log" || true
tail -n 1 "$out/check.log"
exit "$status"
