# Every command of this house. `make setup` first; the rest are listed by `make help`.

SHELL := /bin/bash
.DEFAULT_GOAL := help
.PHONY: help setup check fast test study bench docs demo ci lock

BIN := .venv/bin
PYTEST := $(BIN)/python -m pytest
ON_BOTH_CORES := -n 2 --dist worksteal
KILLED := tests/faults/test_killed_server.py -k random

help:  ## this list
	@sed -n 's/^\([a-z]*\):.*## /\1\t/p' $(MAKEFILE_LIST) | expand -t 10

setup: .venv/installed  ## make .venv with locked, hashed packages and the command in it

.venv/installed: requirements/dev.txt pyproject.toml
	test -x $(BIN)/python || python3 -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/dev.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	$(BIN)/plasmawright simulate docs/examples/contract.toml > /dev/null
	touch $@

lock:  ## choose package versions anew
	$(BIN)/uv pip compile pyproject.toml --generate-hashes --no-emit-index-url --universal --no-header --upgrade --quiet -o requirements/runtime.txt
	$(BIN)/uv pip compile pyproject.toml --extra dev -c requirements/runtime.txt --generate-hashes --no-emit-index-url --universal --no-header --upgrade --quiet -o requirements/dev.txt

check: setup  ## style, types, rooms, dependencies, the house itself
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	PLASMAWRIGHT_DATA=build/data $(BIN)/mypy
	$(BIN)/lint-imports --no-cache
	$(BIN)/deptry src
	$(PYTEST) -q tests/house

fast: setup  ## what ends within ten seconds
	$(PYTEST) -q -x -m "not database and not browser and not slow"

test: setup  ## everything; database tests on SQLite and once more on PostgreSQL
	$(PYTEST) $(ON_BOTH_CORES) -m 'not browser'
	$(PYTEST) -m browser
	tests/on_postgresql.sh $(PYTEST) $(ON_BOTH_CORES) -m 'database and not browser'

study: setup  ## the model held against published spins, and the server killed 100 times on each database
	$(BIN)/plasmawright check-model
	$(PYTEST) --kills 100 $(KILLED)
	tests/on_postgresql.sh $(PYTEST) --kills 100 $(KILLED)

bench: setup  ## the promised speeds
	$(BIN)/python -m benchmarks

docs: setup  ## what the manual takes from the code, the table of steps too
	$(BIN)/python docs/generate.py

demo: setup  ## an invented clinic in a throw-away folder
	$(BIN)/plasmawright demo

ci: check test  ## what the build machine runs
