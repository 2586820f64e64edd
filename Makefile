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

# The Blender extension: one package per platform in dist/, tested in two Blenders
.PHONY: extension addon-types addon-test bpy-venvs
bpy-venvs: venv
	$(BIN)/python tests/package/run.py --venvs-only

extension: bpy-venvs
	$(BIN)/python tools/build_extension.py

addon-types: venv
	$(BIN)/python tools/check_types.py

addon-test: bpy-venvs addon-types
	$(BIN)/python -m pytest tests/package
	$(BIN)/python tests/package/run.py
