#!/usr/bin/env bash
# Every check of this repository, one after another. The last line counts what passed and what failed.
set -euo pipefail

root="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
readonly root
# shellcheck source=docker/packages.sh
source "$root/docker/packages.sh"

# shellcheck source=docker/node.sh
source "$root/docker/node.sh"

# shellcheck disable=SC2153  # set in packages.sh
readonly PACKAGES=("${SERVER_PACKAGES[@]}" python3 python3-venv poppler-utils zbar-tools shellcheck chromium-headless-shell ffmpeg)

usage() {
    cat <<'TEXT'
Usage: tests/run.sh [STAGE...]

Installs what the tests need through apt (as root; otherwise it names what is missing and stops), builds, and
runs every stage, or only those named:

    format     cargo fmt --check
    scripts    shellcheck on every shell script
    screens    the screens: types in step with the API, format, compiler, unit tests, build
    lint       clippy on everything, warnings denied
    build      everything, with the lock file as it is
    rust       all Rust tests, on one database server for the whole run
    browser    the screens in a browser, on the real program and a database of its own
    outside    programs that are not ours read back what ours wrote (tests/outside/*/check.sh)

A stage that fails does not stop the next one. The last line is "N passed, N failed" over all stages; the exit
code is 0 only when nothing failed.

SELLION_TEST_DATABASE        auto (default), container or private: where the tests' Postgres runs
SELLION_TEST_DATABASE_URL    a server of yours to use instead; the tests make and drop databases in it
SELLION_TEST_POSTGRES_IMAGE  the image to run (default: built from docker/postgres.Dockerfile)
SELLION_REQUIRE_CONTAINER=1  fail where no container engine answers
SELLION_SKIP_PACKAGES=1      take everything as installed and ask no package manager
CARGO_TARGET_DIR             where to build (default: target)
TEXT
}

readonly STAGES=(format scripts screens lint build rust browser outside)
passed=0
failed=0
server_pid=""

count() {
    passed=$((passed + $1))
    failed=$((failed + $2))
}

# A stage that counts nothing by itself is one check.
single() {
    if "$@"; then
        count 1 0
    else
        count 0 1
    fi
}

# Runs a command, shows what it prints and adds up its lines of results, which the expression $1 turns into
# "PASSED FAILED". A command that fails without counting a failure (it did not build, it crashed) is one.
counted() {
    local results="$1" log status=0 good=0 bad=0 line_good line_bad
    shift
    log="$(mktemp "$scratch/log.XXXXXX")"
    "$@" 2>&1 </dev/null | tee "$log" || status=$?
    while read -r line_good line_bad; do
        good=$((good + line_good))
        bad=$((bad + line_bad))
    done < <(sed -nE "$results" "$log")
    if ((status != 0 && bad == 0)); then
        echo "The command ended with exit code $status and counted no failure: $*"
        bad=1
    elif ((good + bad == 0)); then
        echo "The command ran no test at all: $*"
        bad=1
    fi
    count "$good" "$bad"
}

stage_format() { single cargo fmt --all --check; }

shell_scripts() {
    find . \( -name .git -o -name target -o -name node_modules -o -name venv -o -name .venv \) -prune -o -type f -print0 |
        xargs -0 grep -lIE '^#!.*\b(ba|da)?sh\b'
}

check_scripts() {
    local scripts
    mapfile -t scripts < <(shell_scripts)
    ((${#scripts[@]})) || return 1
    shellcheck --external-sources "${scripts[@]}"
}

stage_scripts() { single check_scripts; }

# vitest's line of tests, whichever of its two forms: "3 passed (3)" or "1 failed | 2 passed (3)".
readonly VITEST_RESULTS='s/^ *Tests +([0-9]+) passed.*/\1 0/p; s/^ *Tests +([0-9]+) failed \| ([0-9]+) passed.*/\2 \1/p; s/^ *Tests +([0-9]+) failed \([0-9]+\).*/0 \1/p'

screens() { NO_COLOR=1 npm run --silent --prefix "$root/clients/web" "$@"; }

screens_ready() { ensure_node "$target/tools" && install_screens_packages "$root/clients/web"; }

# Before the program is built, which takes the screens in.
stage_screens() {
    if ! screens_ready; then
        count 0 1
        return
    fi
    single screens check
    counted "$VITEST_RESULTS" screens test
    single screens build
}

stage_browser() {
    if ! screens_ready || ! screens build || ! cargo build --quiet --locked --workspace --bins; then
        echo "The browser tests need the screens and the program, and one of them was not built."
        count 0 1
        return
    fi
    SELLION_PROGRAM="$target/debug/sellion" counted "$VITEST_RESULTS" screens browser
}

stage_lint() { single cargo clippy --workspace --all-targets --locked -- -D warnings; }

stage_build() { single cargo build --workspace --all-targets --locked; }

# One server for all test binaries. It ends when this script does, however that happens: its standard input is
# the other end of our pipe. A session of its own keeps an interrupt at the terminal from reaching it first.
start_database() {
    [[ -z "${SELLION_TEST_DATABASE_URL:-}" ]] || return 0
    cargo build --quiet --workspace --all-targets --locked || return 1
    coproc SERVER { exec setsid "$target/debug/test-postgres"; }
    # shellcheck disable=SC2153  # coproc sets it
    server_pid="$SERVER_PID"
    local url
    read -r -t 600 url <&"${SERVER[0]}" || return 1
    export SELLION_TEST_DATABASE_URL="$url"
}

stop_database() {
    [[ -n "$server_pid" ]] || return 0
    local input="${SERVER[1]:-}"
    [[ -z "$input" ]] || exec {input}>&-
    wait "$server_pid" || true
    server_pid=""
    unset SELLION_TEST_DATABASE_URL
}

# The program that writes server/store/src/schema.rs; a test compares its output with the file. Its version goes
# with the diesel in Cargo.lock.
readonly DIESEL_CLI=2.3.14
build_diesel_cli() {
    export SELLION_DIESEL="$target/tools/bin/diesel"
    [[ "$("$SELLION_DIESEL" --version 2>/dev/null)" == *"$DIESEL_CLI"* ]] ||
        cargo install --quiet --locked --debug --root "$target/tools" --no-default-features --features postgres \
            --version "$DIESEL_CLI" diesel_cli
}

stage_rust() {
    if ! build_diesel_cli; then
        echo "diesel_cli $DIESEL_CLI, which the check of the schema needs, could not be built."
        count 0 1
        return
    fi
    if ! start_database; then
        echo "The tests could not be built, or there is no database server for them."
        count 0 1
        return
    fi
    counted 's/^test result: [^.]*\. ([0-9]+) passed; ([0-9]+) failed;.*/\1 \2/p' \
        cargo test --workspace --locked --no-fail-fast
    stop_database
}

stage_outside() {
    local check
    for check in "$root"/tests/outside/*/check.sh; do
        [[ -x "$check" ]] || continue
        echo "-- ${check#"$root"/}"
        # shellcheck disable=SC2016  # a sed expression: $ is its last line
        counted '$s/^(.*: )?([0-9]+) passed, ([0-9]+) failed$/\2 \3/p' "$check" "$scratch/$(basename "$(dirname "$check")")"
    done
}

prepare() {
    if [[ "${SELLION_SKIP_PACKAGES:-}" != 1 ]]; then
        ensure_packages "${PACKAGES[@]}"
    fi
    ensure_rust
    local tool
    for tool in fmt clippy; do
        cargo "$tool" --version >/dev/null 2>&1 && continue
        echo "cargo $tool is missing: rustup component add ${tool/fmt/rustfmt}" >&2
        return 1
    done
}

run_stage() {
    local started=$SECONDS before=$failed
    printf '\n== %s\n' "$1"
    "stage_$1"
    local word=passed
    ((failed == before)) || word=FAILED
    printf '== %s %s in %s s\n' "$1" "$word" "$((SECONDS - started))"
}

main() {
    local stage stages=("$@")
    ((${#stages[@]})) || stages=("${STAGES[@]}")
    for stage in "${stages[@]}"; do
        [[ " ${STAGES[*]} " == *" $stage "* ]] || {
            usage >&2
            exit 2
        }
    done
    cd "$root"
    prepare
    target="$(realpath --canonicalize-missing "${CARGO_TARGET_DIR:-target}")"
    export CARGO_TARGET_DIR="$target"
    export SELLION_VENV="${SELLION_VENV:-$target/venv}"
    scratch="$(mktemp -d)"
    trap 'stop_database; rm -rf "$scratch"' EXIT
    for stage in "${stages[@]}"; do
        run_stage "$stage"
    done
    printf '\n%s passed, %s failed\n' "$passed" "$failed"
    ((failed == 0))
}

case "${1:-}" in
    -h | --help) usage ;;
    *) main "$@" ;;
esac
