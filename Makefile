# Everything a person does with the project, by name. Needs Python 3.11 or newer, make, and the package registry.
# The first that really runs: a name on the path may be a shim that only says where others are.
PYTHON ?= $(shell for python in python3 python3.13 python3.12 python3.11; do \
	$$python -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && echo $$python && break; done)
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed
# The program alone: who wants to see it does not wait for what its tests need.
PROGRAM_STAMP := $(VENV)/.program-installed
# The set of packages that was tested; `make latest` does without.
CONSTRAINTS := --constraint .ci/constraints.txt

.PHONY: demo test test-long check format tables sentences replays replays-accept bench bench-display bench-ramp bench-diagnosis bench-account bench-direction bench-explain bench-help bench-failing bench-two-probes bench-transfer bench-togo bench-intermittent bench-shop bench-archive bench-replays bench-brokers bench-page bench-disk faults siege long-heat restart-speed fuzz mutants mutants-collect latest clean-latest constraints installs bench-startup bench-watch bench-growth clean

demo: $(if $(wildcard $(STAMP)),,$(PROGRAM_STAMP))  ## a whole first heat in the bronze workshop, with one mishap, in well under a minute
	@$(BIN)/python .ci/demo.py

test: $(STAMP)  ## the tests, doctests and replays included; without those of heats by the dozen
	@sh .ci/need-packages
	@$(BIN)/pytest -n 4 --dist worksteal -m "not long"

test-long: $(STAMP)  ## every test there is: twice as long
	@sh .ci/need-packages
	@$(BIN)/pytest -n 4 --dist worksteal

check: $(STAMP)  ## format, lint, types, direction of imports
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	PYTHONPATH=.ci $(BIN)/lint-imports

format: $(STAMP)
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

tables: $(STAMP)  ## write the README's alarm table and the example's [alarms] sections anew, from the alarms' entries
	@$(BIN)/python tests/alarm_tables.py

sentences: $(STAMP)  ## every sentence the program can print, by file: to be read aloud, and mended
	@$(BIN)/python tests/sentences.py

replays: $(STAMP)  ## replay every recorded case and show what differs from its expectation
	@$(BIN)/python tests/replay_cases.py

replays-accept: $(STAMP)  ## renew one expectation after review: make replays-accept CASE=soak-drift
	@$(BIN)/python tests/replay_cases.py --accept "$(CASE)"

bench: $(STAMP)  ## speed figures
	$(BIN)/python tests/benchmarks/speed.py

bench-display: $(STAMP)  ## what the terminal's display costs a watch, at three sizes
	$(BIN)/python tests/benchmarks/display_load.py

bench-ramp: $(STAMP)  ## delays and false alarms of the ramp alarms, against the bounds and the naive methods
	$(BIN)/python tests/benchmarks/ramp_bench.py; first=$$?; $(BIN)/python tests/benchmarks/ramp_breaks.py && exit $$first

bench-diagnosis: $(STAMP)  ## confusion tables: what is said of heats with each fault and of heats without, eight minutes
	$(BIN)/python tests/benchmarks/diagnosis_matrix.py

bench-account: $(STAMP)  ## accounts of whole heats beside what truly befell the pot; fails where one is better: three minutes
	@$(BIN)/python tests/benchmarks/account_truth.py

bench-direction: $(STAMP)  ## heat off and heat left on, on two simulated furnaces that were not tuned on
	@$(BIN)/python tests/benchmarks/direction_bench.py

bench-explain: $(STAMP)  ## what the explanation says of two simulated furnaces it was not made on, right and wrong: ten minutes
	@$(BIN)/python tests/benchmarks/explain_bench.py $(if $(N),--n $(N))

bench-help: $(STAMP)  ## first heats by hand and with the watch beside, what the pot met: twenty minutes; make bench-help N=20 is quick
	@$(BIN)/python tests/benchmarks/help_bench.py --orders $(if $(N),--n $(N))

bench-two-probes: $(STAMP)  ## what a pot's and a chamber's probe settle on two simulated furnaces, right and wrong: five minutes
	@$(BIN)/python tests/benchmarks/two_probes_bench.py $(if $(N),--n $(N))

bench-failing: $(STAMP)  ## the followed probe fails in every way and part of a heat, on two simulated furnaces: ten minutes
	@$(BIN)/python tests/benchmarks/failing_over.py $(N)

bench-togo: $(STAMP)  ## how well it guesses how long still, in the first heat of a furnace and in later ones: five minutes
	@$(BIN)/python tests/benchmarks/togo_bench.py

bench-intermittent: $(STAMP)  ## boards that give a good reading only now and then: ever silent and blind? half an hour
	@$(BIN)/python tests/benchmarks/intermittent_bench.py

bench-shop: $(STAMP)  ## 100, 1,000 and 5,000 furnaces on a broker with default limits: found how soon, listened to at what cost
	@sh .ci/need-packages
	@$(BIN)/python tests/benchmarks/shop_bench.py

bench-disk: $(STAMP)  ## alarms while the disk hangs for a minute, and what is in the record afterwards
	@$(BIN)/python tests/benchmarks/hanging_disk.py

bench-archive: $(STAMP)  ## what is asked of 50,000 heats, in a folder and on a PostgreSQL server: three minutes
	@sh .ci/need-packages
	@$(BIN)/python tests/benchmarks/archive_speed.py

bench-replays: $(STAMP)  ## 500 heats by another schedule on one process and on all cores: five minutes
	@$(BIN)/python tests/benchmarks/mass_replay_bench.py

bench-brokers: $(STAMP)  ## three nodes of a cluster of brokers killed and frozen in turn: three minutes
	@sh .ci/need-packages
	@$(BIN)/python tests/benchmarks/broker_cluster.py

bench-page: $(STAMP)  ## what twenty open pages cost the watch, and how late they are told
	@$(BIN)/python tests/benchmarks/page_load.py

bench-transfer: $(STAMP)  ## whole heats with a transfer: false HIGH alarms, and true ones held back; two minutes
	@$(BIN)/python tests/benchmarks/transfer_bench.py

faults: $(STAMP)  ## every fault into the real service, each in a heat of its own, and what was lost: ten minutes
	@sh .ci/need-packages
	@$(BIN)/python tests/benchmarks/fault_matrix.py

siege: $(STAMP)  ## half an hour of every fault at random beside an undisturbed twin; needs root: make siege SEED=1 MINUTES=30
	@sh .ci/need-packages
	@$(BIN)/python tests/benchmarks/siege --seed $(or $(SEED),1) --minutes $(or $(MINUTES),30)

long-heat: $(STAMP)  ## seventy-two hours at an accelerated clock: memory, files, threads
	@sh .ci/need-packages
	@$(BIN)/python tests/benchmarks/long_heat.py

restart-speed: $(STAMP)  ## how soon a killed watch watches again, ten hours into a heat
	@sh .ci/need-packages
	@$(BIN)/python tests/benchmarks/restart_speed.py

mutants: $(STAMP)  ## break guards one at a time and see which test notices: make mutants SEED=1 COUNT=60 ONLY=core/alarms
	@$(BIN)/python tests/benchmarks/mutants.py --seed $(or $(SEED),1) --count $(or $(COUNT),60) --jobs $(or $(JOBS),1) --only "$(ONLY)"

mutants-collect: $(STAMP)  ## find out which tests run which line, for mutants: ten minutes, once and after large changes
	@sh .ci/need-packages
	@$(BIN)/python tests/benchmarks/mutants.py --collect

fuzz: $(STAMP)  ## ten million bytes and two million lines that are none of ours
	@$(BIN)/python tests/benchmarks/fuzz.py

$(PROGRAM_STAMP): pyproject.toml .ci/constraints.txt
	@test -n "$(PYTHON)" || { echo "rampwarden needs Python 3.11 or newer, and none is on the path" >&2; exit 2; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check $(CONSTRAINTS) --editable .
	@touch $(PROGRAM_STAMP)

$(STAMP): pyproject.toml .ci/constraints.txt
	@test -n "$(PYTHON)" || { echo "rampwarden needs Python 3.11 or newer, and none is on the path" >&2; exit 2; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check $(CONSTRAINTS) --editable '.[dev]'
	@touch $(STAMP)

latest:  ## every test with the newest packages there are, in an environment of its own: once a week
	@$(MAKE) --no-print-directory VENV=.venv-latest CONSTRAINTS=--upgrade clean-latest test

clean-latest:
	@rm -rf .venv-latest

constraints: $(STAMP)  ## write down the packages that are installed as the set that was tested
	@{ echo "# The set that was tested; written by make constraints."; $(BIN)/pip freeze --exclude-editable; } > .ci/constraints.txt

installs: $(STAMP)  ## install the wheel by pip, pipx and uv with each Python there is, and run the demo's heat with it
	@$(BIN)/python .ci/installs.py

bench-startup: $(STAMP)  ## processor time of each command above that of bare Python
	@$(BIN)/python tests/benchmarks/startup.py

bench-growth: $(STAMP)  ## what grows with hours, heats, segments and open pages, and by which power: five minutes
	@$(BIN)/python tests/benchmarks/growth.py

bench-watch: $(STAMP)  ## what a live watch costs a small computer: start, memory, what an hour writes to its card
	@$(BIN)/python tests/benchmarks/watch_cost.py

clean:
	rm -rf $(VENV) .venv-latest build dist daemon/*.egg-info .mypy_cache .ruff_cache .pytest_cache .hypothesis tests/output .mutants
