# Colophony: every task in one word. Needs Python 3.11 to 3.13 and make (GNU make 3.81 or later).
# Choose a Python with: make setup PYTHON=python3.12

BIN := .venv/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check
SETUP := .venv/setup-done
DEV := .venv/dev-done
TESTS ?= tests
PYTEST_FLAGS ?= -n auto --dist loadfile

.DEFAULT_GOAL := help
.PHONY: help setup demo studio test check docs words physics bench lock clean

help: ## Say what each word does
	@echo "make WORD, where WORD is:"
	@sed -n 's/^\([a-z]*\):.*## \(.*\)/  \1	\2/p' Makefile

setup: $(SETUP) ## Install Colophony into .venv
	@echo "Ready: $(BIN)/colophony --help"

$(SETUP): requirements.lock pyproject.toml tools/make_venv.sh
	@sh tools/make_venv.sh
	@echo "Installing what Colophony needs (a few minutes the first time) ..."
	@$(PIP) install --require-hashes -r requirements.lock
	@$(PIP) install --quiet --no-deps -e .
	@touch $@

$(DEV): $(SETUP) requirements-dev.lock
	@echo "Installing what the tests need ..."
	@$(PIP) install --require-hashes -r requirements-dev.lock
	@touch $@

demo: $(SETUP) ## Hear the bundled recordings; print the findings, write sheet and page to out/
	@$(BIN)/colophony demo --out out

studio: $(SETUP) ## Open the studio's pages in the browser (Ctrl-C ends it)
	@$(BIN)/colophony studio serve

test: $(DEV) ## Run all tests
	@$(BIN)/python -m pytest $(PYTEST_FLAGS) $(TESTS)

check: $(DEV) ## Format, lint, types, layers, tests, docs
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python -m pytest $(PYTEST_FLAGS) tests

docs: $(DEV) ## Write docs/commands.md and the README's output again from the program
	@$(BIN)/python tools/make_docs.py

words: $(DEV) ## Write the catalogue of messages again from the source
	@$(BIN)/python tools/make_catalogue.py

physics: $(DEV) ## Compute the tables and pictures of docs/physics.md again (some minutes)
	@$(BIN)/python tools/make_physics.py

bench: $(DEV) ## Measure speed and memory
	@$(BIN)/python -m bench

lock: ## Resolve the dependencies again (needs uv)
	@uv lock --upgrade
	@sh tools/make_locks.sh

clean: ## Remove .venv and everything that was made
	@rm -rf .venv out build dist .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
