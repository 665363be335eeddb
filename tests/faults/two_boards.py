"""A heat watched over two boards, the pot's probe on the one and the chamber's on the other, and what befalls them.

Faults of the one must cost the other nothing. Not a test itself.
"""

import contextlib
import random
import time
from collections.abc import Iterator, Sequence

from tests.faults.fault_bench import PATIENCE_S, UNRECORDED_AT_MOST_S, Bench
from tests.faults.model_board import ModelBoard, number_of, temperature_c
from tests.outputs.mqtt.broker import wait_until

from rampwarden.core.model import ProbeReading, Reading
from rampwarden.records.record_lines import Line

_SECOND = """
[boards.second]
port = "{port}"
interval = "0.1 s"
[probes.chamber]
board = "second"
place = "chamber"
"""
_AHEAD_C = 15.0


def chamber_c(heat_s: float, noise: random.Random) -> float:
    """Give the chamber's temperature, a little over the pot's, °C."""
    return temperature_c(heat_s, noise) + _AHEAD_C


class TwoBoards(Bench):
    """A bench with a second board, `second`; what only that may lose is sent in `second_windows`."""

    def __post_init__(self) -> None:
        super().__post_init__()
        self.second = ModelBoard(self.folder / "by-id-second", self.speed, self.interval_s, seed=2, course=chamber_c)
        self.second_windows: list[tuple[float, float]] = []
        self.are_swapped = False
        settings = self.folder / "settings.toml"
        settings.write_text(settings.read_text("utf-8") + _SECOND.format(port=self.second.line.path), "utf-8")

    def begin(self, *, broker: bool = True) -> None:
        """Begin as with one board, and let the other one speak too."""
        super().begin(broker=broker)
        self.second.start()
        self.await_second()

    def await_second(self) -> None:
        """Wait until a reading that the second board sends from now on is recorded."""
        kept = len(self.of_chamber())
        wait_until(lambda: len(self.of_chamber()) > kept, "a reading of the second board in the record", PATIENCE_S)

    def await_followed(self) -> None:
        """Wait until one more reading is recorded as the followed probe's, whichever board sent it."""
        kept = sum('"kind":"reading"' in line for line in self.lines())
        wait_until(
            lambda: sum('"kind":"reading"' in line for line in self.lines()) > kept, "a followed reading", PATIENCE_S
        )

    def of_chamber(self) -> list[str]:
        """Give the record's lines of the chamber's probe so far."""
        return [line for line in self.lines() if '"kind":"probe"' in line]

    @contextlib.contextmanager
    def second_window(self) -> Iterator[None]:
        """Let what the second board sends until its first reading recorded afterwards be lost."""
        from_s = time.monotonic() - UNRECORDED_AT_MOST_S
        yield
        self.await_second()
        self.second_windows.append((from_s, time.monotonic()))

    def finish(self, heat_s: float, *, as_twin: bool = True) -> list[str]:
        """End it, and judge both boards; the twin has no second probe, so its state is not the measure."""
        del as_twin
        self.reach(heat_s)
        wait_until(lambda: self.second.heat_s >= heat_s, f"second {heat_s} of the heat, by both", PATIENCE_S)
        self.second.stop()
        if self.are_swapped:
            # What the record ends with is then the second board's last reading.
            self.board, self.second = self.second, self.board
            self.second.stop()
        found = super().finish(heat_s, as_twin=False)
        if not self.has_alarm("ramp-high"):
            found.append("the heat's own ramp-high was not told")
        return found

    def close(self) -> None:
        """Leave nothing running."""
        super().close()
        self.second.close()

    def _judge_readings(self, lines: Sequence[Line]) -> list[str]:
        if self.are_swapped:
            # Whose readings stand under which name is what went wrong; none may be recorded twice for all that.
            self.recorded, self.lost = sum(isinstance(line, Reading) for line in lines), 0
            return []
        return super()._judge_readings(lines) + self._judge_second(lines)

    def _judge_second(self, lines: Sequence[Line]) -> list[str]:
        recorded = [
            number_of(Reading(line.time_s, line.emf_uv, line.junction_c))
            for line in lines
            if isinstance(line, ProbeReading)
        ]
        found = [] if recorded == sorted(set(recorded)) else ["the chamber's readings stand twice or out of order"]
        there, first = set(recorded), min(recorded, default=0)
        lost = [
            sent
            for sent in self.second.sent
            if sent.intact
            and sent.number > first
            and sent.number not in there
            and not any(from_s <= sent.at_s <= to_s for from_s, to_s in self.second_windows)
        ]
        if lost and lost[0].number < len(self.second.sent) - 2.0 * self.speed / self.interval_s:
            found.append(f"{len(lost)} readings of the chamber lost, from {lost[0].heat_s} s on")
        return found


def first_pulled(bench: Bench) -> None:
    """The followed probe's board is pulled: the chamber's stands in, and not one of its readings is lost."""
    assert isinstance(bench, TwoBoards)
    with bench.window():
        bench.board.unplug()
        wait_until(lambda: bench.has_alarm("signal-lost"), "silence is an alarm", PATIENCE_S)
        bench.await_second()
        bench.board.plug_in()


def second_pulled(bench: Bench) -> None:
    """The other board is pulled: its probe is lost by name, and the followed one goes on without a gap."""
    assert isinstance(bench, TwoBoards)
    with bench.second_window():
        bench.second.unplug()
        wait_until(lambda: bench.has_alarm("chamber:signal-lost"), "its probe's silence is an alarm", PATIENCE_S)
        bench.await_reading()
        bench.second.plug_in()


def both_pulled(bench: Bench) -> None:
    """Nobody sees the heat; both come back, the second one first."""
    assert isinstance(bench, TwoBoards)
    with bench.window(), bench.second_window():
        bench.board.unplug()
        bench.second.unplug()
        wait_until(lambda: bench.has_alarm("signal-lost"), "silence is an alarm", PATIENCE_S)
        wait_until(lambda: bench.has_alarm("chamber:signal-lost"), "and that of the other", PATIENCE_S)
        bench.second.plug_in()
        bench.board.plug_in()


def ports_swapped(bench: Bench) -> None:
    """Each board comes back under the other's name, for good: both are read on, each as what it now is called."""
    assert isinstance(bench, TwoBoards)
    bench.are_swapped = True
    bench.board.unplug()
    bench.second.unplug()
    first, second = bench.board, bench.second
    first._path, second._path = second._path, first._path
    first.plug_in()
    second.plug_in()
    # The watch's followed probe is now the second board's.
    bench.await_followed()
    bench.await_second()
