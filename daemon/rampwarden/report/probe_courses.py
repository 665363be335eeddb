"""What is kept of the probes beside the followed one for a report: each one's course, and the times one stood in.

Looks on while a record is read, like the heat's own course. Memory does not grow with the heat. Knows nothing of
words or drawing.
"""

import math
from dataclasses import dataclass, field

from rampwarden.core.model import ProbeReading, ProbeStatus, Quality, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.records import Line
from rampwarden.report.thinning import CourseSample, Thinning

PLACES_COMPARED = ("chamber", "pot")
"""Whose probes can stand in for the followed one, and what they part by says something of the pot."""
_TOGETHER_S = 15.0
"""Readings of two probes further apart are not compared: in such a time a brisk pot climbs by 5 °C."""
_LOOKS_EVERY_S = 5.0


@dataclass(frozen=True, slots=True)
class ProbeCourse:
    """One other probe's course: believed readings thinned out, and its expanded uncertainty (± °C) where hottest.

    `parting` is how far it stood over the followed probe, K, thinned out; empty where the two cannot be compared.
    """

    name: str
    place: str
    samples: tuple[CourseSample, ...]
    parting: tuple[CourseSample, ...]
    hottest_c: float | None
    expanded_c: float | None
    said_nothing: int


@dataclass(slots=True)
class StoodIn:
    """A time in which `probe` stood in for the followed one: the guesses, each (s, °C, ± °C) with k = 2.

    `earned` tells whether a soak was credited throughout; `unguarded` which limits were not judged at some time.
    """

    probe: str
    from_s: float
    to_s: float
    guesses: list[tuple[float, float, float]] = field(default_factory=list)
    earned: bool = True
    unguarded: set[str] = field(default_factory=set)

    @property
    def worst_c(self) -> float:
        """By how much the guess may have been off at most, ± °C."""
        return max((off_c for _, _, off_c in self.guesses), default=math.nan)


class ProbesMeter:
    """Keeps what the other probes show while a record is read."""

    def __init__(self) -> None:
        self.stood_in: list[StoodIn] = []
        self._probes: dict[str, _OneProbe] = {}
        self._followed: tuple[float, float] | None = None
        self._stands = False
        self._looked_s = -math.inf

    def take(self, line: Line, monitor: Monitor) -> None:
        """Look at the monitor, which has just taken `line`."""
        if isinstance(line, Reading):
            measurement = monitor.measurement
            if measurement is not None and measurement.quality is Quality.GOOD and measurement.temp_c is not None:
                self._followed = measurement.time_s, measurement.temp_c
        elif isinstance(line, ProbeReading):
            status = monitor.probe(line.probe)
            if status is None:
                return
            kept = self._probes.setdefault(line.probe, _OneProbe(status))
            kept.take(line.time_s, status, self._followed)
            self._look(line.time_s, monitor)

    def courses(self) -> tuple[ProbeCourse, ...]:
        """Give each probe's course, in the order in which they first spoke."""
        return tuple(kept.course(name) for name, kept in self._probes.items())

    def _look(self, time_s: float, monitor: Monitor) -> None:
        state, followed = monitor.standing_in, monitor.followed
        if state is None or followed is None or followed.temp_c is None:
            self._stands = False
            return
        if not self._stands:
            self._stands = True
            self._looked_s = -math.inf
            self.stood_in.append(StoodIn(state.probe, time_s, time_s))
        stood = self.stood_in[-1]
        stood.to_s = time_s
        stood.earned = stood.earned and state.earns
        stood.unguarded.update(state.unguarded)
        if time_s - self._looked_s >= _LOOKS_EVERY_S:
            self._looked_s = time_s
            stood.guesses.append((time_s, followed.temp_c, state.expanded_c))


class _OneProbe:
    def __init__(self, status: ProbeStatus) -> None:
        self._place = status.place
        self._samples, self._parting = Thinning(), Thinning()
        self._hottest_c: float | None = None
        self._expanded_c: float | None = None
        self._said_nothing = 0

    def take(self, time_s: float, status: ProbeStatus, followed: tuple[float, float] | None) -> None:
        temp_c = status.temp_c
        if status.quality is not Quality.GOOD or temp_c is None:
            self._said_nothing += status.quality is Quality.BAD
            return
        self._samples.keep(time_s, temp_c)
        if self._hottest_c is None or temp_c > self._hottest_c:
            self._hottest_c, self._expanded_c = temp_c, status.expanded_c
        if self._place in PLACES_COMPARED and followed is not None and time_s - followed[0] <= _TOGETHER_S:
            self._parting.keep(time_s, temp_c - followed[1])

    def course(self, name: str) -> ProbeCourse:
        return ProbeCourse(
            name,
            self._place,
            tuple(self._samples.samples),
            tuple(self._parting.samples),
            self._hottest_c,
            self._expanded_c,
            self._said_nothing,
        )
