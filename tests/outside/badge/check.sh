#!/usr/bin/env bash
# Makes sample badges and has programs that are not ours read them back.
# Usage: tests/outside/badge/check.sh [DIRECTORY]
# Needs pdftoppm, pdftotext, pdfinfo, pdffonts (poppler-utils), zbarimg (zbar-tools), python3 with venv.
# SELLION_DAMAGE=whole tries every damage on many codes instead of a few, and every level of correction beside ours
# (minutes; the tables are damage.md and levels.md).
# SELLION_VENV names the Python environment to use or make; SELLION_CJK_FONT a font for East Asian names.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../../.." && pwd)
target=${CARGO_TARGET_DIR:-$root/target}
out=${1:-$target/badge-samples}
venv=${SELLION_VENV:-$root/target/venv}
cjk=${SELLION_CJK_FONT:-/usr/share/fonts/opentype/noto/NotoSansCJK-Regular.ttc}
devanagari=/usr/share/fonts/truetype/noto/NotoSansDevanagari-Regular.ttf

missing=()
for program in pdftoppm pdftotext pdfinfo pdffonts; do
    command -v "$program" >/dev/null || missing+=("poppler-utils ($program)")
done
command -v zbarimg >/dev/null || missing+=("zbar-tools (zbarimg)")
[ -r "$cjk" ] || missing+=("fonts-noto-cjk ($cjk)")
if [ ${#missing[@]} -gt 0 ]; then
    printf 'install first: %s\n' "${missing[@]}" >&2
    exit 2
fi

if ! [ -x "$venv/bin/python" ]; then
    python3 -m venv "$venv"
fi
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --requirement "$here/requirements.txt"

# The reader that the screens use runs under node; without node the other two are asked.
if command -v node >/dev/null && command -v npm >/dev/null; then
    modules=$target/badge-reader
    mkdir -p "$modules"
    cp "$here/package.json" "$here/package-lock.json" "$modules"
    (cd "$modules" && npm ci --silent --no-audit --no-fund)
    export SELLION_BADGE_MODULES=$modules
fi

fonts=("$cjk")
if [ -r "$devanagari" ]; then
    fonts+=("$devanagari")
fi
mkdir -p "$out"
# As tests/run.sh builds, so that nothing is built twice.
cargo build --quiet --locked --manifest-path "$root/Cargo.toml" --workspace --all-targets
"$target/debug/examples/sample_sheets" "$out" "${fonts[@]}"

rm -f "$out"/*.log
failed=0
programs=(check_tokens.py check_codes.py check_text.py check_dots.py check_structure.py check_damage.py)
if [ "${SELLION_DAMAGE:-}" = whole ]; then
    programs+=(compare_levels.py)
fi
for program in "${programs[@]}"; do
    "$venv/bin/python" "$here/$program" "$out" | tee "$out/${program%.py}.log" || failed=1
done
# One line for whoever adds up the counts of several suites.
sum() { cat "$out"/*.log | grep -c "^$1 " || true; }
echo "badge outside checks: $(sum ok) passed, $(sum FAIL) failed"
exit "$failed"
