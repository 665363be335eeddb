"""A heat that lasts for days, at an accelerated clock: what the watch's process holds as time goes by. Not a test.

Scaled: 1200 seconds of the heat in a real one, a reading each four seconds of the heat, so 300 a real second. The soak
is left and found again each half hour, so that alarms, events and messages go on all the time.
"""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.faults.fault_bench import Bench

SPEED, INTERVAL_S = 1200.0, 4.0
_LONG_S = 3600.0


@dataclass(frozen=True, slots=True)
class Sample:
    """What the process held at an hour of the heat: resident memory (kB), open files, threads."""

    hour: float
    resident_kb: int
    files: int
    threads: int


def restless_c(heat_s: float, noise: random.Random) -> float:
    """Climb to the second soak within twenty minutes, then swing out of its band and back each half hour, °C."""
    settled_c = 700.0 + 25.0 * math.sin(2.0 * math.pi * heat_s / 1800.0)
    return min(25.0 + heat_s, settled_c) + noise.gauss(0.0, 0.5)


def watch_for(hours: float, every_h: float, folder: Path) -> Iterator[Sample]:
    """Watch so many hours of a heat and give a sample every so many; raises if anything was lost at the end."""
    bench = Bench(folder, SPEED, INTERVAL_S, course=restless_c)
    try:
        bench.begin()
        for number in range(1, round(hours / every_h) + 1):
            bench.reach(number * every_h * _LONG_S)
            yield _sample(bench, number * every_h)
        found = bench.finish(hours * _LONG_S, as_twin=False)
        if found:
            raise AssertionError(f"after {hours} hours: {found}")
    finally:
        bench.close()


def growth_kb_per_h(samples: list[Sample]) -> tuple[float, float]:
    """Give the slope of resident memory by least squares and its standard error, kB an hour of the heat."""
    count = len(samples)
    mean_h = sum(sample.hour for sample in samples) / count
    mean_kb = sum(sample.resident_kb for sample in samples) / count
    spread = sum((sample.hour - mean_h) ** 2 for sample in samples)
    slope = sum((sample.hour - mean_h) * (sample.resident_kb - mean_kb) for sample in samples) / spread
    residue = sum((sample.resident_kb - mean_kb - slope * (sample.hour - mean_h)) ** 2 for sample in samples)
    return slope, math.sqrt(residue / max(1, count - 2) / spread)


def _sample(bench: Bench, hour: float) -> Sample:
    assert bench.process is not None
    folder = Path("/proc") / str(bench.process.pid)
    fields = dict(line.split(":", 1) for line in (folder / "status").read_text().splitlines())
    files = len(list((folder / "fd").iterdir()))
    return Sample(hour, int(fields["VmRSS"].split()[0]), files, int(fields["Threads"]))
