"""A pytest plugin for `mutants.py`: what each test runs, how long it takes and how it ends, in an order somebody chose.

Asked by the environment, since pytest's workers inherit it:

    MUTANTS_REPORT   file to append one JSON line to for each test that ended: `test`, `seconds`, `passed`
    MUTANTS_COVERAGE folder for coverage data; each line run is noted with the test and the phase that ran it
    MUTANTS_ORDER    file of test ids or test files, one a line: tests run in this order
"""

import json
import os
from pathlib import Path

import pytest


class WhatEachTestRuns:
    """Coverage of this process, its context being the test's id and phase."""

    def __init__(self, folder: Path) -> None:
        import coverage

        self._coverage = coverage.Coverage(
            data_file=str(folder / "coverage"),
            data_suffix=True,
            config_file=False,
            source=[str(Path.cwd() / "daemon")],
        )
        self._coverage.start()

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_setup(self, item: pytest.Item) -> object:
        self._coverage.switch_context(f"{item.nodeid}|setup")
        return (yield)

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_call(self, item: pytest.Item) -> object:
        self._coverage.switch_context(f"{item.nodeid}|call")
        return (yield)

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_teardown(self, item: pytest.Item) -> object:
        self._coverage.switch_context(f"{item.nodeid}|teardown")
        return (yield)

    def pytest_sessionfinish(self) -> None:
        self._coverage.stop()
        self._coverage.save()


class Reporter:
    """Writes down how each test ended, at once: whoever started us may have to stop us."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._seconds: dict[str, float] = {}
        self._failed: set[str] = set()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self._seconds[report.nodeid] = self._seconds.get(report.nodeid, 0.0) + report.duration
        if report.failed:
            self._failed.add(report.nodeid)
        if report.when == "teardown":
            self._write(report.nodeid, self._seconds.pop(report.nodeid), report.nodeid not in self._failed)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed:
            self._write(report.nodeid, 0.0, passed=False)

    def _write(self, test: str, seconds: float, passed: bool) -> None:
        with self._path.open("a", encoding="utf-8") as file:
            file.write(json.dumps({"test": test, "seconds": round(seconds, 3), "passed": passed}) + "\n")


class Order:
    """Runs tests in the order of a list; a file's name stands for all its tests."""

    def __init__(self, path: Path) -> None:
        lines = path.read_text(encoding="utf-8").splitlines()
        self._place = {line: place for place, line in enumerate(lines)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        last = len(self._place)
        items.sort(key=lambda it: self._place.get(it.nodeid, self._place.get(it.nodeid.split("::")[0], last)))


def pytest_configure(config: pytest.Config) -> None:
    """Do what the environment asks for."""
    is_worker = hasattr(config, "workerinput")
    if (folder := os.environ.get("MUTANTS_COVERAGE")) and (is_worker or not config.getoption("numprocesses", None)):
        config.pluginmanager.register(WhatEachTestRuns(Path(folder)))
    if (report := os.environ.get("MUTANTS_REPORT")) and not is_worker:
        config.pluginmanager.register(Reporter(Path(report)))
    if order := os.environ.get("MUTANTS_ORDER"):
        config.pluginmanager.register(Order(Path(order)))
