"""Speed: how fast a record replays, what one reading costs, and what a live watch costs. Run by `make bench`.

Prints figures; judges nothing. The heat is a rehearsed first heat, read at four paces: kept in memory for the core's
figure and written to a folder of its own for the whole replay; memory must stay flat from the slowest to the quickest.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rampwarden.core.instrument.framing import FrameDecoder
from rampwarden.core.model import Reading
from rampwarden.core.monitor import Monitor
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_lines import FORMAT, Header, encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay
from rampwarden.schedule_files import read_schedule
from rampwarden.sources.rehearsal_board import ModelHeat

REPOSITORY = Path(__file__).resolve().parents[2]
SCHEDULE = REPOSITORY / "config" / "schedules" / "bronze-first-heat.toml"


def heat_at(interval_s: float) -> list[Reading]:
    """Give the readings of one whole first heat of the model furnace: no lap after its end, where little is judged."""
    heat, decoder = ModelHeat(read_schedule(SCHEDULE)[0], interval_s=interval_s), FrameDecoder()
    readings: list[Reading] = []
    while not heat.over:
        frames = decoder.feed(heat.next_frame() or b"")
        readings.extend(Reading(heat.time_s, each.emf_uv, each.junction_c, None, each.faults) for each in frames)
    return readings


def core_figure(readings: list[Reading], interval_s: float) -> None:
    """One reading through the whole core, no file in the way."""
    schedule, _ = read_schedule(SCHEDULE)
    best = float("inf")
    for _ in range(5):
        monitor = Monitor(schedule)
        started = time.perf_counter()
        for reading in readings:
            monitor.feed(reading)
        best = min(best, time.perf_counter() - started)
    each_us = best / len(readings) * 1e6
    print(f"core: {each_us:.1f} µs a reading, one each {interval_s:g} s ({len(readings)} readings, best of 5)")


def replay_figure(readings: list[Reading]) -> None:
    """A whole record from its file, in a process of its own so that memory can be told."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "heat.jsonl"
        with path.open("wb") as file:
            file.write(encode_line(Header(FORMAT, "2026-01-01T08:00:00Z")))
            for reading in readings:
                file.write(encode_line(reading))
        subprocess.run([sys.executable, __file__, "--replay", str(path)], check=True)


def replay_here(path: Path) -> None:
    """Replay one record and print its figures."""
    started = time.perf_counter()
    reader = RecordReader(path)
    schedule, _ = read_schedule(SCHEDULE)
    run = Replay(Monitor(schedule, parameters_of(reader.header, str(path))))
    for _ in run.events(reader):
        pass
    took_s = time.perf_counter() - started
    count = run.summary.readings
    # Not getrusage: that of a child counts what its parent held when it was started.
    status = Path("/proc/self/status").read_text()
    memory_mb = int(status.partition("VmHWM:")[2].split()[0]) / 1024
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
    for interval_s in (2.0, 1.0, 0.25, 0.05):
        readings = heat_at(interval_s)
        core_figure(readings, interval_s)
        replay_figure(readings)
    watch_figure(10.0, 600.0)


if __name__ == "__main__":
    main()
