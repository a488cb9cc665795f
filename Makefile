# `make demo` measures sample_images/; `make test` runs every check. Both set up what they need.
PY ?= python3
V := .venv
BIN := $(V)/bin

.PHONY: demo test lint docs links pictures benchmark soak sbom clean

demo: $(V)/.core
	rm -rf demo_study
	$(BIN)/finmeasure measure sample_images --study demo_study \
	    --landmarks sample_images/landmarks.csv --outlines sample_images/outlines.csv \
	    --name-pattern "{group}/{date}_{fish}" || test $$? -eq 1
	@echo "The report is at demo_study/report.html: open it in a browser."
	@echo "For photos of your own: source $(BIN)/activate; then: finmeasure --help"

# The two checks before the tests run side by side; tests/conftest.py puts long files first.
test: $(V)/.test
	$(MAKE) --no-print-directory -j 2 lint docs
	NAPARI_CONFIG="" $(BIN)/python -m pytest -m "not soak and not benchmark" -n 2 --dist loadfile \
	    --no-loadscope-reorder

lint: $(V)/.test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

docs: $(V)/.test
	$(BIN)/python -m sphinx -q -W --keep-going -b html docs docs/_build/html

# Links that leave the handbook go to standards and stay few; this one needs the network.
links: $(V)/.test
	$(BIN)/python -m sphinx -q -b linkcheck docs docs/_build/links

pictures: $(V)/.test
	$(BIN)/python docs/make_screens.py docs/screens
	$(BIN)/python docs/make_study_screens.py docs/screens
	$(BIN)/python docs/make_clips.py docs/screens

benchmark: $(V)/.test
	$(BIN)/python -m pytest -m benchmark

soak: $(V)/.test
	$(BIN)/python -m pytest -m soak

# List of everything that is installed, by a tool that stays out of what it lists; needs the network.
sbom: $(V)/.core
	test -x .sbom/bin/cyclonedx-py || $(PY) -m venv .sbom
	.sbom/bin/python -m pip install -q "cyclonedx-bom>=7.5,<8"
	.sbom/bin/cyclonedx-py environment $(BIN)/python --pyproject pyproject.toml --of JSON -o sbom.json

# Debian's own pip needs minutes to work out which versions go together; a newer one, seconds.
$(BIN)/python:
	$(PY) -m venv $(V)
	$(BIN)/python -m pip install -q --upgrade "pip>=25"

$(V)/.core: pyproject.toml constraints.txt | $(BIN)/python
	sh .ci/system-libs.sh core
	$(BIN)/pip install -q -c constraints.txt -e .
	touch $@

# Most modules of these packages are never loaded: those that are get compiled then.
$(V)/.test: pyproject.toml constraints.txt | $(BIN)/python
	sh .ci/system-libs.sh gui
	$(BIN)/pip install -q --no-compile -c constraints.txt -e ".[test]"
	touch $@ $(V)/.core

clean:
	rm -rf $(V) .sbom demo_study sbom.json
