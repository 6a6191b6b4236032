# The two commands of the README, and the few that a contributor needs.
PYTHON ?= python3
VENV ?= .venv
BIN = $(VENV)/bin
PIP = $(BIN)/python -m pip install --quiet --disable-pip-version-check
LOCK = uv pip compile -q --universal --generate-hashes \
       --no-emit-index-url --no-header --no-annotate -c requirements/constraints.in

.PHONY: demo test dev docs lock bench clean FORCE

# the application as a person would have it: locked dependencies, then this package
demo: $(VENV)/run.stamp  ## start the application with the demo collection
	$(PIP) --no-deps --no-build-isolation .
	$(BIN)/outshop demo

# the tests run against the built wheel, so a template or table missing from it is noticed
test: $(VENV)/work.stamp  ## everything that must hold: style, types, arrows, tests
	rm -rf .build/dist
	$(BIN)/python -m build --wheel --no-isolation --outdir .build/dist
	$(PIP) --no-deps --force-reinstall .build/dist/*.whl
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	PYTHONPATH=src $(BIN)/lint-imports
	$(BIN)/python -m pytest -n 2 --dist loadgroup

$(BIN)/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/run.stamp: requirements/run.txt requirements/build.txt | $(BIN)/python
	$(PIP) --require-hashes -r requirements/run.txt
	$(PIP) --require-hashes -r requirements/build.txt
	touch $@

$(VENV)/work.stamp: requirements/work.txt | $(BIN)/python
	$(PIP) --require-hashes -r requirements/work.txt
	touch $@

dev: $(VENV)/work.stamp  ## an editable installation for work on the code
	$(PIP) --no-deps --no-build-isolation -e .

docs:  ## write the command reference anew
	$(BIN)/python docs/reference/generate.py

lock:  ## renew the locked dependencies (needs uv)
	$(LOCK) pyproject.toml -o requirements/run.txt
	$(LOCK) pyproject.toml -c requirements/run.txt --group test --group lint --group build -o requirements/work.txt
	$(LOCK) requirements/build.in -c requirements/work.txt -o requirements/build.txt

bench:  ## speed and memory, as ratios to a baseline of the same run
	for script in benchmarks/*.py; do $(BIN)/python $$script || exit 1; done

clean:
	rm -rf .build dist
