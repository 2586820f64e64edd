# Sealwright. On a fresh machine: `make demo` does the main job, `make test` tests everything.
FIND = python3 tools/pythons.py
export PYTHONUTF8 = 1
# One thread for linear algebra: two test processes on two cores else spend half their time waiting for each other.
export OMP_NUM_THREADS = 1
BIN = .venv/bin
# Which process takes which files: tests/core/conftest.py.
PYTEST = -m pytest tests/core -n 2 --dist loadfile

.PHONY: demo test test-any test-numpy1 test-py313 lint quick scenes extension addon-types addon-test
.PHONY: package-test blender-test benchmark clean

# ---- environments -------------------------------------------------------------------------------------
# .venv: newest libraries on any Python from 3.11 on, 3.11 where there is a choice.
# .venv-numpy1: Python 3.11 with NumPy 1.26, as in the oldest Blender.
# .venv-py313: newest libraries on Python 3.13, as in the newest Blender.
.venv/.ready: pyproject.toml
	$$($(FIND) any) -m venv .venv
	$(BIN)/python -m pip install --quiet --upgrade pip
	$(BIN)/python -m pip install --quiet --editable '.[test]'
	touch $@
.venv-numpy1/.ready: pyproject.toml
	$$($(FIND) 3.11) -m venv .venv-numpy1
	.venv-numpy1/bin/python -m pip install --quiet --upgrade pip
	.venv-numpy1/bin/python -m pip install --quiet --editable '.[test]' 'numpy<2'
	touch $@
.venv-py313/.ready: pyproject.toml
	$$($(FIND) 3.13) -m venv .venv-py313
	.venv-py313/bin/python -m pip install --quiet --upgrade pip
	.venv-py313/bin/python -m pip install --quiet --editable '.[test]'
	touch $@

# ---- the main job -------------------------------------------------------------------------------------
demo: .venv/.ready
	$(BIN)/sealwright demo --out out/demo

# ---- tests --------------------------------------------------------------------------------------------
lint: .venv/.ready
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python tools/recipe_doc.py --check
	$(BIN)/python tools/report_types.py --check
	$(BIN)/python tools/error_doc.py --check
	$(BIN)/python tools/panel_doc.py --check
	$(BIN)/python tools/text_list.py --check

quick: .venv/.ready
	$(BIN)/python $(PYTEST) -m 'not heavy'

# With the Pythons that are there; which ones are missing is said. CI=true demands all of them.
# With both, each case of a heavy test runs under one of them (SEALWRIGHT_PART, tests/core/conftest.py).
# Of what takes one process two go side by side; the package is tested while one Blender ends before the other.
test:
	$(FIND) missing
	$(MAKE) -j 2 lint addon-types
	if $(FIND) 3.11 >/dev/null 2>&1 && $(FIND) 3.13 >/dev/null 2>&1; then \
		SEALWRIGHT_PART=0 $(MAKE) test-numpy1 && SEALWRIGHT_PART=1 $(MAKE) test-py313; \
	elif $(FIND) 3.11 >/dev/null 2>&1; then $(MAKE) test-numpy1; \
	elif $(FIND) 3.13 >/dev/null 2>&1; then $(MAKE) test-py313; \
	else $(MAKE) test-any; fi
	$(MAKE) -j 2 blender-test package-test
	$(FIND) missing

test-any: .venv/.ready
	$(BIN)/python $(PYTEST)

test-numpy1: .venv-numpy1/.ready
	.venv-numpy1/bin/python $(PYTEST)

test-py313: .venv-py313/.ready
	.venv-py313/bin/python $(PYTEST)

# ---- the Blender extension ----------------------------------------------------------------------------
.bpy-ready: .venv/.ready
	$(BIN)/python tests/package/run.py --venvs-only
	touch $@

extension: .bpy-ready
	$(BIN)/python tools/build_extension.py

addon-types: .venv/.ready
	$(BIN)/python tools/check_types.py

addon-test: addon-types package-test blender-test

package-test: .bpy-ready
	$(BIN)/python -m pytest tests/package

blender-test: .bpy-ready
	$(BIN)/python tests/package/run.py

# ---- demo scenes --------------------------------------------------------------------------------------
scenes: .bpy-ready
	$(BIN)/python tools/build_scenes.py --out out/scenes

# ---- seldom -------------------------------------------------------------------------------------------
benchmark: .bpy-ready
	$(BIN)/python benchmarks/versus_native.py --blender-python .venv-bpy52/bin/python

clean:
	rm -rf build dist out .venv .venv-* .bpy-ready
