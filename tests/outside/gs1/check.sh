#!/usr/bin/env bash
# Has a general-purpose parser of GS1 element strings read the same random labels as our reader.
# Usage: tests/outside/gs1/check.sh [DIRECTORY]
# Needs python3 with venv. SELLION_VENV names the Python environment to use or make.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../../.." && pwd)
target=${CARGO_TARGET_DIR:-$root/target}
out=${1:-$target/gs1-samples}
venv=${SELLION_VENV:-$root/target/venv}

if ! [ -x "$venv/bin/python" ]; then
    python3 -m venv "$venv"
fi
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --requirement "$here/requirements.txt"
# As tests/run.sh builds, so that nothing is built twice.
cargo build --quiet --locked --manifest-path "$root/Cargo.toml" --workspace --all-targets

mkdir -p "$out"
"$venv/bin/python" "$here/check_labels.py" "$target/debug/examples/read_labels" "$out"
