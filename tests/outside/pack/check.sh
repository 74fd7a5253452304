#!/usr/bin/env bash
# Asks the server, sellion-gate, the gate screen and a reader that is not ours the same 10,000 questions at gates, and
# compares.
# Usage: tests/outside/pack/check.sh [DIRECTORY]
# SELLION_VENV names the Python environment to use or make; SELLION_GATE_CASES another number of questions.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../../.." && pwd)
target=${CARGO_TARGET_DIR:-$root/target}
out=${1:-$target/pack-samples}
venv=${SELLION_VENV:-$root/target/venv}

if ! [ -x "$venv/bin/python" ]; then
    python3 -m venv "$venv"
fi
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --requirement "$here/requirements.txt"

rm -rf "$out"
mkdir -p "$out"
# As tests/run.sh builds, so that nothing is built twice.
cargo build --quiet --locked --manifest-path "$root/Cargo.toml" --workspace --all-targets
if ! "$target/debug/gate-cases" "$out" "${SELLION_GATE_CASES:-10000}" >"$out/said"; then
    echo "The questions could not be asked."
    echo "0 passed, 1 failed"
    exit 1
fi
failed=0
"$venv/bin/python" "$here/check_packs.py" "$out" | tee "$out/check_packs.log" || failed=1
# The gate screen's own function, as the unit tests of the screens run it; tests/run.sh has installed its packages by now.
screens="$root/clients/web"
if [ -d "$screens/node_modules" ]; then
    if (cd "$screens" && SELLION_GATE_CASES="$out" NO_COLOR=1 npx vitest run --project unit src/pack/cases.test.ts) \
        >"$out/screens.log" 2>&1; then
        echo "ok   the gate screen answers the same" >>"$out/check_packs.log"
    else
        echo "FAIL the gate screen answers otherwise" | tee -a "$out/check_packs.log"
        cat "$out/screens.log"
        failed=1
    fi
fi
sum() { grep -c "^$1 " "$out/check_packs.log" || true; }
echo "$(sum ok) passed, $(sum FAIL) failed"
exit "$failed"
