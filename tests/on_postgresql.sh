#!/usr/bin/env bash
# Runs a command with DATABASE_URL naming a PostgreSQL cluster of its own, which is gone afterwards.
set -euo pipefail

binaries=$(dirname "$(compgen -G '/usr/lib/postgresql/*/bin/initdb' | sort -V | tail -1)")
folder=$(mktemp -d)
as_owner() { "$@"; }
if ((EUID == 0)); then # the server refuses to run as root
    chown postgres "$folder"
    as_owner() { setpriv --reuid=postgres --regid=postgres --clear-groups env HOME="$folder" "$@"; }
fi
stop() {
    as_owner "$binaries/pg_ctl" stop -D "$folder/data" -m immediate -s || true
    rm -rf "$folder"
}
trap stop EXIT

cd "$folder"
as_owner "$binaries/initdb" -D "$folder/data" -U house -A trust -E UTF8 --no-locale --no-sync > "$folder/initdb.log"
port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
as_owner "$binaries/pg_ctl" start -D "$folder/data" -w -s -l "$folder/server.log" \
    -o "-c listen_addresses=127.0.0.1 -c port=$port -c unix_socket_directories='' -c fsync=off"
cd "$OLDPWD"

DATABASE_URL="postgres://house@127.0.0.1:$port/postgres" "$@"
