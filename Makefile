# Two commands: `make demo` and `make test`. Both may be run again at any time; what is done already is not done twice.
VENV ?= .venv
PYTHON ?= python3
PY := $(VENV)/bin/python
PIP := $(PY) -m pip --disable-pip-version-check
LAMP := $(VENV)/bin/handlamp

.PHONY: demo test install models check eval bench clean

demo: models
	@echo "== index: the knowledge is read and its passages are encoded (under a minute the first time)"
	$(LAMP) index
	@echo "== a code"
	$(LAMP) ask "panel says 2-0-4, what now"
	@echo "== a figure of the trade, its sentences weighed by the language model where it is installed"
	HANDLAMP_COMPOSER=blend $(LAMP) ask "how far away can the steel be for an inductive sensor"
	@echo "== an unsafe wish"
	$(LAMP) ask "can i tape the gate switch shut just for today"
	@echo "== fault isolation, check by check, kept in the job record"
	printf '%s\n' "guide me through the turntable turns slowly with heavy loads" stopped why "the second one" "stop and keep" quit \
		| $(LAMP) --machine drumlin
	@echo "== before the visit"
	$(LAMP) prepare "the film keeps snapping" --machine drumlin
	@echo "== the trade's arithmetic"
	$(LAMP) calc shaft-torque "power=0.75kW speed=1400r/min"
	@echo "== a question from a sound file, where a speaking program is at hand to make one"
	@if command -v espeak-ng >/dev/null; then \
		espeak-ng -s 150 -w $(VENV)/demo.wav "why does the film keep snapping" && $(LAMP) ask --audio $(VENV)/demo.wav; \
	else echo "note: espeak-ng is not installed, so no sound file is made; $(LAMP) ask --audio FILE takes any."; fi
	@echo "== done. $(LAMP) is the chat."

install: $(VENV)/.installed

$(VENV)/.installed: pyproject.toml
	@echo "== virtual environment and packages"
	test -x $(PY) || $(PYTHON) -m venv $(VENV)
	$(PIP) install -q -e .
	@echo "== hearing and speaking"
	@$(PIP) install -q -e ".[voice]" \
		|| echo "note: the voice extra could not be installed; everything can be typed."
	@echo "== the language model's engine (compiles for about three minutes)"
	@$(PY) -c "import llama_cpp" 2>/dev/null || $(PIP) install -e ".[model]" \
		|| echo "note: llama.cpp could not be built (is there a C++ compiler?); answers are the authored passages as they stand."
	@touch $@

models: install
	@echo "== model files"
	$(LAMP) models fetch

$(VENV)/.tested: pyproject.toml | install
	@echo "== what the tests need (torch from a local file where there is one)"
	$(PIP) install -q "torch==2.13.0"
	$(PIP) install -q -e ".[test,author]"
	@touch $@

test: models $(VENV)/.tested
	@echo "== knowledge"
	$(LAMP) check
	@echo "== style, types, imports"
	$(VENV)/bin/ruff check assistant eval tests
	$(VENV)/bin/ruff format --check assistant eval
	$(VENV)/bin/mypy
	$(VENV)/bin/lint-imports --no-logo
	@echo "== tests"
	$(PY) -m pytest

eval: models $(VENV)/.tested
	$(PY) -m eval

bench: models $(VENV)/.tested
	$(PY) -m eval bench

clean:
	rm -rf $(VENV) build *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis
