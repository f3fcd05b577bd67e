# One command per habit, in words. `make demo` and `make test` each work alone on a fresh machine
# that has only Python (3.11 or newer, with venv), pip, make and git.
PYTHON ?= python3
VENV   ?= .venv
BIN    := $(VENV)/bin
PIP    := $(BIN)/python -m pip --disable-pip-version-check
OUT    ?= out
# `make demo SERVE=no` ends without serving; PORT is where the workbench answers.
SERVE  ?= yes
PORT   ?= 8765

.PHONY: demo test lint format unit bench accuracy fuzz docs serve lock clean help

help: ## list the commands
	@grep -hE '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed 's/:.*##/\t/' | expand -t 10

$(VENV)/run.stamp: requirements/run.txt pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(PIP) install --quiet --require-hashes -r requirements/run.txt
	$(PIP) install --quiet --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/dev.stamp: requirements/dev.txt $(VENV)/run.stamp
	$(PIP) install --quiet --require-hashes -r requirements/dev.txt
	@touch $@

demo: $(VENV)/run.stamp ## set up, plan the invented demo cases, write their reports, serve the workbench with them
	$(BIN)/limbwright demo --into $(OUT)/demo --store $(OUT)/workbench
ifeq ($(SERVE),no)
	@echo "The workbench with these cases in the browser: make serve"
else
	$(BIN)/limbwright serve --home $(OUT)/workbench --port $(PORT)
endif

test: $(VENV)/dev.stamp lint unit ## set up, then every check and every test

lint: $(VENV)/dev.stamp node_modules/made ## style, types, import directions; types of the front end
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	npx --no-install tsc -p src/limbwright/web/static

node_modules/made: package.json package-lock.json
	requirements/system.sh npm nodejs npm
	npm ci --ignore-scripts --no-audit --no-fund --silent
	@touch $@

format: $(VENV)/dev.stamp ## mend what the style checker can mend
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

unit: $(VENV)/dev.stamp ## unit, property and outside tests on all cores, with coverage
	$(BIN)/pytest -n auto --cov --cov-report=term
	$(BIN)/python tests/coverage_of_rooms.py

bench: $(VENV)/dev.stamp ## speed, as ratios measured side by side in one run on one core
	for bench in benchmarks/bench_*.py; do echo "== $$bench"; $(BIN)/python $$bench || exit 1; done

accuracy: $(VENV)/dev.stamp ## accuracy of assisted reading on phantom films; writes docs/accuracy.md
	$(BIN)/python benchmarks/accuracy.py

fuzz: $(VENV)/dev.stamp ## 20,000 damaged film files: no crash, no hang, always a plain error
	$(BIN)/python tests/fuzz/fuzz_film_reading.py --files 20000

docs: $(VENV)/dev.stamp ## write the pages that are made from the code
	$(BIN)/python docs/write_findings.py
	$(BIN)/python docs/write_command_line.py
	$(BIN)/python docs/schema/write.py

serve: $(VENV)/run.stamp ## the workbench on loopback
	$(BIN)/limbwright serve --home $(OUT)/workbench --port $(PORT) --open-demo

lock: ## compile the two requirement files again (names, versions and hashes only)
	$(BIN)/python requirements/compile.py

clean: ## remove what the commands above made
	rm -rf $(VENV) $(OUT) node_modules .mypy_cache .ruff_cache .pytest_cache .hypothesis .coverage
