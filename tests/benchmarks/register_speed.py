"""The register's speed: figures of a heat on top of its replay, 200 heats listed and shown. Run it by hand.

    python tests/benchmarks/register_speed.py

Prints figures; judges nothing. A whole command is timed as a process, for that is what a person waits for.
"""

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import msgspec

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.records.registered import A3, figures

import replay_cases
from rampwarden.core.model import Reading
from rampwarden.core.monitor import Monitor
from rampwarden.records.heat_figures import FiguresMeter
from rampwarden.records.register import Register
from rampwarden.schedule_files import read_schedule

CASE = "nominal-first-heat"
HEATS, CRUCIBLES = 200, 8


def best_of(times: int, work: Callable[[], object]) -> float:
    """Give the shortest of several runs, s."""
    shortest = float("inf")
    for _ in range(times):
        started = time.perf_counter()
        work()
        shortest = min(shortest, time.perf_counter() - started)
    return shortest


def meter_figure() -> None:
    """What the meter costs on top of the monitor, each reading."""
    schedule, _ = read_schedule(replay_cases.CASES / CASE / "schedule.toml")
    readings = [line for line in replay_cases.case_lines(CASE)[1] if isinstance(line, Reading)]
    costs = []
    for _ in range(7):
        monitor, meter = Monitor(schedule), FiguresMeter(schedule)
        spent_s = 0.0
        for reading in readings:
            monitor.feed(reading)
            started = time.perf_counter()
            meter.take(monitor)
            spent_s += time.perf_counter() - started
        costs.append(spent_s / len(readings))
    clock_s = best_of(7, lambda: [time.perf_counter() - time.perf_counter() for _ in range(10_000)]) / 10_000
    print(f"figures: {(min(costs) - clock_s) * 1e6:.2f} µs a reading on top of its replay")


def register_figures(folder: Path) -> None:
    """Entering, listing and showing 200 heats of several crucibles."""
    path = folder / "crucibles.sqlite"
    with Register.open(path, create=True) as books:
        for number in range(CRUCIBLES):
            books.add(msgspec.structs.replace(A3, mark=f"A{number}"))
        started = time.perf_counter()
        for number in range(HEATS):
            # All but a few belong to one crucible: the longest that is ever shown.
            mark = f"A{number % CRUCIBLES}" if number % 4 == 0 else "A3"
            started_on = f"2026-{1 + number // 28:02d}-{1 + number % 28:02d}T09:00:00Z"
            books.enter(mark, figures(f"r{number}", started=started_on))
        entering_s = (time.perf_counter() - started) / HEATS
    print(f"enter: {entering_s * 1e3:.1f} ms a heat, on the disk")

    def opened(use: Callable[[Register], object]) -> None:
        with Register.open(path) as books:
            use(books)

    print(f"list: {best_of(7, lambda: opened(Register.crucibles)) * 1e3:.1f} ms")
    print(f"show: {best_of(7, lambda: opened(lambda books: books.heats('A3'))) * 1e3:.1f} ms")
    for name, command in (
        ("version", ["--version"]),
        ("list", ["crucible", "list", "--register", str(path)]),
        ("show", ["crucible", "show", "A3", "--segments", "--register", str(path)]),
    ):
        program = [sys.executable, "-c", "from rampwarden.cli import run; run()", *command]
        walls, cpus = [], []
        for _ in range(5):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            started = time.perf_counter()
            subprocess.run(program, check=True, stdout=subprocess.DEVNULL, cwd=folder)
            walls.append(time.perf_counter() - started)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            cpus.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        print(f"whole command, {name}: {min(walls):.2f} s, {min(cpus):.2f} s of CPU")


def main() -> None:
    """Run every figure."""
    meter_figure()
    with tempfile.TemporaryDirectory() as folder:
        register_figures(Path(folder))


if __name__ == "__main__":
    main()
