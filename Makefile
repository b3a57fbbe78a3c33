# `make demo` and `make test` need nothing done before; both install first.
# PYTHON=/path/to/python chooses another interpreter, PORT and DATABASE_URL go through to the program.

BIN := .venv/bin
OLDEST := 3.11
UV ?= uv

.DEFAULT_GOAL := help
.PHONY: help install demo test lint soak lock screenshots pictures words

help:
	@echo "make demo     install, load the demo garden if the database is empty, serve it"
	@echo "make test     install, then every check and test"
	@echo "make lint     the checks without the tests"
	@echo "make soak     the long tests at full length"
	@echo "make install  the command at $(BIN)/traymates"
	@echo "make screenshots  every page and PDF file of three gardens as pictures, in OUT or a temporary folder"
	@echo "make pictures  those of the guides, anew from the demo garden"
	@echo "make words    the catalogues of other languages, brought up to date with what the program says"
	@echo "make lock     requirements.lock anew from pyproject.toml (needs uv)"

# The script looks whether this computer will do, and does nothing where all is there already.
install:
	@set -eu; found=; \
	for name in $(or $(PYTHON),python$(OLDEST) python3); do \
		if "$$name" -c 'import sys; sys.exit(sys.version_info < tuple(map(int, "$(OLDEST)".split("."))))' 2>/dev/null; \
		then found="$$name"; break; fi; \
	done; \
	if [ -z "$$found" ]; then \
		echo "Traymates needs Python $(OLDEST) or newer; tried: $(or $(PYTHON),python$(OLDEST) python3)." >&2; \
		echo "Install it, or name one: make PYTHON=/path/to/python3" >&2; exit 1; \
	fi; \
	"$$found" app/install.py

demo: install
	$(BIN)/traymates demo --if-empty
	$(BIN)/traymates serve --today 2027-04-10

# The benchmarks go last and alone: what runs beside them would be measured too. Compiled files are kept even where the
# environment says otherwise: hundreds of programs are started, each of which would compile all of it anew.
test: export PYTHONDONTWRITEBYTECODE :=
test: lint
	$(BIN)/pytest -n auto --maxprocesses 4 --dist worksteal --ignore tests/benchmarks
	$(BIN)/pytest tests/benchmarks

lint: install
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy
	$(BIN)/lint-imports

soak: export TRAYMATES_SOAK := 1
soak: install
	$(BIN)/pytest -m soak -n auto --maxprocesses 4 --dist worksteal --ignore tests/benchmarks
	$(BIN)/pytest -m soak tests/benchmarks

screenshots: install
	$(BIN)/python -m tests.browser.screenshots $(if $(OUT),--out $(OUT))

# In docs/pictures/; needs Chromium.
pictures: install
	$(BIN)/python -m tests.browser.guide_pictures

# Releases of the last few days are left out, so that a bad one has time to be withdrawn.
lock:
	$(UV) pip compile --quiet --universal --python-version $(OLDEST) --all-extras --generate-hashes --upgrade \
		--exclude-newer "5 days" --custom-compile-command "make lock" \
		--output-file requirements.lock pyproject.toml

# What `_`, `ngettext` and their like mark goes into the catalogues; what is new there waits for its translation.
words: install
	$(BIN)/python -m tests.words
