"""A board that sends a model heat at speed, and knows each reading it sent. Not a test itself.

The heat is the same each time: two ramps, two soaks, one climb that is too fast and one soak that is left. Every
reading carries its own number in the last digits of EMF and junction temperature (a thousandth of a µV and of a
degree), so that it is known again in the record, wherever it went in between.
"""

import itertools
import os
import random
import select
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.sources.pty_board import PtyBoard, frame_line

from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import Reading

SCHEDULE = """\
title = "A heat for faults"
basis = "invented for tests"

[[segment]]
name = "warming"
kind = "ramp"
to = "500 C"
max_rate = "40 C / 20 s"

[[segment]]
name = "first soak"
kind = "soak"
at = "500 C"
band = ["-15 C", "+15 C"]
hold = "1 min"

[[segment]]
name = "climbing"
kind = "ramp"
to = "700 C"
max_rate = "40 C / 20 s"

[[segment]]
name = "second soak"
kind = "soak"
at = "700 C"
band = ["-15 C", "+15 C"]
hold = "2 h"
"""

# Heat seconds and °C. From 120 to 200 s it climbs four times as fast as before: `ramp-high`. From 750 s on the soak is
# left. Both last long enough to be seen by a watch that was blind for a part of them.
_COURSE = (
    *((0, 25), (120, 145), (200, 465), (270, 501), (490, 501), (690, 700), (750, 700), (770, 730)),
    (1_000_000, 730),
)
EARLY_S, TOO_FAST_S, SOAKING_S, CLIMBING_S = 20.0, 120.0, 300.0, 510.0
"""Seconds of the heat at which something can go wrong: well before the alarm, in the soak, in the second ramp."""
HEAT_S = 890.0
"""Long enough that both alarms of the heat itself have been raised."""

_NOISE_C = 0.2
_THERMOCOUPLE = thermocouple("K")
_SPARE = 1000


def temperature_c(heat_s: float, noise: random.Random) -> float:
    """Give the furnace's temperature at a second of the heat, °C."""
    for (from_s, from_c), (to_s, to_c) in itertools.pairwise(_COURSE):
        if heat_s <= to_s:
            return from_c + (to_c - from_c) * (heat_s - from_s) / (to_s - from_s) + noise.gauss(0.0, _NOISE_C)
    return float(_COURSE[-1][1])


@dataclass(frozen=True, slots=True)
class Sent:
    """One reading of the board: its number, when it was sent (real, monotonic), and whether the line took it whole."""

    number: int
    heat_s: float
    emf_nv: int
    junction_mc: int
    at_s: float
    intact: bool

    @property
    def reading(self) -> Reading:
        """The reading as an undisturbed watch would have it."""
        return Reading(round(self.heat_s, 3), self.emf_nv / 1e3, self.junction_mc / 1e3)


def number_of(reading: Reading) -> int:
    """Give the number a recorded reading was sent under."""
    emf_nv, junction_mc = round((reading.emf_uv or 0.0) * 1e3), round((reading.junction_c or 0.0) * 1e3)
    return (junction_mc - 24_500) * _SPARE + emf_nv % _SPARE


class ModelBoard:
    """Sends one heat over a pseudo-terminal, `speed` seconds of it in a real second, a reading each `interval_s`."""

    def __init__(
        self,
        path: Path,
        speed: float,
        interval_s: float = 1.0,
        seed: int = 1,
        course: Callable[[float, random.Random], float] = temperature_c,
    ) -> None:
        self._path = path
        self.line = PtyBoard(path)
        Path(self.line.node).chmod(0o666)
        self.speed = speed
        self.interval_s = interval_s
        self.spoil: Callable[[bytes], bytes] | None = None
        """What the line does to the bytes of a frame; None is a clean line."""
        self.sent: list[Sent] = []
        self.heat_s = 0.0
        self._course = course
        self._noise = random.Random(seed)
        self._plugging = threading.Lock()
        self._ms_zero_s = 0.0
        self._seq_zero = 0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._send, name="model board", daemon=True)

    def start(self) -> None:
        """Light the furnace."""
        self._thread.start()

    def stop(self) -> None:
        """Send no more."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()

    def close(self) -> None:
        """Stop, and pull the plug."""
        self.stop()
        self.unplug()

    def unplug(self) -> None:
        """Vanish; what would be sent meanwhile is lost."""
        with self._plugging:
            self.line.unplug()

    def plug_in(self, mode: int = 0o666) -> None:
        """Come back, perhaps under another number; whoever finds the name finds the `mode` set already."""
        with self._plugging:
            self.line.path = self._path.with_suffix(".unready")
            self.line.plug_in()
            Path(self.line.node).chmod(mode)
            self.line.path = self.line.path.rename(self._path)

    def restart(self) -> None:
        """Count numbers and milliseconds from zero again, as after a loose supply."""
        with self._plugging:
            self._ms_zero_s, self._seq_zero = self.heat_s, len(self.sent)

    def _send(self) -> None:
        began_s = time.monotonic()
        while not self._stop.is_set():
            due_s = began_s + self.heat_s / self.speed
            self._stop.wait(max(0.0, due_s - time.monotonic()))
            with self._plugging:
                self._send_one()
                self.heat_s += self.interval_s

    def _send_one(self) -> None:
        number = len(self.sent)
        junction_mc = 24_500 + number // _SPARE
        junction_uv = _THERMOCOUPLE.emf_uv(junction_mc / 1e3)
        emf_uv = _THERMOCOUPLE.emf_uv(self._course(self.heat_s, self._noise)) - junction_uv
        emf_nv = round(emf_uv) * _SPARE + number % _SPARE
        ms = round(1000.0 * (self.heat_s - self._ms_zero_s))
        frame = frame_line((number - self._seq_zero) % 65_536, ms, emf_nv, junction_mc)
        spoilt = frame if self.spoil is None else self.spoil(frame)
        taken = self._put(spoilt)
        intact = taken and spoilt == frame
        self.sent.append(Sent(number, self.heat_s, emf_nv, junction_mc, time.monotonic(), intact))

    def _put(self, data: bytes) -> bool:
        """Write a frame whole or not at all: a board does not wait for whoever listens."""
        if self.line._master < 0 or not select.select([], [self.line._master], [], 0.0)[1]:
            return False
        try:
            return os.write(self.line._master, data) == len(data)
        except OSError:
            return False
