#!/usr/bin/env bash
# Starts a PostgreSQL server of its own in a new folder, runs a command with its address in CALLWRIGHT_POSTGRES, and stops it.
#   scripts/with-postgres.sh cargo test ...
# The server listens on a socket in that folder and nowhere else. As root it runs as the user `postgres`, since PostgreSQL
# refuses to be root.
set -euo pipefail
[ $# -gt 0 ] || { sed -n '2,5p' "$0"; exit 2; }

tools=$(find /usr/lib/postgresql -maxdepth 2 -name bin -type d 2>/dev/null | sort -V | tail -n 1)
[ -n "$tools" ] || tools=$(dirname "$(command -v initdb)") || { echo "with-postgres: install postgresql" >&2; exit 1; }
folder=$(mktemp -d /tmp/callwright-postgres.XXXXXX)
as=()
if [ "$(id -u)" = 0 ]; then chown postgres "$folder"; as=(setpriv --reuid=postgres --regid=postgres --init-groups); fi

finish() {
  code=$?
  (cd /; "${as[@]}" "$tools/pg_ctl" --pgdata="$folder/data" --mode=immediate stop >/dev/null 2>&1) || true
  rm -rf "$folder"
  exit "$code"
}
trap finish EXIT INT TERM
(
  cd /
  "${as[@]}" "$tools/initdb" --pgdata="$folder/data" --username=callwright --auth=trust --encoding=UTF8 --no-locale >/dev/null
  "${as[@]}" "$tools/pg_ctl" --pgdata="$folder/data" --log="$folder/log" --wait start \
    --options="-k $folder -c listen_addresses='' -c max_connections=60" >/dev/null
)
export CALLWRIGHT_POSTGRES="postgres://callwright@/postgres?host=$folder"
"$@"
