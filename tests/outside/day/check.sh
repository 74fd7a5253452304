#!/usr/bin/env bash
# Plays a small invented day with `sellion demo`, and has programs that are not ours read back what came of it:
# the printed badges, their signatures by the served keys, and the numbers of the summary.
# Usage: tests/outside/day/check.sh [DIRECTORY]
# Needs what tests/outside/badge/check.sh needs.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../../.." && pwd)
target=${CARGO_TARGET_DIR:-$root/target}
out=${1:-$target/day-samples}
venv=${SELLION_VENV:-$root/target/venv}

if ! [ -x "$venv/bin/python" ]; then
    python3 -m venv "$venv"
fi
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --requirement "$root/tests/outside/badge/requirements.txt"
# As tests/run.sh builds, so that nothing is built twice.
cargo build --quiet --locked --manifest-path "$root/Cargo.toml" --workspace --all-targets

rm -rf "$out"
mkdir -p "$out"
env -u DATABASE_URL "$target/debug/sellion" demo --people 30 --out "$out" --listen 127.0.0.1:0 >"$out/said" 2>"$out/errors" </dev/null &
demo=$!
trap 'kill "$demo" 2>/dev/null || true' EXIT
address=""
for _ in $(seq 600); do
    address=$(sed -nE 's/^Serving on (http:[^ ]*) .*/\1/p' "$out/said")
    [ -z "$address" ] || break
    kill -0 "$demo" 2>/dev/null || break
    sleep 0.5
done
if [ -z "$address" ]; then
    echo "The demonstration did not get as far as serving:"
    cat "$out/said" "$out/errors"
    echo "0 passed, 1 failed"
    exit 1
fi

failed=0
"$venv/bin/python" "$here/check_day.py" "$out" "$address" | tee "$out/check_day.log" || failed=1
kill -TERM "$demo"
status=0
wait "$demo" || status=$?
trap - EXIT
if [ "$status" -eq 0 ]; then
    echo "ok    SIGTERM ends the serving demonstration in order" | tee -a "$out/check_day.log"
else
    echo "FAIL  SIGTERM ends the serving demonstration in order: exit status $status" | tee -a "$out/check_day.log"
    failed=1
fi
sum() { grep -c "^$1 " "$out/check_day.log" || true; }
echo "$(sum ok) passed, $(sum FAIL) failed"
exit "$failed"
