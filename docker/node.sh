#!/usr/bin/env bash
# Finds a Node that builds the screens, or fetches one, and builds them. Sourced by docker/local.sh and tests/run.sh;
# called by itself with a folder for tools, it builds the screens (docker/Dockerfile does).

# The build's tools need this much; Debian 12's own is older, but its npm can fetch a newer one as a package.
readonly NODE_MAJOR=20
readonly NODE_MINOR=19
readonly NODE_FETCHED=22.23.3

node_is_new_enough() {
    command -v node >/dev/null && command -v npm >/dev/null || return 1
    local version major minor
    version="$(node --version)" || return 1
    IFS=. read -r major minor _ <<<"${version#v}"
    ((major > NODE_MAJOR || (major == NODE_MAJOR && minor >= NODE_MINOR)))
}

# Puts a Node on the PATH that is new enough, or says what is missing and returns 1. $1 is a folder for tools.
ensure_node() {
    local tools="$1/node"
    [[ -x "$tools/node_modules/node/bin/node" ]] && PATH="$tools/node_modules/node/bin:$PATH"
    node_is_new_enough && return 0
    command -v npm >/dev/null || ensure_packages nodejs npm || return 1
    echo "Fetching Node $NODE_FETCHED, which builds the screens." >&2
    npm install --silent --no-save --no-package-lock --prefix "$tools" "node@$NODE_FETCHED" >&2 || return 1
    PATH="$tools/node_modules/node/bin:$PATH"
    node_is_new_enough || {
        echo "The screens need Node $NODE_MAJOR.$NODE_MINOR or later, with npm." >&2
        return 1
    }
}

# The packages that the lock file names; not again while nothing changed.
install_screens_packages() {
    local screens="$1" kept="$1/node_modules/.sellion-lock"
    cmp --quiet "$screens/package-lock.json" "$kept" && return 0
    npm ci --prefix "$screens" --no-fund --no-audit --loglevel=error || return 1
    cp "$screens/package-lock.json" "$kept"
}

# Builds the screens into clients/web/dist, from where the server takes them in.
build_screens() {
    install_screens_packages "$1" && npm run --silent --prefix "$1" build
}

if [[ "${BASH_SOURCE[0]}" == "$0" ]]; then
    set -euo pipefail
    top="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
    # shellcheck source=docker/packages.sh
    source "$top/docker/packages.sh"
    ensure_node "${1:?a folder for tools}"
    build_screens "$top/clients/web"
fi
