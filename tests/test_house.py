"""Rules of this house for its tests, held by reading them: no test asserts how long something took by a clock.

On a busy machine such a test fails without a defect, and on a quiet one it passes with it. Instead a test is told the
time, or counts what happened: attempts, waits asked for, the order of events. Figures belong into tests/benchmarks. A
deadline is no such assertion: until a condition holds, or fail after so many seconds.
"""

import ast
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
CLOCKS = {"monotonic", "monotonic_ns", "perf_counter", "perf_counter_ns", "process_time", "process_time_ns"}
CLOCKS |= {"thread_time", "time", "time_ns"}
SCOPES = ast.FunctionDef | ast.AsyncFunctionDef


def durations_asserted(source: str) -> list[int]:
    """Give the lines of a test module on which an assert compares what came of the difference of two clock readings.

    Followed within one function, through assignments and calls: `took_s = monotonic() - began_s`, `max(took_s, …)`.
    """
    module = ast.parse(source)
    functions = [node for node in ast.walk(module) if isinstance(node, SCOPES)]
    # What a function gives back is a duration too, if it gives the difference.
    giving = {function.name for function in functions if any(_given_durations(function))}
    found = set()
    for function in functions:
        durations, _ = _names(function, giving)
        for node in ast.walk(function):
            if isinstance(node, ast.Assert) and any(
                _is_duration(side, durations, _names(function, giving)[1], giving)
                for compare in ast.walk(node.test)
                if isinstance(compare, ast.Compare)
                for side in (compare.left, *compare.comparators)
            ):
                found.add(node.lineno)
    return sorted(found)


def _given_durations(function: SCOPES) -> Iterator[ast.Return]:
    durations, readings = _names(function, set())
    for node in ast.walk(function):
        if isinstance(node, ast.Return) and node.value and _is_duration(node.value, durations, readings, set()):
            yield node


def _names(function: SCOPES, giving: set[str]) -> tuple[set[str], set[str]]:
    """Give the names of a function that hold durations, and those that hold readings of a clock."""
    durations: set[str] = set()
    readings: set[str] = set()
    # Twice, since a name may be used above the line that makes it what it is: in a loop.
    for _ in range(2):
        for node in ast.walk(function):
            for target, value in _assigned(node):
                if _is_duration(value, durations, readings, giving):
                    durations.add(target)
                elif _reads_clock(value):
                    readings.add(target)
    return durations, readings


def _assigned(node: ast.AST) -> Iterator[tuple[str, ast.expr]]:
    if isinstance(node, ast.Assign | ast.AnnAssign | ast.NamedExpr | ast.AugAssign) and node.value is not None:
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        for target in targets:
            if isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):
                yield from zip((ast.unparse(each) for each in target.elts), node.value.elts, strict=False)
            elif isinstance(target, ast.Tuple):
                yield from ((ast.unparse(each), node.value) for each in target.elts)
            else:
                yield ast.unparse(target), node.value
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in {"append", "add"}:
        yield from ((ast.unparse(node.func.value), argument) for argument in node.args)


def _reads_clock(node: ast.AST) -> bool:
    """Whether it calls a clock and nothing but arithmetic stands between."""
    return any(
        isinstance(each, ast.Call) and ast.unparse(each.func).split(".")[-1] in CLOCKS and not each.args
        for each in ast.walk(node)
    )


def _is_duration(node: ast.expr, durations: set[str], readings: set[str], giving: set[str]) -> bool:
    for each in ast.walk(node):
        if isinstance(each, ast.BinOp) and isinstance(each.op, ast.Sub) and _reads_either(each, readings):
            return True
        if isinstance(each, ast.Name | ast.Attribute) and ast.unparse(each) in durations:
            return True
        if isinstance(each, ast.Call) and ast.unparse(each.func).split(".")[-1] in giving:
            return True
    return False


def _reads_either(difference: ast.BinOp, readings: set[str]) -> bool:
    return any(_reads_clock(side) or ast.unparse(side) in readings for side in (difference.left, difference.right))


@pytest.mark.parametrize("path", sorted(TESTS.rglob("*.py")), ids=lambda path: path.relative_to(TESTS).as_posix())
def test_no_test_asserts_how_long_something_took(path: Path) -> None:
    """Figures for speed are what `make bench` prints."""
    if "benchmarks" in path.parts:
        return
    assert durations_asserted(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "body",
    [
        "began_s = time.monotonic()\nrun()\nassert time.monotonic() - began_s < 1.0",
        "began_s = time.monotonic()\nrun()\ntook_s = time.monotonic() - began_s\nassert took_s < 1.0, 'slow'",
        "a, began = 1, perf_counter()\nworst = max(0.0, perf_counter() - began)\nassert 0.1 < worst",
        "took_s = []\nbegan_s = time.monotonic()\ntook_s.append(time.monotonic() - began_s)\nassert min(took_s) < 1",
        "told_s = time.time()\nassert heard.at_s - told_s < 1.0",
        "def took():\n    began = time.monotonic()\n    return time.monotonic() - began\nassert took() < 4",
        "a_s = time.monotonic()\nb_s = time.monotonic()\nassert b_s - a_s < 1",
    ],
)
def test_an_asserted_duration_is_found(body: str) -> None:
    """However it is put."""
    assert durations_asserted(_in_test(body)) != []


@pytest.mark.parametrize(
    "body",
    [
        "until_s = time.monotonic() + 30\nwhile not done():\n    assert time.monotonic() < until_s, 'never'",
        "before_us = time.monotonic_ns() // 1000\nassert before_us <= int(said['USEC']) <= time.monotonic_ns() // 1000",
        "assert clock.now_s() - before_s < 5.0",
        "assert waited_s == [0.5, 1.0]",
    ],
)
def test_a_deadline_and_a_time_that_was_told_are_none(body: str) -> None:
    """A deadline fails a test that would wait for ever."""
    assert durations_asserted(_in_test(body)) == []


def _in_test(body: str) -> str:
    return "def test_it():\n" + "\n".join(f"    {line}" for line in body.splitlines())


def test_the_demonstration_waits_for_nothing_that_only_tests_need(tmp_path: Path) -> None:
    """Whoever tries it first has a slow line, too; where everything is there already, nothing is installed."""
    make = ["make", "--dry-run", "--no-print-directory", "demo", f"VENV={tmp_path}"]

    def steps() -> str:
        return subprocess.run(
            make, cwd=Path(__file__).resolve().parent.parent, capture_output=True, text=True, check=True
        ).stdout

    assert "--editable ." in steps()
    assert "[dev]" not in steps()
    (tmp_path / ".installed").touch()
    assert "pip install" not in steps()
