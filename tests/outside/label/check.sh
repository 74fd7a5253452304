#!/usr/bin/env bash
# Prints sample labels and has programs that are not ours read back codes, words and the patterns of the bands.
# Usage: tests/outside/label/check.sh [DIRECTORY]
# Needs pdftoppm, pdftotext, pdfinfo (poppler-utils), zbarimg (zbar-tools), python3 with venv.
# SELLION_VENV names the Python environment to use or make.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../../.." && pwd)
target=${CARGO_TARGET_DIR:-$root/target}
out=${1:-$target/label-samples}
venv=${SELLION_VENV:-$root/target/venv}

missing=()
for program in pdftoppm pdftotext pdfinfo; do
    command -v "$program" >/dev/null || missing+=("poppler-utils ($program)")
done
command -v zbarimg >/dev/null || missing+=("zbar-tools (zbarimg)")
if [ ${#missing[@]} -gt 0 ]; then
    printf 'install first: %s\n' "${missing[@]}" >&2
    exit 2
fi

if ! [ -x "$venv/bin/python" ]; then
    python3 -m venv "$venv"
fi
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --requirement "$root/tests/outside/badge/requirements.txt"
mkdir -p "$out"
# As tests/run.sh builds, so that nothing is built twice.
cargo build --quiet --locked --manifest-path "$root/Cargo.toml" --workspace --all-targets
"$target/debug/examples/sample_labels" "$out"

# The readers are those of the badges.
PYTHONPATH="$root/tests/outside/badge" "$venv/bin/python" "$here/check_sheets.py" "$out"
