"""A rehearsal's board: the model heat behind a real pseudo-terminal, on a clock of its own.

Owns the simulated clock and the thread that runs furnace, operator and model board. The watch at the other end opens
the port like any other and must not be able to tell the difference; this module knows nothing of it.

Clock policy. The furnace's thread owns the clock. A frame's bytes are written first and only then does the clock move
to that frame's time, so nobody ever sees a clock that is ahead of bytes not yet written. A full pseudo-terminal blocks
the write and with it the clock: if the watch cannot keep up, the furnace runs slower than asked, and nothing is lost.
"""

import dataclasses
import os
import pty
import random
import threading
import time
import tty
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Protocol

from rampwarden.core.schedule import Schedule
from rampwarden.sources.beside_the_pot import USUAL_BOTTLE_KG, BesidePlace
from rampwarden.sources.board_model import NOISE, BoardModel, NoiseClass, NoiseFigures, Wiring
from rampwarden.sources.furnace_faults import FaultName, FaultPlace
from rampwarden.sources.furnace_model import ROOM_C, FurnaceModel
from rampwarden.sources.furnace_operator import Operator
from rampwarden.sources.probe_mishaps import FAULTY_WIRING, read_by_mishap
from rampwarden.sources.probes_beside import ProbesBeside

# After the heat the board goes on for this long, so that the watch sees the end of it.
_AFTERWARDS_S = 30.0
_RESTART_S = 3.0
_FAULT_SPIKE_SHARE = 0.035

# Shorter waits than this are not worth a system call: several frames go out together instead.
_SHORTEST_WAIT_S = 0.002
# Further behind than this the furnace does not chase the pace it was asked for.
_FORGIVEN_S = 0.25
# A full pseudo-terminal is looked at again this often; a reader empties it in less.
_FULL_WAIT_S = 0.001


class SimulatedClock:
    """The clock of a rehearsal: stands still until it is moved. Safe to read from any thread."""

    def __init__(self, speed: float, started: datetime | None = None) -> None:
        self.speed = speed
        self._started = started or datetime.now(UTC)
        self._now_s = 0.0

    def now_s(self) -> float:
        """Give the seconds since the heat began, simulated."""
        return self._now_s

    def wall(self) -> datetime:
        """Give the date and time it would be at the furnace, UTC."""
        return self._started + timedelta(seconds=self._now_s)

    def move_to(self, time_s: float) -> None:
        """Move on to `time_s`; only the furnace's thread does."""
        self._now_s = time_s


class ModelHeat:
    """A whole heat, one conversion at a time: the same arguments give the same bytes.

    Its board has the pot's probe on channel 0, and those `beside` it on the channels from 1 on, in that order.
    """

    def __init__(
        self,
        schedule: Schedule,
        *,
        seed: int = 1,
        fault: FaultName | None = None,
        noise: NoiseClass = NoiseClass.MODERATE,
        interval_s: float = 1.0,
        start_c: float = ROOM_C,
        fault_place: FaultPlace | None = None,
        beside: Sequence[BesidePlace] = (),
        mishaps: Mapping[BesidePlace, FaultName] | None = None,
        bottle_kg: float = USUAL_BOTTLE_KG,
    ) -> None:
        # Hand and board draw from generators of their own: a change of the one leaves the other's course alone.
        self.furnace = FurnaceModel(Operator.first_place(schedule, start_c), start_c)
        self.operator = Operator(schedule, self.furnace, random.Random(f"hand {seed}"), fault, fault_place)
        self._fault = fault
        self._board = BoardModel(random.Random(f"board {seed}"), _figures(noise, fault), interval_s)
        self._beside = ProbesBeside(beside, mishaps or {}, schedule, self.furnace, seed, noise, interval_s, bottle_kg)
        self._interval_s = interval_s
        self._count = 0
        self._away = False
        self._ends_s: float | None = None
        self.time_s = 0.0

    @property
    def over(self) -> bool:
        """Whether the heat is complete and its last half minute has passed."""
        return self._ends_s is not None and self.time_s >= self._ends_s

    def next_frame(self) -> bytes | None:
        """Let the heat go on by one interval and give the board's frames, the pot's first; None while it is silent."""
        if self._count:
            # Counted, not added up: times stay exact over days.
            self.time_s = self._count * self._interval_s
            self.furnace.step(self._interval_s)
            self._beside.step(self._interval_s)
        self._count += 1
        time_s, operator = self.time_s, self.operator
        operator.attend(time_s, self._interval_s)
        if operator.complete and self._ends_s is None:
            self._ends_s = time_s + _AFTERWARDS_S
        hot_air = operator.fault_is_on(FaultName.HOT_BOARD, time_s)
        sample = self._board.measure(self.furnace, time_s, self._wiring(), hot_air=hot_air, felt_c=self._felt_c())
        if operator.fault_is_on(FaultName.SILENCE, time_s):
            return None
        if self._on(FaultName.BOARD_RESTART, _RESTART_S):
            self._away = True
            return None
        if self._away:
            self._away = False
            self._board.restart(time_s)
            self._beside.restart(time_s)
        return b"".join((self._board.frame(sample, time_s), *self._beside.frames(operator, time_s, hot_air=hot_air)))

    def _felt_c(self) -> float | None:
        """Give what the pot's probe reads by its own mishap, °C; None: what it feels."""
        fault = self._fault
        if fault is None or not self.operator.fault_is_on(fault, self.time_s):
            return None
        age_s = self.operator.fault_age_s(fault, self.time_s)
        return read_by_mishap(fault, age_s, self.furnace.probe_c, ROOM_C)

    def _wiring(self) -> Wiring:
        fault = self._fault
        if fault in FAULTY_WIRING and self.operator.fault_is_on(fault, self.time_s):
            return FAULTY_WIRING[fault]
        return Wiring.SOUND

    def _on(self, fault: FaultName, lasting_s: float) -> bool:
        age_s = self.operator.fault_age_s(fault, self.time_s)
        return age_s is not None and age_s < lasting_s


class PlayedModel(Protocol):
    """What can be played: a model that gives its lines one after the other, on its own time."""

    @property
    def time_s(self) -> float:
        """When the last line was made, s."""

    @property
    def over(self) -> bool:
        """Whether nothing more will come."""

    def next_frame(self) -> bytes | None:
        """Go on by one interval and give the line; None for silence."""


class RehearsalBoard:
    """The model heat (or any model) at `port`, played at `speed` simulated seconds per real second.

    `finished` is set when the heat is over. The port stays open until `stop`.
    """

    def __init__(self, heat: PlayedModel, speed: float = 60.0, started: datetime | None = None) -> None:
        self._heat = heat
        self.clock = SimulatedClock(speed, started)
        self.finished = threading.Event()
        self._stopping = threading.Event()
        # The slave end is held open here too, so that the watch may close and reopen it.
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.port = os.ttyname(self._slave)
        self._thread = threading.Thread(target=self._run, name="model furnace", daemon=True)

    def start(self) -> None:
        """Light the furnace. Open the port before: what is sent to a closed one is lost."""
        self._thread.start()

    def stop(self) -> None:
        """End the rehearsal wherever it stands, and take the port away."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join()
        for descriptor in (self._master, self._slave):
            if descriptor >= 0:
                os.close(descriptor)
        self._master = self._slave = -1

    def _run(self) -> None:
        try:
            self._play()
        finally:
            self.finished.set()

    def _play(self) -> None:
        heat, clock = self._heat, self.clock
        epoch_s = time.monotonic()
        while not heat.over and not self._stopping.is_set():
            frame = heat.next_frame()
            ahead_s = epoch_s + heat.time_s / clock.speed - time.monotonic()
            if ahead_s >= _SHORTEST_WAIT_S:
                self._stopping.wait(ahead_s)
            elif ahead_s < -_FORGIVEN_S:
                epoch_s -= ahead_s  # from here on at the asked pace, what was missed is not made up
            if frame is not None:
                self._write(frame)
            clock.move_to(heat.time_s)

    def _write(self, frame: bytes) -> None:
        while frame and not self._stopping.is_set():
            try:
                frame = frame[os.write(self._master, frame) :]
            except BlockingIOError:
                self._stopping.wait(_FULL_WAIT_S)


def _figures(noise: NoiseClass, fault: FaultName | None) -> NoiseFigures:
    figures = NOISE[noise]
    return dataclasses.replace(figures, spike_share=_FAULT_SPIKE_SHARE) if fault is FaultName.SPIKES else figures
