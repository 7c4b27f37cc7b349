# Everything Shedtide builds lies under .venv/ and var/; remove both to start afresh.
# Needs python3 (3.11 or newer) with venv, and make.

PYTHON ?= python3
PORT ?= 8000
VENV := .venv
BIN := $(VENV)/bin
MANAGE := $(BIN)/python manage.py
PIP := $(BIN)/python -m pip install --disable-pip-version-check --quiet --require-hashes

RUNTIME := $(VENV)/.runtime
DEV := $(VENV)/.stamp
E2E := $(VENV)/.e2e
CHROMIUM := $(firstword $(shell command -v chromium chromium-browser google-chrome 2>/dev/null))

.PHONY: demo test quick static bench soak doctor shots lint lock venv clean

# The demo yard, packed and served, on its own day. `make demo ONCE=1` does all but serve.
demo: $(RUNTIME)
	$(MANAGE) demo --port $(PORT) $(if $(ONCE),--once)

# Everything there is to test, with what this machine has: see tests/run.sh for the parts.
test: static $(if $(CHROMIUM),$(E2E))
	BIN=$(BIN) tests/run.sh

# The inner loop: lint, then every test that needs no browser, no second process and no long run. What is compiled
# is kept even where the shell says otherwise: else every run compiles all tests anew, in each worker.
quick: export PYTHONDONTWRITEBYTECODE =
quick: $(DEV)
	$(BIN)/ruff check --quiet .
	$(BIN)/pytest -n 2 --dist worksteal --ff -x -m "not slow and not browser and not served"

static: $(DEV) lint
	$(MANAGE) makemigrations --check --dry-run
	$(BIN)/check-jsonschema --builtin-schema vendor.compose-spec docker-compose.yml

lint: $(DEV)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

# Each figure with its target; FULL=1 with every seed, rule and job shop. By suite, without a site:
# `.venv/bin/python -m scheduling.engine bench --suite yards`.
bench: $(DEV)
	$(BIN)/python tools/bench.py $(if $(FULL),--full) $(if $(JSON),--json)

# The long runs, by night or by hand: TEST_SIZE scales random tests up.
soak: $(DEV)
	TEST_SIZE=soak $(BIN)/pytest -n 2 -m slow

doctor: $(RUNTIME)
	$(MANAGE) doctor

# Pictures of each side's first page, of the demo yard, into var/shots/; those of the README with
# `make shots README=docs/pictures`. Needs Chromium.
shots: export SHEDTIDE_TODAY ?= 2026-11-24
shots: $(E2E)
	$(MANAGE) demo --once
	$(BIN)/python tools/shots.py $(if $(README),--readme $(README))

# One lock a purpose, each held to the one before it. Needs uv.
lock:
	for name in requirements requirements-dev requirements-e2e; do \
	  UV_CUSTOM_COMPILE_COMMAND="make lock" uv pip compile --no-config --universal --python-version 3.11 \
	    --generate-hashes --no-emit-index-url --no-emit-find-links --quiet $$name.in -o $$name.txt || exit 1; \
	done

venv: $(DEV)

clean:
	rm -rf $(VENV) var

$(BIN)/python:
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "Python 3.11 or newer is needed")'
	$(PYTHON) -m venv $(VENV)

$(RUNTIME): requirements.txt | $(BIN)/python
	$(PIP) -r requirements.txt
	touch $@

# The dev lock holds the runtime lock, so one install serves both stamps.
$(DEV): requirements-dev.txt | $(BIN)/python
	$(PIP) -r requirements-dev.txt
	touch $(RUNTIME) $@

$(E2E): requirements-e2e.txt $(DEV)
	$(PIP) -r requirements-e2e.txt
	touch $@
