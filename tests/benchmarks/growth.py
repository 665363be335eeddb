"""How costs grow with hours, heats, segments and open pages: each cost at several sizes, and the power it grows by.

The power is the slope between the two largest sizes in logarithms: 0 is flat, 1 in proportion, 2 as its square.
Processor time, the least of several runs. Prints figures; judges nothing.
"""

import asyncio
import math
import os
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.page.served_page import Heat
from tests.records.registered import A3, figures

from rampwarden.clock import present_moment
from rampwarden.core.heat import parse_schedule
from rampwarden.core.model import Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule
from rampwarden.page.messages import PictureTeller
from rampwarden.page.stream import Stream
from rampwarden.records import FORMAT, End, Header, RecordReader, Register, Replay, encode_line, find_unfinished

_CHANGES = 50
_LOOKS = 2000


@dataclass(frozen=True, slots=True)
class Growth:
    """One cost: what is counted, the sizes, and what measures it at a size, s."""

    words: str
    sizes: tuple[int, ...]
    cost_s: Callable[[int], float]
    runs: int = 3

    def print(self) -> None:
        """Print the cost at each size, and the power."""
        costs_s = [min(self.cost_s(size) for _ in range(self.runs)) for size in self.sizes]
        power = math.log(costs_s[-1] / costs_s[-2]) / math.log(self.sizes[-1] / self.sizes[-2])
        shown = "  ".join(f"{size:>6}: {_shown(cost_s)}" for size, cost_s in zip(self.sizes, costs_s, strict=True))
        print(f"{self.words:44}{shown}   power {power:5.2f}", flush=True)


def _shown(cost_s: float) -> str:
    unit, factor = ("s ", 1.0) if cost_s >= 1.0 else ("ms", 1e3) if cost_s >= 1e-3 else ("µs", 1e6)
    return f"{cost_s * factor:7.2f} {unit}"


def schedule_of(segments: int) -> Schedule:
    """Give an invented schedule of so many segments, climbs and soaks by turns."""
    table: list[dict[str, str]] = []
    for number in range(segments // 2):
        level = f"{100 + 9 * number} C"
        table.append({"name": f"climb {number}", "kind": "ramp", "to": level, "max_rate": "300 C / 60 min"})
        table.append({"name": f"hold {number}", "kind": "soak", "at": level, "hold": "10 min"})
    return parse_schedule({"title": "A heat", "basis": "invented for a benchmark", "segment": table}, "here")


def spent_s(work: Callable[[], object]) -> float:
    """Give the processor time of some work."""
    began_s = time.process_time()
    work()
    return time.process_time() - began_s


def replay_s(hours: int) -> float:
    """Replay a record of so many hours at a reading a second: a soak that goes on and on."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "heat.jsonl"
        with path.open("wb") as file:
            file.write(encode_line(Header(FORMAT, "2026-01-01T08:00:00Z")))
            for second in range(hours * 3600):
                file.write(
                    encode_line(Reading(float(second), temp_c=20.0 + min(second * 0.02, 80.0) + second % 3 * 0.1))
                )
        run = Replay(Monitor(schedule_of(2)))
        return spent_s(lambda: [None for _ in run.events(RecordReader(path))])


def status_s(segments: int) -> float:
    """Ask a heat of so many segments where it stands, after each reading."""
    monitor = Monitor(schedule_of(segments))
    spent = 0.0
    for second in range(_LOOKS):
        monitor.feed(Reading(float(second), temp_c=20.0 + second * 0.02))
        began_s = time.process_time()
        monitor.status()
        spent += time.process_time() - began_s
    return spent / _LOOKS


def feed_s(segments: int) -> float:
    """Give what a reading costs in a heat of so many segments."""
    monitor = Monitor(schedule_of(segments))
    readings = [Reading(float(second), temp_c=20.0 + second * 0.02) for second in range(_LOOKS)]
    return spent_s(lambda: [monitor.feed(reading) for reading in readings]) / _LOOKS


def register_of(heats: int, folder: Path) -> Path:
    """Give a register of so many heats, all of one crucible; made once."""
    path = folder / f"crucibles-{heats}.sqlite"
    if not path.exists():
        with Register.open(path, create=True) as books:
            books.add(A3)
            # One transaction a heat would be the disk's time, and none of ours.
            books.database.change("PRAGMA synchronous = OFF")
            for number in range(heats):
                books.enter("A3", figures(f"r{number}", started=f"2026-01-{1 + number % 28:02d}T09:00:00Z"))
    return path


def in_register(use: Callable[[Register], object], folder: Path) -> Callable[[int], float]:
    """Give what measures a use of a register of so many heats."""

    def measure(heats: int) -> float:
        with Register.open(register_of(heats, folder)) as books:
            return spent_s(lambda: use(books))

    return measure


def start_s(heats: int, folder: Path) -> float:
    """Look for an unfinished heat among the records of so many."""
    records = folder / f"records-{heats}"
    if not records.exists():
        records.mkdir()
        for number in range(heats):
            path = records / f"{number}.jsonl"
            header = Header(FORMAT, "2026-01-01T08:00:00Z", id=f"{number}", board={"port": "/dev/ttyUSB0"})
            path.write_bytes(encode_line(header) + encode_line(End(1.0)))
            os.utime(path, (1e9 + number, 1e9 + number))
    return spent_s(lambda: find_unfinished([records], "/dev/ttyUSB0", 43_200.0, present_moment()))


def streams_s(pages: int) -> float:
    """Tell so many open pages what is new, and let each take it."""
    heat = Heat()
    stream = Stream(PictureTeller(heat.keeper.picture))
    seats = [seat for _ in range(pages) if (seat := stream.take_seat()) is not None]

    async def take_all() -> None:
        await asyncio.gather(*(seat.next() for seat in seats))

    async def changes() -> float:
        await take_all()
        began_s = time.process_time()
        for second in range(_CHANGES):
            heat.read(20.0 + second * 0.5)
            stream._say_what_is_new()
            await take_all()
        return (time.process_time() - began_s) / _CHANGES

    return asyncio.run(changes())


def main() -> None:
    """Print one row a cost."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        growths: Sequence[Growth] = (
            Growth("replay, hours at a reading a second", (1, 10, 100), replay_s, runs=1),
            Growth("where a heat stands, segments", (10, 30, 100), status_s),
            Growth("a reading, segments", (10, 30, 100), feed_s),
            Growth("a change on open pages", (1, 5, 20), streams_s),
            Growth("start of a watch, records in its folder", (50, 500, 5000), lambda heats: start_s(heats, folder)),
            Growth("crucible list, heats", (50, 500, 5000), in_register(Register.crucibles, folder)),
            Growth("crucible show, heats", (50, 500, 5000), in_register(lambda books: books.heats("A3"), folder)),
            Growth(
                "a crucible's life, heats",
                (50, 500, 5000),
                in_register(lambda books: books.life("A3", date(2026, 6, 1)), folder),
            ),
        )
        for growth in growths:
            growth.print()


if __name__ == "__main__":
    main()
