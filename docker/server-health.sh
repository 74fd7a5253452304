#!/usr/bin/env bash
# Asks the server in this container whether it can serve. The base image has no HTTP client but the shell.
set -euo pipefail

port="${SELLION_LISTEN##*:}"
exec 3<>"/dev/tcp/127.0.0.1/$port"
printf 'GET /health/ready HTTP/1.0\r\nHost: localhost\r\n\r\n' >&3
read -r -t 2 _ status _ <&3
[[ "$status" == 200 ]]
