# Everything a newcomer needs: "make demo" and "make test". The plain commands are in README.md.
PYTHON ?= $(shell command -v python3.11 || command -v python3)
BIN = .venv/bin
PY = $(BIN)/python

.PHONY: help venv demo serve serve-lan test check bench soak screenshots lock

help:
	@echo "make demo         the demo operation on http://127.0.0.1:8000"
	@echo "make test         the whole suite, Chromium included; PARTS=tests/unit runs a part"
	@echo "make check        lint, types, import contracts, templates, migrations"
	@echo "make bench        speed as ratios against the bare limit"
	@echo "make soak         long campaigns: many seeds, random kills, mutation"
	@echo "make serve        your own operation on this machine"
	@echo "make serve-lan    the same over HTTPS, for the phones on your network"
	@echo "make screenshots  the README's pictures, taken from the demo operation"
	@echo "make venv         only the virtual environment"
	@echo "make lock         pin the dependencies of pyproject.toml anew"

venv: .venv/locked

.venv/locked: requirements.lock
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "Thawline needs Python 3.11 or newer; set PYTHON=/path/to/python3.11"; exit 1; }
	$(PYTHON) -m venv .venv
	$(PY) -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	@touch .venv/locked

demo: venv
	$(PY) manage.py demo

serve: venv
	$(PY) manage.py serve

serve-lan: venv
	$(PY) manage.py serve --lan

test: venv
	$(PY) -m tests.chromium
	$(PY) -m pytest $(PARTS)

check: venv
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache
	$(PY) -m tests.templates
	$(PY) manage.py makemigrations --check --dry-run
	$(PY) manage.py check --fail-level WARNING
	THAWLINE_HTTPS=1 $(PY) manage.py check --deploy --fail-level WARNING

bench: venv
	$(PY) -m tests.bench

soak: venv
	$(PY) -m tests.chromium
	THAWLINE_SOAK=1 $(PY) -m pytest
	$(PY) -m tests.soak

screenshots: venv
	$(PY) -m tests.chromium
	$(PY) -m tests.screenshots

lock: venv
	$(PY) -m tests.lock
