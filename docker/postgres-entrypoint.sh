#!/usr/bin/env bash
# Makes the cluster on the first start, then becomes the server. A cluster that is there is never touched.
set -euo pipefail

readonly user="${POSTGRES_USER:-postgres}"
readonly database="${POSTGRES_DB:-$user}"
readonly staging="$PGDATA.unfinished"

fail() {
    printf 'postgres-entrypoint: %s\n' "$*" >&2
    exit 1
}

password() {
    if [[ -n "${POSTGRES_PASSWORD_FILE:-}" ]]; then
        [[ -r "$POSTGRES_PASSWORD_FILE" ]] || fail "cannot read POSTGRES_PASSWORD_FILE $POSTGRES_PASSWORD_FILE"
        cat "$POSTGRES_PASSWORD_FILE"
    else
        printf '%s\n' "${POSTGRES_PASSWORD:-}"
    fi
}

# Runs without anybody able to connect: no temporary server that a waiting client could mistake for the real one.
make_database() {
    [[ "$database" == postgres ]] && return
    printf 'CREATE DATABASE "%s"\n' "${database//\"/\"\"}" |
        postgres --single -D "$staging" postgres >/dev/null
}

make_cluster() {
    [[ -n "$(password)" ]] || fail "set POSTGRES_PASSWORD_FILE or POSTGRES_PASSWORD: nobody gets in without a password"
    local extra
    read -ra extra <<<"${POSTGRES_INITDB_ARGS:-}"
    rm -rf "$staging"
    initdb --pgdata="$staging" --username="$user" --pwfile=<(password) --auth-local=peer --auth-host=scram-sha-256 \
        --encoding=UTF8 --locale=C.UTF-8 --data-checksums "${extra[@]}"
    make_database
    {
        printf "listen_addresses = '*'\n"
        printf "timezone = 'UTC'\n"
        printf "log_timezone = 'UTC'\n"
    } >>"$staging/postgresql.conf"
    printf 'host all all all scram-sha-256\n' >>"$staging/pg_hba.conf"
    # One rename: a start that is interrupted before it has made no cluster, and the next one begins again.
    mv "$staging" "$PGDATA"
}

if [[ "${1:-}" != postgres ]]; then
    exec "$@"
fi
if [[ ! -s "$PGDATA/PG_VERSION" ]]; then
    # The first process of a container has no default handlers: without this a stop would wait for the kill.
    trap 'exit 130' INT TERM
    make_cluster
fi
unset POSTGRES_PASSWORD
exec "$@"
