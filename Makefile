# A fresh machine needs Python 3.11 or later and make; everything else lands in .venv.
#
#   make setup    everything installed, without running anything
#   make run      the main job on an example (CHANGES, START, MOST, or all of ARGS)
#   make test     checks, then the whole suite (PYTEST_ARGS="-k name" narrows it, WORKERS=1 spares the machine)
#   make check    lint, format, types, import order
#   make bench    the benchmarks
#   make pictures the pictures of the docs, made again
#   make format   put the code into its one format
#   make clean    remove everything that was made

PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
RUNS := $(VENV)/.runs
TESTS := $(VENV)/.tests

CHANGES ?= Dm7 | G7 | Cmaj7
START ?= D4
MOST ?= 8
ARGS ?= pick --changes "$(CHANGES)" --start "$(START)" --most $(MOST)

WORKERS ?= 2
PYTEST_ARGS ?=

.DEFAULT_GOAL := run
.PHONY: setup run test check bench pictures format clean

setup: $(TESTS)

# The main job needs little, so that a first try takes seconds; everything else comes with the first test.
$(RUNS): pyproject.toml constraints.txt
	@$(PYTHON) -c 'import sys; v = sys.version.split()[0]; sys.version_info >= (3, 11) or sys.exit("Python " + v + " is too old: Python 3.11 or later is needed. Try: make PYTHON=python3.12 run")'
	@echo 'Setting up $(VENV) for the main job: a few seconds the first time.'
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install -qq --disable-pip-version-check -c constraints.txt -e .
	@# Compiled once here, so that no command has to where Python may not keep what it compiles.
	@$(BIN)/python -m compileall -q corpora rules solver everyline
	@touch $@

$(TESTS): $(RUNS)
	@echo 'Installing everything else in $(VENV): a minute or two the first time.'
	@$(BIN)/python -m pip install -qq --disable-pip-version-check -c constraints.txt -e '.[all,dev]'
	@touch $@

run: $(RUNS)
	@$(BIN)/everyline $(ARGS)

test: setup check
	$(BIN)/python -m pytest -n $(WORKERS) --dist worksteal $(PYTEST_ARGS)

check: setup
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	@# As it is installed, so that links are folders.
	@rm -rf build/imports && mkdir -p build/imports && cp -RL everyline build/imports/everyline
	cd build/imports && PYTHONPATH=. $(abspath $(BIN))/lint-imports ../../pyproject.toml --no-logo

bench: setup
	$(BIN)/python -m benchmarks

pictures: setup
	$(BIN)/python docs/pictures/draw.py
	$(BIN)/python docs/pictures/page.py

format: setup
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

clean:
	rm -rf $(VENV) .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis build dist
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
