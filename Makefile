# Two commands and what belongs to them. Each works on a machine with Python 3.11 and make alone.

.PHONY: help demo fresh serve test bench lock

PYTHON ?= python3
START = @command -v $(PYTHON) >/dev/null 2>&1 || { echo "Layline needs Python 3.11 or newer, and there is no $(PYTHON) here. Mend it with: sudo apt-get install python3 python3-venv" >&2; exit 1; }; \
	$(PYTHON) -m fleet.config.first_start

help:
	@echo "make demo     the demo: loaded, its due lists written, served on this machine (SERVE=0: not served)"
	@echo "make fresh    the same from an empty database; what stands is set aside"
	@echo "make serve    serve what stands (PORT=8001: elsewhere)"
	@echo "make test     every check and test (REQUIRE=browser,postgres,redis: a skip is a failure)"
	@echo "make bench    the benchmarks"
	@echo "make lock     resolve the versions anew (developers)"

demo fresh serve test bench:
	$(START) $@

lock:
	.venv-test/bin/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-annotate \
		--group install pyproject.toml -o requirements.lock
	.venv-test/bin/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-annotate \
		--group install --group dev pyproject.toml -o requirements-dev.lock
