# Everything here works without root, with Python 3.11 or newer and make.
PYTHON ?= python3
VENV   ?= .venv
BIN    := $(VENV)/bin
SITE   := examples/karst-hollow
OUT    ?= out
PIP    := $(BIN)/python -m pip install --quiet --disable-pip-version-check

.PHONY: job dist sbom audit proof docs-site test test-deep coverage pictures quick lint bench pins docs clean

job: $(VENV)/ready-run
	$(BIN)/splicewright plan $(SITE)/conveyors/incline.toml $(SITE)/jobs/incline-worn-joint.toml --out $(OUT)/incline
	@echo
	$(BIN)/splicewright plan $(SITE)/conveyors/flat.toml $(SITE)/jobs/flat-torn-belt.toml --units inch --paper Letter --out $(OUT)/flat
	@echo
	$(BIN)/splicewright plan $(SITE)/conveyors/shuttle.toml $(SITE)/jobs/shuttle-new-belt.toml --out $(OUT)/shuttle
	@echo
	@echo "Crew packs and dossiers of three jobs lie in $(OUT)/: open $(OUT)/incline/crew-pack.pdf first."

# Tests start many processes: without kept bytecode each would compile everything anew.
# Each process takes one half of the folders, then work from the other: what a module or a folder
# begins with (plans, packs, a server, a browser) is begun once or twice, not wherever a test lands.
WORKERS ?= 2
PYTEST  := -m pytest -q -n $(WORKERS) --dist worksteal
# One thread of linear algebra each: with two, they wait for each other's processor.
RUN    := env -u PYTHONDONTWRITEBYTECODE OPENBLAS_NUM_THREADS=1 $(BIN)/python

test: $(VENV)/ready-dev
	$(RUN) $(PYTEST)

# The same tests on more examples, more belts and more writes, in another order each day; run before
# each release, and its result written in the changelog. Firefox and WebKit take part (apt-get install
# firefox-esr webkit2gtk-driver xvfb xauth).
test-deep: $(VENV)/ready-dev
	SPLICEWRIGHT_DEEP=1 SPLICEWRIGHT_ORDER=$$(date +%F) $(RUN) $(PYTEST) -o faulthandler_timeout=14400
	$(RUN) -m pytest -q tests/web/other_engines.py
	$(BIN)/python tools/mutate.py --count 60

# How much of each room the tests run, lines and branches together [%]; for one room:
# make coverage TESTS=tests/loop
TESTS ?= tests
coverage: $(VENV)/ready-dev
	rm -f .coverage*
	$(RUN) -m coverage run $(PYTEST) $(TESTS)
	$(BIN)/coverage combine --quiet
	@for room in $$(cd src/splicewright && ls -d */ | grep -v __pycache__ | tr -d /) all; do \
	  $(BIN)/coverage report --include="src/splicewright/$${room#all}/*" --format=total 2>/dev/null \
	    | grep -v "No data" | sed "s/^/$$room /"; \
	done | column -t

# A picture of every page on a phone and on a desk, in out/screenshots, for people to look at.
pictures: $(VENV)/ready-dev
	SPLICEWRIGHT_PICTURES=1 $(RUN) $(PYTEST) tests/web

# The verification book, out/proof: the cases run and record what they compare; a failing case is a
# red page. Assertions are rewritten with their values, so bytecode goes to a folder of its own.
proof: $(VENV)/ready-dev
	rm -rf $(OUT)/proof && mkdir -p $(OUT)/proof/records
	-SPLICEWRIGHT_PROOF=$(OUT)/proof/records PYTHONPYCACHEPREFIX=$(OUT)/bytecode $(RUN) $(PYTEST) \
	  -p no:cacheprovider -o enable_assertion_pass_hook=true -m proof \
	  $$(grep -lr "proves(" tests --include='test_*.py')
	$(BIN)/python tools/proof_book.py $(OUT)/proof/records --out $(OUT)/proof

# The documentation as one folder that opens from disk, out/docs-site: pictures by the browser tests,
# packs of every example job, and the verification book where `make proof` made it. Then it is opened
# from disk without network: links, pictures, widths, search.
docs-site: $(VENV)/ready-docs
	SPLICEWRIGHT_PICTURES=1 $(RUN) -m pytest -q tests/web/test_lessons.py
	$(BIN)/python tools/docs_site.py --out $(OUT)/docs-site --screenshots $(OUT)/screenshots --proof $(OUT)/proof
	$(RUN) -m pytest -q tests/web/built_site.py

# While working: what is worked out, without simulations, register, pages and sheets.
ROOMS := quantities files plant loop tension joint job history
quick: $(VENV)/ready-dev
	$(RUN) $(PYTEST) -m "not slow" tests/test_house.py $(addprefix tests/,$(ROOMS))

lint: $(VENV)/ready-dev
	$(BIN)/ruff check src tests benchmarks tools examples
	$(BIN)/ruff format --check src tests benchmarks tools examples
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(VENV)/ready-dev
	$(BIN)/python -m benchmarks

docs: $(VENV)/ready-dev
	$(BIN)/python docs/make.py

# The wheel, the same bytes for the same files, and what a server is made of, in out/dist.
dist: $(VENV)/ready-dev sbom
	$(BIN)/python -m hatchling build -t wheel -d $(OUT)/dist

# Software bill of materials: CycloneDX, JSON, from the pins with their hashes.
sbom: $(VENV)/ready-dev
	mkdir -p $(OUT)/dist
	$(BIN)/cyclonedx-py requirements --pyproject pyproject.toml --output-reproducible --of JSON \
	  -o $(OUT)/dist/splicewright.cdx.json requirements/run.txt

# Known weaknesses of what is pinned; asks a public service, so it is run before a release, by hand.
audit: $(VENV)/ready-release
	for set in run dev; do \
	  $(BIN)/pip-audit --require-hashes --disable-pip -r requirements/$$set.txt || exit 1; done

$(VENV)/ready-run: requirements/run.txt pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "Python 3.11 or newer is needed")'
	$(PYTHON) -m venv $(VENV)
	$(PIP) --require-hashes -r requirements/run.txt
	$(PIP) --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/ready-dev: $(VENV)/ready-run requirements/dev.txt
	$(PIP) --require-hashes -r requirements/dev.txt
	@touch $@

$(VENV)/ready-docs: $(VENV)/ready-dev requirements/docs.txt
	$(PIP) --require-hashes -r requirements/docs.txt
	@touch $@

$(VENV)/ready-release: $(VENV)/ready-run requirements/release.txt
	$(PIP) --require-hashes -r requirements/release.txt
	@touch $@

# Hashed pins for every system and Python from 3.11; they name no host.
pins:
	for set in run dev docs release; do \
	  extra=$$( [ $$set = run ] && echo "build" || echo "$$set" ); \
	  uv pip compile pyproject.toml --extra server --extra $$extra --universal --python-version 3.11 --generate-hashes \
	    --no-annotate --custom-compile-command "make pins" --quiet \
	    -o requirements/$$set.txt; \
	done

clean:
	rm -rf $(VENV) $(OUT)
