#!/usr/bin/env bash
# Makes sure that what a task needs is on this machine, and prints the path of the cargo to use.
#   scripts/setup.sh run|test|lint|bench|app
# What it does goes to standard error, one line a step. Installs only as root, only with apt-get, and only what is
# missing; otherwise it says what to install and fails. Quick when everything is there.
set -euo pipefail
cd "$(dirname "$0")/.."

task=${1:-run}
wanted=$(sed -n 's/^rust-version = "\(.*\)"$/\1/p' Cargo.toml)

say() { printf 'setup: %s\n' "$*" >&2; }
fail() { say "$*"; exit 1; }

# A cargo counts only with a rustc beside it that is new enough.
is_new_enough() {
  local rustc found
  rustc="$(dirname "$1")/rustc"
  [ -x "$1" ] && [ -x "$rustc" ] || return 1
  found=$("$rustc" --version 2>/dev/null | cut -d' ' -f2) || return 1
  [ -n "$found" ] && [ "$(printf '%s\n%s\n' "$wanted" "$found" | sort -V | head -n 1)" = "$wanted" ]
}

find_cargo() {
  local candidate
  for candidate in "$(command -v cargo || true)" "${CARGO_HOME:-$HOME/.cargo}/bin/cargo" /usr/bin/cargo; do
    if [ -n "$candidate" ] && is_new_enough "$candidate"; then printf '%s\n' "$candidate"; return 0; fi
  done
  return 1
}

missing=()
find_cargo >/dev/null || missing+=(rustc-web cargo-web)
command -v cc >/dev/null || missing+=(build-essential)
# The app is built with a library for the browser: rustup's, or Debian's Rust builds it from its source.
has_browser_library() { [ -d "$("$(dirname "$1")/rustc" --print sysroot)/lib/rustlib/wasm32-unknown-unknown/lib" ]; }
case $task in
  run | test | app)
    found=$(find_cargo || true)
    if [ -n "$found" ] && ! has_browser_library "$found" && [ -x "$(dirname "$found")/rustup" ]; then
      say "fetching the library for the browser"
      "$(dirname "$found")/rustup" target add wasm32-unknown-unknown >/dev/null 2>&1 || true
    fi
    if [ -z "$found" ] || ! has_browser_library "$found"; then
      [ -x /usr/bin/cargo ] || missing+=(rustc-web cargo-web)
      [ -d /usr/lib/rustlib/src/rust/library ] || missing+=(rust-web-src)
      [ -x /usr/lib/llvm-19/bin/wasm-ld ] || missing+=(lld-19)
    fi
    ;;
esac
case $task in
  test)
    command -v pebble >/dev/null || missing+=(pebble)
    python3 -c 'import ensurepip, venv' 2>/dev/null || missing+=(python3-venv)
    ;;&
  test | bench) command -v ngspice >/dev/null || missing+=(ngspice) ;;&
  test | bench)
    command -v chromium >/dev/null || missing+=(chromium)
    command -v chromedriver >/dev/null || missing+=(chromium-driver)
    command -v curl >/dev/null || missing+=(curl ca-certificates)
    command -v initdb >/dev/null || compgen -G '/usr/lib/postgresql/*/bin/initdb' >/dev/null || missing+=(postgresql)
    ;;
  lint | run | app) ;;
  *) fail "there is no task \`$task\`; use run, test, lint, bench or app" ;;
esac

if [ ${#missing[@]} -gt 0 ]; then
  command -v apt-get >/dev/null ||
    fail "install Rust $wanted or newer, a C compiler and (for tests) ngspice; this machine has no apt-get"
  [ "$(id -u)" = 0 ] || fail "not root; install what is missing with: sudo apt-get install ${missing[*]}"
  log=$(mktemp)
  trap 'rm -f "$log"' EXIT
  export DEBIAN_FRONTEND=noninteractive
  say "reading the package lists"
  apt-get update >"$log" 2>&1 || { tail -n 20 "$log" >&2; fail "apt-get update failed"; }
  say "installing ${missing[*]}"
  apt-get install -y --no-install-recommends "${missing[@]}" >"$log" 2>&1 ||
    { tail -n 20 "$log" >&2; fail "apt-get install failed"; }
fi

cargo=$(find_cargo) || fail "no Rust $wanted or newer was found; with rustup: rustup update stable"
if [ "$task" = lint ]; then
  for tool in cargo-clippy cargo-fmt; do
    PATH="$(dirname "$cargo"):$PATH" command -v "$tool" >/dev/null ||
      fail "$tool is missing; with rustup: rustup component add clippy rustfmt"
  done
fi
say "using $("$(dirname "$cargo")/rustc" --version | cut -d' ' -f1-2) at $cargo"
printf '%s\n' "$cargo"
