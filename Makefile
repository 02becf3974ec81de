.DEFAULT_GOAL := help
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
SERVE ?= 1
PORT ?= 8765
WORKERS ?= 2

help:  ## list the targets
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed 's/:.*##/\t/' | expand -t 12

$(VENV)/stamp: requirements/dev.txt pyproject.toml
	@echo "Setting up: a Python environment and its libraries (downloads on the first run) …"
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --require-hashes -r requirements/dev.txt
	$(BIN)/python -m pip install --quiet --no-build-isolation --no-deps -e .
	@touch $@

setup: $(VENV)/stamp  ## set up the environment and build the page

demo: setup  ## build the invented demo course, plan tonight and serve the page (SERVE=0: do not serve)
	$(BIN)/nightwater demo build/demo $(if $(filter 1,$(SERVE)),--serve --port $(PORT))

test: setup  ## run all tests, in WORKERS processes (0: in one)
	$(BIN)/python -m pytest -n $(WORKERS) --dist loadfile --no-loadscope-reorder

lint: setup  ## format, lint, types and import contracts
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

check: lint test  ## what CI runs

bench: setup  ## speed and quality, as ratios
	$(BIN)/python -m benchmarks

docs: setup  ## renew the pages and schemas that are derived from the declarations
	$(BIN)/python -m nightwater.desk.reference

picture: setup  ## make the picture of the README anew (needs Chromium)
	$(BIN)/python -m pytest -q tests/browser/test_looks.py -k picture
	cp build/screenshots/readme.jpg docs/tonight.jpg

lock:  ## renew the locked requirements
	$(BIN)/uv pip compile --universal --python-version 3.11 --generate-hashes --no-header --no-annotate --quiet requirements/dev.in -o requirements/dev.txt

clean:  ## remove what was built
	rm -rf $(VENV) build dist frontend/node_modules src/nightwater/web/static/dist

.PHONY: help setup demo test lint check bench docs picture lock clean
