#!/usr/bin/env bash
# Hands the database's password from a file to libpq, so that it stands in no address and no command line, and
# becomes the program.
set -euo pipefail

if [[ -n "${DATABASE_PASSWORD_FILE:-}" ]]; then
    if [[ ! -r "$DATABASE_PASSWORD_FILE" ]]; then
        echo "server-entrypoint: cannot read DATABASE_PASSWORD_FILE $DATABASE_PASSWORD_FILE as user $(id -u)" >&2
        exit 1
    fi
    PGPASSWORD="$(<"$DATABASE_PASSWORD_FILE")"
    export PGPASSWORD
fi
exec sellion "$@"
