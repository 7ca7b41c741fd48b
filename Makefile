# The commands of this repository. `make demo` and `make test` need Python 3.11 or later and make;
# everything else they fetch themselves, by the hashes in requirements.lock.

SHELL := /bin/sh
VENV := .venv
BIN := $(VENV)/bin
PORT ?= 8800
SERVE ?= yes
DEMO ?= demo-mill
SEED ?= 1
WORKERS ?= 2

.PHONY: help demo test check format lint types imports tests lock docs pictures bench clean

help:
	@echo "make demo    a demo mill in ./$(DEMO): plan of its day, papers, pages (PORT=$(PORT); SERVE=no stops before serving)"
	@echo "make test    everything: format, lint, types, imports, all tests with branch coverage"
	@echo "make check   the quick part of it: format, lint, types, imports, style tests"
	@echo "make docs    write the generated pages of docs/ again"
	@echo "make pictures  take the screenshots of docs/pictures again (needs Chromium)"
	@echo "make bench   the benchmarks, with the machine they ran on"
	@echo "make lock    requirements.lock from pyproject.toml"
	@echo "make clean   remove the demo mill, the environment and all caches"

# --- the environment ---------------------------------------------------------------------------

$(VENV)/ready: requirements.lock pyproject.toml tools/environment.sh
	@sh tools/environment.sh $(VENV)
	@touch $@

# --- the demo ----------------------------------------------------------------------------------

demo: $(VENV)/ready
	@$(BIN)/python tools/demo.py "$(DEMO)" --seed "$(SEED)" --port "$(PORT)" --serve "$(SERVE)"

# --- checks and tests --------------------------------------------------------------------------

test:
	@MAY_INSTALL=yes $(MAKE) --no-print-directory $(VENV)/ready
	@MAY_INSTALL=yes sh tools/chromium.sh $(VENV)
	@MAY_INSTALL=yes sh tools/postgresql.sh
	@$(MAKE) --no-print-directory format lint types imports tests

check: $(VENV)/ready format lint types imports
	@$(BIN)/python -m pytest -q -p no:benchmark tests/style

format: $(VENV)/ready
	@$(BIN)/ruff format --check .

lint: $(VENV)/ready
	@$(BIN)/ruff check .

types: $(VENV)/ready
	@$(BIN)/mypy

imports: $(VENV)/ready
	@$(BIN)/lint-imports

# A file's tests stay in one worker, so that what they share is made once.
tests: $(VENV)/ready
	@$(BIN)/python -m pytest -n $(WORKERS) --dist loadfile --no-loadscope-reorder -p no:benchmark \
		--cov --cov-branch --cov-report=term:skip-covered --durations=10

# --- upkeep ------------------------------------------------------------------------------------

# A week's cooldown: what was published in the last seven days is not taken yet.
lock: $(VENV)/ready
	$(BIN)/uv pip compile pyproject.toml --group dev --universal --python-version 3.11 \
		--generate-hashes --no-emit-index-url --custom-compile-command "make lock" \
		--exclude-newer "$$($(BIN)/python -c 'import datetime as d; print((d.datetime.now(d.UTC) - d.timedelta(days=7)).strftime("%Y-%m-%dT00:00:00Z"))')" \
		--output-file requirements.lock --upgrade

docs: $(VENV)/ready
	@$(BIN)/python tools/write_docs.py

pictures: $(VENV)/ready
	@sh tools/chromium.sh $(VENV)
	@$(BIN)/python tools/screenshots.py

bench: $(VENV)/ready
	@for script in benchmarks/bench_*.py; do echo "== $$script"; $(BIN)/python $$script || exit 1; done

clean:
	rm -rf $(VENV) $(DEMO) .mypy_cache .ruff_cache .pytest_cache .import_linter_cache .hypothesis .coverage
