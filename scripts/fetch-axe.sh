#!/usr/bin/env bash
# Fetches axe-core, which judges the app's pages in the tests, from the npm registry, checks its sum, and prints the path of
# its script. Of the product it is no part. Quick when it is there already.
set -euo pipefail
cd "$(dirname "$0")/.."

version=4.14.1
sum=e6b0ce02b84d892e2e33e403485e7f3d6c29e2be6df65daf44d89ba564139745
script=target/axe-core-$version.min.js

if [ ! -f "$script" ]; then
  printf 'setup: fetching axe-core %s\n' "$version" >&2
  fetched=$(mktemp -d)
  trap 'rm -rf "$fetched"' EXIT
  curl --silent --show-error --fail --location --retry 3 --output "$fetched/axe.tgz" \
    "https://registry.npmjs.org/axe-core/-/axe-core-$version.tgz"
  printf '%s  %s\n' "$sum" "$fetched/axe.tgz" | sha256sum --check --quiet >&2
  tar --extract --gzip --file "$fetched/axe.tgz" --directory "$fetched" package/axe.min.js
  mkdir -p target
  mv "$fetched/package/axe.min.js" "$script"
fi
printf '%s\n' "$PWD/$script"
