# make demo   run the main job on the demo library, then serve the app until Ctrl-C
# make test   install what the tests need and run them all
PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
PIP    := $(BIN)/python -m pip --disable-pip-version-check --quiet
UV     := $(BIN)/uv pip install --quiet --compile-bytecode --python $(BIN)/python
PYTEST := $(BIN)/python -m pytest
# What is tested without the engine, so that it need not wait for the kernels.
PLAIN  := $(addprefix tests/,test_architecture.py book jobs notation press/test_press_drawing.py shop soak tools units)

.PHONY: demo test plain chromium kernels lint format bench docs lock clean

demo: $(VENV)/.runtime
	$(BIN)/benchlore demo build/demo
	$(BIN)/benchlore --library build/demo serve

test:
	$(MAKE) --no-print-directory -j2 $(VENV)/.dev chromium
	$(MAKE) --no-print-directory -j2 kernels plain
	MADE_DEMO=$(CURDIR)/build/made $(PYTEST) -n auto --dist loadfile $(addprefix --ignore=,$(PLAIN))

plain: lint
	$(PYTEST) $(PLAIN)

# The engine's kernels, compiled once and kept in the package, instead of by each of the tests' processes. The
# demo library that this makes is also the one that the tests look at.
kernels: $(VENV)/.dev
	rm -rf build/kernels build/made
	mkdir -p build/made
	$(BIN)/python -m compileall -q src   # where Python may not keep bytecode, each process would compile it anew
	$(BIN)/benchlore demo build/made/library --effort quick > build/made/told.txt
	cp -r build/made/library build/kernels
	$(BIN)/benchlore --library build/kernels plan tornvik-mc2 no-drive --effort quick --steps 12 > /dev/null
	$(BIN)/benchlore --library build/kernels next tornvik-mc2 no-drive > /dev/null
	PYTHONPATH=benchmarks $(BIN)/python -c "from numpy.random import default_rng; from random_instances import random_instance; \
		from benchlore.procedure import sampled_bound; sampled_bound(random_instance(default_rng(1), (3, 2, 3, 3)), 30)"

# The browser that screens are tested in; only root can install it, and without it those tests are skipped.
chromium:
	@if command -v chromium >/dev/null; then :; \
	elif [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium; \
	else echo "Chromium is missing: screens are not tested. Install it with 'sudo apt-get install chromium'."; fi

lint: $(VENV)/.dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/python tools/make_docs.py --check

format: $(VENV)/.dev
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

bench: $(VENV)/.dev
	for script in benchmarks/bench_*.py; do echo "== $$script"; $(BIN)/python $$script || exit 1; done

docs: $(VENV)/.dev
	$(BIN)/python tools/make_docs.py

lock: $(VENV)/.dev
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
		--group build pyproject.toml -o requirements/runtime.txt
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
		--group dev --extra postgresql pyproject.toml -o requirements/dev.txt

clean:
	rm -rf $(VENV) build dist

$(VENV)/bin/python:
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "benchlore needs Python 3.11 or newer")'
	$(PYTHON) -m venv $(VENV)

$(VENV)/.runtime: requirements/runtime.txt pyproject.toml | $(VENV)/bin/python
	$(PIP) install --require-hashes -r requirements/runtime.txt
	$(PIP) install --no-deps --no-build-isolation -e .
	touch $@

# uv installs in a fraction of pip's time; where it cannot reach what pip can, pip does it.
$(VENV)/.dev: requirements/dev.txt pyproject.toml | $(VENV)/bin/python
	mkdir -p build
	awk '/^uv==/ { found = 1 } found { print } found && !/\\$$/ { exit }' requirements/dev.txt > build/uv.txt
	$(PIP) install --require-hashes -r build/uv.txt
	$(UV) --require-hashes -r requirements/dev.txt || $(PIP) install --require-hashes -r requirements/dev.txt
	$(PIP) install --no-deps --no-build-isolation -e .
	touch $@ $(VENV)/.runtime
