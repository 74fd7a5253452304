#!/usr/bin/env bash
# Finds out which Debian packages are missing and installs them. Sourced by docker/local.sh and tests/run.sh.

# Compiler and linker, libpq for the store, the database server, and letters for names that the embedded fonts
# do not cover.
# shellcheck disable=SC2034  # read by the scripts that source this file
readonly SERVER_PACKAGES=(build-essential pkg-config libpq-dev postgresql fonts-noto-core fonts-noto-cjk)

package_is_installed() {
    [[ "$(dpkg-query --show --showformat='${db:Status-Status}' "$1" 2>/dev/null)" == installed ]]
}

# Debian would start a cluster of its own at port 5432 as it installs the server. Nobody asked for that one.
without_main_cluster() {
    local note=/etc/postgresql-common/createcluster.d/sellion.conf
    mkdir -p "${note%/*}"
    echo 'create_main_cluster = false' >"$note"
    local result=0
    "$@" || result=$?
    rm -f "$note"
    return "$result"
}

apt_install() {
    export DEBIAN_FRONTEND=noninteractive
    apt-get update -qq </dev/null && apt-get install -y -qq --no-install-recommends "$@" </dev/null >/dev/null
}

# Installs those of the named packages that are missing, or says which they are and returns 1.
ensure_packages() {
    if ! command -v apt-get >/dev/null || ! command -v dpkg-query >/dev/null; then
        echo "This machine has no apt. Needed are, by their Debian names: $*" >&2
        echo "Install them by the means of this machine, then set SELLION_SKIP_PACKAGES=1 and start again." >&2
        return 1
    fi
    local package missing=()
    for package in "$@"; do
        package_is_installed "$package" || missing+=("$package")
    done
    ((${#missing[@]})) || return 0
    if [[ "$(id -u)" != 0 ]]; then
        echo "These packages are missing, and installing them needs root:" >&2
        echo "    apt-get install ${missing[*]}" >&2
        return 1
    fi
    echo "Installing through apt: ${missing[*]}"
    without_main_cluster apt_install "${missing[@]}" || {
        echo "apt could not install: ${missing[*]}" >&2
        return 1
    }
}

# Puts cargo on the PATH, or says how to get it and returns 1.
ensure_rust() {
    if ! command -v cargo >/dev/null && [[ -x "$HOME/.cargo/bin/cargo" ]]; then
        PATH="$HOME/.cargo/bin:$PATH"
    fi
    command -v cargo >/dev/null && return 0
    echo "Rust is missing: install it with rustup (https://rustup.rs), then start again." >&2
    return 1
}
