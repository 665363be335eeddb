"""Speed: how fast a record replays, what one reading costs, and what a live watch costs. Run by `make bench`.

Prints figures; judges nothing. The record is a rehearsed heat kept in memory for the core's figure and written to a
folder of its own for the whole replay, at four lengths to show that memory stays flat.
"""

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import replay_cases
from rampwarden.core.model import Reading
from rampwarden.core.monitor import Monitor
from rampwarden.records.record_lines import Line, encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay, parameters_of
from rampwarden.schedule_files import read_schedule
from rampwarden.sources.rehearsal_board import ModelHeat

REPOSITORY = Path(__file__).resolve().parents[2]
SCHEDULE = REPOSITORY / "config" / "schedules" / "bronze-first-heat.toml"
CASE = "nominal-first-heat"


def repeated(lines: list[Line], times: int) -> Iterator[Line]:
    """Give a heat's readings again and again, time running on."""
    readings = [line for line in lines if isinstance(line, Reading)]
    span_s = readings[-1].time_s + 2.0
    for lap in range(times):
        for line in readings:
            yield Reading(line.time_s + lap * span_s, line.emf_uv, line.junction_c)


def core_figure(lines: list[Line]) -> None:
    """One reading through the whole core, no file in the way."""
    schedule, _ = read_schedule(replay_cases.CASES / CASE / "schedule.toml")
    inputs = list(repeated(lines, 1))
    best = float("inf")
    for _ in range(7):
        monitor = Monitor(schedule)
        started = time.perf_counter()
        for reading in inputs:
            monitor.feed(reading)
        best = min(best, time.perf_counter() - started)
    print(f"core: {best / len(inputs) * 1e6:.1f} µs a reading ({len(inputs)} readings, best of 7)")


def replay_figure(header: object, lines: list[Line], times: int) -> None:
    """A whole record from its file, in a process of its own so that memory can be told."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "heat.jsonl"
        with path.open("wb") as file:
            file.write(encode_line(header))  # type: ignore[arg-type]
            for line in repeated(lines, times):
                file.write(encode_line(line))
        subprocess.run([sys.executable, __file__, "--replay", str(path)], check=True)


def replay_here(path: Path) -> None:
    """Replay one record and print its figures."""
    started = time.perf_counter()
    reader = RecordReader(path)
    schedule, _ = read_schedule(replay_cases.CASES / CASE / "schedule.toml")
    run = Replay(Monitor(schedule, parameters_of(reader.header, str(path))))
    for _ in run.events(reader):
        pass
    took_s = time.perf_counter() - started
    count = run.summary.readings
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"replay: {count:8d} readings in {took_s:6.2f} s, {count / took_s:8.0f} a second, {memory_mb:5.1f} MB at most"
    )


def watch_figure(readings_per_s: float, speed: float) -> None:
    """CPU of a watch at an accelerated heat, brought back to real time. The model furnace's own share is taken off."""
    own = model_cost_s(readings_per_s)
    with tempfile.TemporaryDirectory() as folder:
        record = Path(folder) / "heat.jsonl"
        command = [sys.executable, "-c", "from rampwarden.cli import run; run()", "rehearse", str(SCHEDULE)]
        options = ["--speed", str(speed), "--interval", str(1 / readings_per_s), "--record", str(record)]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([*command, *options], check=False, stdout=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        count = sum(isinstance(line, Reading) for line in RecordReader(record))
    used_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    share = (used_s / count - own) * readings_per_s
    heat = f"{count} readings, {speed:g}x"
    print(f"watch: {share * 100:.2f} % of one core at {readings_per_s:g} readings a second ({heat})")


def model_cost_s(readings_per_s: float) -> float:
    """Give what one frame of the model furnace costs, in CPU seconds."""
    heat = ModelHeat(read_schedule(SCHEDULE)[0], interval_s=1 / readings_per_s)
    started = time.process_time()
    for _ in range(5000):
        heat.next_frame()
    return (time.process_time() - started) / 5000


def main() -> None:
    """Run every figure."""
    if sys.argv[1:2] == ["--replay"]:
        replay_here(Path(sys.argv[2]))
        return
    header, lines = replay_cases.case_lines(CASE)
    core_figure(lines)
    for times in (1, 4, 16, 64):
        replay_figure(header, lines, times)
    watch_figure(10.0, 600.0)


if __name__ == "__main__":
    main()
