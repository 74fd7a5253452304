#!/usr/bin/env bash
# Sellion on this machine without containers: installs what is missing, builds, and runs.
set -euo pipefail

root="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
readonly root
# shellcheck source=docker/packages.sh
source "$root/docker/packages.sh"
# shellcheck source=docker/node.sh
source "$root/docker/node.sh"

usage() {
    cat <<'TEXT'
Usage: docker/local.sh [COMMAND [OPTIONS]]

Installs what is missing through apt (as root; it says what, and asks nothing), builds the program and runs it
with the given arguments. Without arguments it plays an invented fit-testing day, and then goes on serving.

    docker/local.sh                      the invented day (sellion demo)
    docker/local.sh demo --once          the invented day, then stop
    docker/local.sh serve                an empty server that keeps its data
    docker/local.sh help                 everything the program can do

SELLION_SKIP_PACKAGES=1  take everything as installed and ask no package manager
CARGO_TARGET_DIR         where to build (default: target)

Needs Rust; no container engine, and no database that is already running.
TEXT
}

case "${1:-}" in
    -h | --help)
        usage
        exit 0
        ;;
esac

if [[ "${SELLION_SKIP_PACKAGES:-}" != 1 ]]; then
    ensure_packages "${SERVER_PACKAGES[@]}"
fi
ensure_rust

target="${CARGO_TARGET_DIR:-$root/target}"
echo "Building the screens and the program; the first time takes a quarter of an hour on two cores." >&2
# A program without screens still serves its API, and says at its address how to get them.
{ ensure_node "$target/tools" && build_screens "$root/clients/web" >&2; } ||
    echo "The screens could not be built; the program goes without." >&2
cargo build --release --locked --manifest-path "$root/Cargo.toml" --package sellion

if (($# == 0)); then
    set -- demo
fi
exec "$target/release/sellion" "$@"
