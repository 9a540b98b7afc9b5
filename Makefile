# Works in a fresh clone: the first call makes .venv, later ones only do what changed.

SHELL  := /bin/bash
PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
DB     := build/kb.db
PIP    := $(BIN)/python -m pip install --disable-pip-version-check --quiet
SOURCES := $(shell find kb loaders -name '*.py' 2>/dev/null)

.PHONY: demo test lint bench campaign mutants pins docs clean

# The main job, as README.md shows it. The database is named by KB_DB, so each line can be typed as it stands.
demo: export KB_DB := $(DB)
demo: export PATH := $(CURDIR)/$(BIN):$(PATH)
demo: $(DB)
	kb identify --serial '?1?42' --mark gear-case=18-E25 --mark base-frame='3?-Q50'
	kb parts --serial '?1?42' --mark gear-case=18-E25 --mark base-frame='3?-Q50' --saw pump-body.relief-boss=round --assembly pump

$(DB): $(VENV)/.ready $(SOURCES) $(shell find demo_data -type f 2>/dev/null)
	@mkdir -p $(@D)
	$(BIN)/kb build demo_data/mills-and-pumps --db $@

# Every core has a worker. The tests of one file stay together and in order: those of a page are a session in which one line needs the one before.
PYTEST := $(BIN)/python -m pytest -q --numprocesses auto --dist loadfile

test: $(VENV)/.ready-test
	tests/system_packages.sh
	$(PYTEST)

lint: $(VENV)/.ready-test
	$(BIN)/ruff check
	$(BIN)/mypy

bench: $(VENV)/.ready-test
	$(BIN)/python -m benchmarks

# The long versions of what `make test` does in brief: more random moments, more random inputs.
CAMPAIGN := tests/cli tests/crash tests/dataset tests/desk tests/generated tests/loaders tests/outside tests/probability tests/store tests/web tests/words
campaign: $(VENV)/.ready-test
	tests/system_packages.sh
	KB_CAMPAIGN=1 $(PYTEST) $(CAMPAIGN)

# Small faults put into the rules one at a time: which test notices?
mutants: $(VENV)/.ready-test
	$(BIN)/python -m benchmarks.mutants

# The versions that a served site is installed from, within the bounds of pyproject.toml.
PINS := docs/serving/requirements.txt
pins: $(VENV)/.made
	$(PIP) 'pip-tools>=7.6,<8'
	cp $(PINS) $(PINS).new
	$(BIN)/pip-compile --quiet --upgrade --generate-hashes --allow-unsafe --strip-extras --no-annotate --no-header --no-emit-index-url \
	    --no-emit-trusted-host --no-emit-find-links --no-emit-options --output-file $(PINS).new pyproject.toml
	(head -n 1 $(PINS); grep -E '^( |[a-z])' $(PINS).new) > $(PINS).whole
	mv $(PINS).whole $(PINS) && rm $(PINS).new

docs: $(VENV)/.ready-test
	$(BIN)/python docs/generate.py

clean:
	rm -rf build $(VENV) .mypy_cache .pytest_cache .ruff_cache .hypothesis casting_kb.egg-info
	find . -name __pycache__ -type d -prune -exec rm -rf {} +

$(VENV)/.made:
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "Python 3.11 or newer is needed; name one: make PYTHON=python3.11 $(MAKECMDGOALS)")'
	$(PYTHON) -m venv $(VENV)
	@touch $@

$(VENV)/.ready: $(VENV)/.made pyproject.toml
	$(PIP) --editable .
	@touch $@

$(VENV)/.ready-test: $(VENV)/.ready
	$(PIP) --editable '.[test,outside,lint]'
	@touch $@
