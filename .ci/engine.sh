#!/usr/bin/env bash
# Brings up a container engine and a Debian base image on a machine that has neither and reaches no image
# registry. Only continuous integration may do this: the tests themselves use an engine that already answers.
set -euo pipefail

readonly base_image="${SELLION_DEBIAN_IMAGE:-debian:bookworm-slim}"
readonly suite="${SELLION_DEBIAN_SUITE:-bookworm}"
readonly run_dir="${SELLION_ENGINE_DIR:-/run/sellion-engine}"
readonly pid_file="$run_dir/dockerd.pid"
readonly log_file="$run_dir/dockerd.log"

usage() {
    cat <<'TEXT'
Usage: .ci/engine.sh start | stop | status

start  Uses the container engine that answers; otherwise installs docker.io through apt and starts dockerd.
       Then makes the base image from Debian's own packages (debootstrap) when it is not there.
       May be called again at any time. Exit 0: engine and image are ready. Exit 1: impossible here, said why.
stop   Stops dockerd, but only one that start started.
status Exit 0 when an engine answers.

SELLION_DEBIAN_IMAGE  name of the base image            (default debian:bookworm-slim)
SELLION_DEBIAN_SUITE  the Debian release it is made of  (default bookworm)
SELLION_ENGINE_DIR    where the engine's pid and log go (default /run/sellion-engine)
TEXT
}

say() { printf 'engine: %s\n' "$*"; }

give_up() {
    printf '\n*** NO CONTAINER ENGINE: %s\n*** The tests go on with a private database cluster instead.\n\n' "$*" >&2
    exit 1
}

answers() { docker version --format '{{.Server.Version}}' >/dev/null 2>&1; }

install_packages() {
    say "installing $* through apt"
    apt-get update -qq </dev/null || return 1
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" </dev/null >/dev/null
}

# Newer Debian releases carry the docker command in a package of its own.
ensure_programs() {
    if ! command -v dockerd >/dev/null; then
        install_packages docker.io || return 1
    fi
    command -v docker >/dev/null || install_packages docker-cli
}

start_engine() {
    mkdir -p "$run_dir"
    say "starting dockerd, log in $log_file"
    # A session of its own: an interrupt at the terminal must not stop the engine under running tests.
    setsid dockerd --pidfile "$pid_file" >"$log_file" 2>&1 </dev/null &
    local waited
    for ((waited = 0; waited < 120; waited++)); do
        if answers; then
            return 0
        fi
        sleep 0.5
    done
    tail -n 20 "$log_file" >&2
    stop_engine
    return 1
}

# The image is whole before it gets its name, so an interrupted run leaves no half image behind.
make_base_image() {
    command -v debootstrap >/dev/null || install_packages debootstrap || return 1
    local tree
    tree="$(mktemp -d)"
    # shellcheck disable=SC2064  # the folder is fixed now, not when the trap runs
    trap "rm -rf '$tree'" EXIT
    say "making $base_image from Debian's packages"
    debootstrap --variant=minbase --include=ca-certificates "$suite" "$tree" >"$run_dir/debootstrap.log" 2>&1 || {
        tail -n 20 "$run_dir/debootstrap.log" >&2
        return 1
    }
    rm -rf "$tree"/var/cache/apt/archives/*.deb "$tree"/var/lib/apt/lists/*
    tar -C "$tree" -c . | docker import - "$base_image" >/dev/null
}

start() {
    if answers; then
        say "using the container engine that answers"
    else
        [[ "$(id -u)" == 0 ]] || give_up "none answers, and starting one needs root"
        command -v apt-get >/dev/null || command -v dockerd >/dev/null || give_up "none answers, and there is no apt"
        ensure_programs || give_up "docker.io could not be installed"
        start_engine || give_up "dockerd did not start"
    fi
    mkdir -p "$run_dir"
    if ! docker image inspect "$base_image" >/dev/null 2>&1; then
        make_base_image || give_up "no base image $base_image, and it could not be made"
    fi
    say "ready: $(docker version --format '{{.Server.Version}}'), base image $base_image"
}

stop_engine() {
    [[ -s "$pid_file" ]] || return 0
    local pid waited
    pid="$(<"$pid_file")"
    kill "$pid" 2>/dev/null || return 0
    for ((waited = 0; waited < 60; waited++)); do
        kill -0 "$pid" 2>/dev/null || break
        sleep 0.5
    done
    rm -f "$pid_file"
    say "dockerd stopped"
}

case "${1:---help}" in
    start) start ;;
    stop) stop_engine ;;
    status) answers ;;
    -h | --help) usage ;;
    *)
        usage >&2
        exit 2
        ;;
esac
