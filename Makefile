# make demo and make test set everything up by themselves; make help lists the rest.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

.PHONY: help demo test check lint types imports bench docs clean

help:
	@echo "make demo    run the whole job on an example, then open the workbench with it"
	@echo "make test    run the tests"
	@echo "make check   lint, types, import contract"
	@echo "make bench   print the table of benchmarks"
	@echo "make docs    draw the pictures and pages that the docs show"
	@echo "make clean   remove .venv and what was made"

$(READY): pyproject.toml constraints.txt
	@$(PYTHON) -c "import sys; sys.exit(0 if sys.version_info >= (3, 11) else 'likesewn needs Python 3.11 or newer; this is ' + sys.version.split()[0] + '. Name another with: make PYTHON=python3.12')"
	@echo "Setting up .venv (once)"
	@$(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e ".[dev]"
	@touch $(READY)

demo: $(READY)
	@$(BIN)/likesewn demo --workbench

test: $(READY)
	@$(BIN)/python -m pytest -n auto --dist loadfile

lint: $(READY)
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .

types: $(READY)
	@$(BIN)/pyright

imports: $(READY)
	@$(BIN)/lint-imports

check: lint types imports

bench: $(READY)
	@$(BIN)/python -m benchmarks

docs: $(READY)
	@$(BIN)/python docs/draw.py

clean:
	rm -rf $(VENV) demo out
