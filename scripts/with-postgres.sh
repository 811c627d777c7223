#!/usr/bin/env bash
# Starts a PostgreSQL server of its own in a new folder, runs a command with its address in CALLWRIGHT_POSTGRES, and stops it.
#   scripts/with-postgres.sh cargo test ...
# The server listens on a socket in that folder, and with TLS on this machine's own address: that one is in
# CALLWRIGHT_POSTGRES_TLS, and the certificate made for it in CALLWRIGHT_POSTGRES_AUTHORITY. As root it runs as the user
# `postgres`, since PostgreSQL refuses to be root.
set -euo pipefail
[ $# -gt 0 ] || { sed -n '2,6p' "$0"; exit 2; }

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
as_server() { (cd / && "${as[@]}" "$@"); }
as_server "$tools/initdb" --pgdata="$folder/data" --username=callwright --auth=trust --encoding=UTF8 --no-locale >/dev/null
as_server openssl req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=localhost -addext subjectAltName=DNS:localhost -addext basicConstraints=critical,CA:FALSE \
  -keyout "$folder/data/server.key" -out "$folder/data/server.crt" 2>/dev/null
# Whoever comes over the network comes with TLS or not at all.
as_server sed -i 's/^host  *all/hostssl all/' "$folder/data/pg_hba.conf"
# A port that nobody has; another is tried where somebody took it meanwhile.
for try in 1 2 3 4 5; do
  port=$((20000 + RANDOM % 12000))
  as_server "$tools/pg_ctl" --pgdata="$folder/data" --log="$folder/log" --wait start --options="-k $folder -p $port \
    -c listen_addresses=127.0.0.1 -c ssl=on -c max_connections=60" >/dev/null && break
  [ "$try" -lt 5 ] || { cat "$folder/log" >&2; exit 1; }
done
cp "$folder/data/server.crt" "$folder/authority.pem"
chmod 0755 "$folder"
export CALLWRIGHT_POSTGRES="postgres://callwright@/postgres?host=$folder&port=$port"
export CALLWRIGHT_POSTGRES_TLS="postgres://callwright@localhost:$port/postgres"
export CALLWRIGHT_POSTGRES_AUTHORITY="$folder/authority.pem"
"$@"
