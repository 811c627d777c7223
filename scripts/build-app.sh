#!/usr/bin/env bash
# Builds the app into a static folder.
#   scripts/build-app.sh [FOLDER]     target/app if none is named
# Builds the module with rustup's library for the browser where it is there or can be had, else with Debian's own Rust
# and the library built from its source.
set -euo pipefail
cd "$(dirname "$0")/.."

out=${1:-target/app}
say() { printf 'app: %s\n' "$*" >&2; }

cargo=$(scripts/setup.sh app)
PATH="$(dirname "$cargo"):$PATH"
target=wasm32-unknown-unknown
built=${CARGO_TARGET_DIR:-target}

say "building the module"
if [ -d "$(rustc --print sysroot)/lib/rustlib/$target/lib" ]; then
  cargo build --quiet --profile app --package app --target $target
else
  PATH="/usr/bin:$PATH" RUSTC=/usr/bin/rustc RUSTC_BOOTSTRAP=1 \
    CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER=/usr/lib/llvm-19/bin/wasm-ld \
    /usr/bin/cargo build --quiet --profile app --package app --target $target -Zbuild-std=std,panic_abort
fi

say "binding it to the browser"
cargo run --quiet --package xtask --features app -- app "$built/$target/app/app.wasm" "$out"
