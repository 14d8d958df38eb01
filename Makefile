# Two commands for people: `make demo` and `make test`. Each sets up what is missing first.
SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help
.PHONY: help setup demo test lint format docs docs-update bench fuzz lock clean

PYTHON := .venv/bin/python
# More words for pytest, the demo or a benchmark: make test ARGS='-k listing'
ARGS ?=

help: ## say what can be made
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/^([a-z-]+):[^#]*## (.*)/make \1\t\2/' | expand -t 20

setup: ## install what is missing (quick when nothing is)
	@tools/setup

demo: setup ## build and run the worked example in a fresh folder
	.venv/bin/asflown demo $(ARGS)

test: ## run every test
	@tools/setup tests
	$(PYTHON) -m pytest -n 2 $(ARGS)

lint: setup ## check style, layout and types
	@status=0; for check in "ruff check" "ruff format --check" "mypy"; do \
		echo "$$check"; $(PYTHON) -m $$check || status=1; done; exit $$status

format: setup ## lay the code out, and mend what can be mended without thought
	$(PYTHON) -m ruff check --fix-only .
	$(PYTHON) -m ruff format .

docs: setup ## build the documentation into docs/_build/html; a warning fails
	$(PYTHON) -m sphinx -q -W --keep-going -b html docs docs/_build/html

docs-update: setup ## run the commands on the pages and put what they print there
	ASFLOWN_DOCS_UPDATE=1 $(PYTHON) -m pytest -q -p no:randomly tests/docs/test_commands_page.py tests/docs/test_console_blocks.py

bench: setup ## run the benchmarks
	@for file in benchmarks/[a-z]*.py; do echo "== $$file"; $(PYTHON) "$$file" $(ARGS); done

fuzz: setup ## feed broken and mutated files to every reader (HYPOTHESIS_PROFILE=long for a night)
	@for file in tools/fuzz_*.py; do echo "== $$file"; $(PYTHON) "$$file" $(ARGS); done

lock: ## lock requirements/dev.in anew, with hashes, without addresses (needs uv)
	cd requirements && uv pip compile -q --generate-hashes --no-header --python-version 3.11 dev.in -o dev.txt

clean: ## remove what was made (the store of your aircraft is elsewhere and stays)
	rm -rf .venv docs/_build demo-run .mypy_cache .ruff_cache .pytest_cache .hypothesis .coverage
