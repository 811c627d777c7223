# Callwright. Every task sets up what it needs first (scripts/setup.sh), so that a bare Debian 12 is enough.
#   make run    the app on this machine's own address, with the demo shop (the terminal's call: callwright call --demo)
#   make app    the app as a static folder for any HTTPS host (APP=target/app)
#   make test   every test, in a browser too, and the workspace's own rules
#   make guide  the guide as a book into target/guide (mdBook)
#   make lint   clippy, formatting, and the workspace's own rules
#   make bench  every benchmark there is
#   make rehearsal  docs/rehearsals.md and .svg: the tool and its rivals on the same hidden faults (CALLS=150 SEED=1 ROBUST=)
#   make rehearsal-every  docs/rehearsals-every.md: every shipped machine in one table (EVERY_CALLS=60 SEED=1)
#   make rehearsal-danger  docs/rehearsal-dangers.md: many calls by the tool for the danger counts alone (DANGER_CALLS=10000 SEED=1)
#   make plan-large  the planner and its rivals on problems of 60 and more tests, into docs/benchmarks.md (PROBLEMS=1 RUNS=16 SEED=1)
#   make same-bits  the engine's results natively and as WebAssembly, bit for bit (needs rustup and node)
#   make pictures  docs/guide/src/pictures: the demo's screens at both sizes, light and dark
#   make fuzz   each fuzz target for a minute (needs a nightly compiler by rustup)
#   make audit  known weaknesses of what comes from others (cargo-deny; needs a network)
#   make setup  only what the tests need

# Where the app is built into, and where `make run` serves it. A browser keeps one book for each address.
APP = target/app
AT = 127.0.0.1:8787

# Puts the cargo that was found, and the rustc beside it, first in the path.
ready = set -e; cargo="$$(scripts/setup.sh $(1))"; PATH="$$(dirname "$$cargo"):$$PATH"; export PATH
step = echo "make: $(1)"
# The tests that need a browser, on the app that was built. All of these runs name the workspace, since a package by itself is built
# with other features, and so is everything under it once more. Skipped in every test for those who only work on the engine.
in_browser = CALLWRIGHT_APP="$(abspath $(APP))" CALLWRIGHT_AXE="$$(scripts/fetch-axe.sh)" \
	  cargo test --workspace --test browser -- --ignored

.PHONY: help run app test pictures guide lint bench rehearsal rehearsal-every rehearsal-danger plan-large same-bits fuzz audit setup

help:
	@sed -n 's/^#   //p' Makefile

run:
	@$(call ready,run); \
	$(call step,building callwright); cargo build --release --package callwright; \
	$(call step,building the app); scripts/build-app.sh $(APP); \
	$(call step,serving the app until Ctrl-C); cargo run --release --quiet --package callwright -- serve $(APP) --at $(AT)

app:
	@$(call ready,app); \
	$(call step,building the app); scripts/build-app.sh $(APP)

test:
	@$(call ready,test); \
	$(call step,the workspace and its own rules); cargo xtask tidy; \
	$(call step,every test); cargo test --workspace; \
	$(call step,the book on PostgreSQL and a certificate from an authority and papers under the rules of EN 16931); \
	scripts/with-postgres.sh cargo test --workspace --test store --test generator --test acme --test open_format -- --ignored; \
	$(call step,building the app); scripts/build-app.sh $(APP); \
	$(call step,the app in a browser); $(in_browser)

guide:
	@$(call ready,run); \
	command -v mdbook >/dev/null || { $(call step,installing mdbook); cargo install --locked mdbook; }; \
	PATH="$${CARGO_HOME:-$$HOME/.cargo}/bin:$$PATH"; $(call step,the guide into target/guide); mdbook build docs/guide

# Pictures of the demo in the browser, for docs/app.md and the guide.
pictures:
	@$(call ready,test); \
	$(call step,building the app); scripts/build-app.sh $(APP); \
	$(call step,taking pictures); export CALLWRIGHT_PICTURES="$(abspath docs/guide/src/pictures)"; $(in_browser) pictures

lint:
	@$(call ready,lint); \
	$(call step,the workspace and its own rules); cargo xtask tidy; \
	$(call step,formatting); cargo fmt --all --check; \
	$(call step,clippy); cargo clippy --workspace --all-targets -- -D warnings

bench:
	@$(call ready,bench); \
	$(call step,building the app); scripts/build-app.sh $(APP); \
	$(call step,every benchmark); export CALLWRIGHT_APP="$(abspath $(APP))"; scripts/with-postgres.sh cargo xtask bench

# Calls for each machine, the seed, and ROBUST=--robust for the tables with something off.
CALLS = 150
SEED = 1
ROBUST =

rehearsal:
	@$(call ready,run); \
	$(call step,rehearsing $(CALLS) calls for each machine); \
	cargo run --release --quiet --package rehearsal --example rehearsals -- docs/rehearsals.md docs/rehearsals.svg \
	  calls=$(CALLS) seed=$(SEED) $(ROBUST) machines/dryer-timer-240.toml machines/range-control-240.toml

EVERY_CALLS = 60

rehearsal-every:
	@$(call ready,run); \
	$(call step,rehearsing $(EVERY_CALLS) calls for every machine); \
	cargo run --release --quiet --package rehearsal --example every -- docs/rehearsals-every.md machines \
	  calls=$(EVERY_CALLS) seed=$(SEED)

# Calls over both machines together.
DANGER_CALLS = 10000

rehearsal-danger:
	@$(call ready,run); \
	$(call step,rehearsing $(DANGER_CALLS) calls for the danger counts); \
	nice -n 5 cargo run --release --quiet --package rehearsal --example dangers -- docs/rehearsal-dangers.md \
	  calls=$(DANGER_CALLS) seed=$(SEED) machines/dryer-timer-240.toml machines/range-control-240.toml

# Problems in each block, and draws for each.
PROBLEMS = 1
RUNS = 16

plan-large:
	@$(call ready,run); \
	$(call step,playing $(PROBLEMS) large problems a block); \
	cargo run --release --quiet --package repair --example plan_large -- problems=$(PROBLEMS) runs=$(RUNS) seed=$(SEED) docs/benchmarks.md

same-bits:
	@$(call ready,run); \
	command -v node >/dev/null || { echo "make: install node 20 or newer" >&2; exit 1; }; \
	rustup target add wasm32-wasip1 >/dev/null 2>&1 || { echo "make: the WebAssembly target needs rustup" >&2; exit 1; }; \
	out="$$(mktemp -d)"; trap 'rm -rf "$$out"' EXIT; \
	$(call step,natively); cargo run --quiet --release --package repair --example bits >"$$out/native"; cat "$$out/native"; \
	$(call step,as WebAssembly); cargo build --quiet --release --target wasm32-wasip1 --package repair --example bits; \
	node --no-warnings scripts/wasi.mjs "$${CARGO_TARGET_DIR:-target}/wasm32-wasip1/release/examples/bits.wasm" >"$$out/wasm"; cat "$$out/wasm"; \
	cmp "$$out/native" "$$out/wasm"; $(call step,the same bits)

# Seconds for each fuzz target.
FUZZ_SECONDS = 60
FUZZ_TARGETS = machine call meters typed batch event list setting

fuzz:
	@set -e; PATH="$${CARGO_HOME:-$$HOME/.cargo}/bin:$$PATH"; export PATH; \
	command -v rustup >/dev/null && rustup run nightly rustc --version >/dev/null 2>&1 || \
	  { echo "make: fuzzing needs a nightly compiler: install rustup, then rustup toolchain install nightly" >&2; exit 2; }; \
	command -v cargo-fuzz >/dev/null || { $(call step,installing cargo-fuzz); cargo install --locked cargo-fuzz; }; \
	for target in $(FUZZ_TARGETS); do \
	  $(call step,fuzzing $$target for $(FUZZ_SECONDS) s); \
	  rustup run nightly cargo fuzz run $$target -- -max_total_time=$(FUZZ_SECONDS) -max_len=20000; \
	done

audit:
	@$(call ready,run); \
	command -v cargo-deny >/dev/null || { $(call step,installing cargo-deny); cargo install --locked cargo-deny; }; \
	PATH="$${CARGO_HOME:-$$HOME/.cargo}/bin:$$PATH"; $(call step,asking the advisory database); cargo deny check advisories

setup:
	@$(call ready,test)
