# Sealwright: `make demo` and `make test` do everything on a fresh machine.
PYTHON ?= python3.11
VENV ?= .venv
BIN = $(VENV)/bin

.PHONY: demo test lint scenes venv clean

venv: $(VENV)/.ready
$(VENV)/.ready: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade pip
	$(BIN)/python -m pip install --quiet --editable '.[test]'
	touch $@

demo: venv
	$(BIN)/sealwright demo --out out/demo

lint: venv
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy

test: lint
	$(BIN)/python -m pytest tests/core -n 2

clean:
	rm -rf build dist out $(VENV)
