# Callwright. Every task sets up what it needs first (scripts/setup.sh), so that a bare Debian 12 is enough.
#   make run    the demonstration call
#   make test   every test, and the workspace's own rules
#   make lint   clippy, formatting, and the workspace's own rules
#   make bench  every benchmark there is
#   make setup  only what the tests need

# What `make run` shows.
DEMO = call --demo

# Puts the cargo that was found, and the rustc beside it, first in the path.
ready = set -e; cargo="$$(scripts/setup.sh $(1))"; PATH="$$(dirname "$$cargo"):$$PATH"; export PATH
step = echo "make: $(1)"

.PHONY: help run test lint bench setup

help:
	@sed -n 's/^#   //p' Makefile

run:
	@$(call ready,run); \
	$(call step,building callwright); cargo build --release --package callwright; \
	$(call step,callwright $(DEMO)); cargo run --release --quiet --package callwright -- $(DEMO)

test:
	@$(call ready,test); \
	$(call step,the workspace and its own rules); cargo xtask tidy; \
	$(call step,every test); cargo test --workspace

lint:
	@$(call ready,lint); \
	$(call step,the workspace and its own rules); cargo xtask tidy; \
	$(call step,formatting); cargo fmt --all --check; \
	$(call step,clippy); cargo clippy --workspace --all-targets -- -D warnings

bench:
	@$(call ready,bench); \
	$(call step,every benchmark); cargo xtask bench

setup:
	@$(call ready,test)
