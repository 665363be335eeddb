"""A schedule as the watch uses it: segments in order, every quantity already in °C and seconds.

Knows nothing of files or of the heat's progress; `schedule_parsing` makes it from a table, `heat` walks it.
"""

from dataclasses import dataclass
from enum import StrEnum

from rampwarden.core.quantities import Rate

COLD_C = 60.0
"""°C. A pot below it can neither be cooled too fast nor burn a hand. Common practice, no source."""


MOST_CHECKS = 20
"""Lines of a checklist. A longer one is not read by anybody who holds a lighter."""
CHECK_ANSWERS = ("done", "not needed")
"""What may be said of a line of the checklist besides one's own words."""


class SegmentKind(StrEnum):
    """What a segment asks of the furnace."""

    RAMP = "ramp"
    SOAK = "soak"
    TRANSFER = "transfer"
    COOL = "cool"

    @property
    def heats(self) -> bool:
        """Whether it wants heat: a climb and a soak do."""
        return self in _HEATING


# Asked at every reading: in Python 3.11 a member that is looked up on its class costs as much as thirty names.
_HEATING = (SegmentKind.RAMP, SegmentKind.SOAK)


class HeatNumber(StrEnum):
    """Which heat of a crucible a schedule is for."""

    FIRST = "first"
    LATER = "later"


class OutOfBand(StrEnum):
    """What a soak's clock does while the temperature is outside its band."""

    PAUSE = "pause"
    RESTART = "restart"


@dataclass(frozen=True, slots=True)
class TimedQuestion:
    """What is asked `after_s` seconds into a segment, and waits for an answer; `answers` are those that are offered."""

    after_s: float
    question: str
    answers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Segment:
    """One segment; which fields are set depends on its kind, and the parser has seen to it.

    Ramp and cool go `to_c`; a soak holds `at_c` within `band_c` (low, high as differences) for `hold_s`; a cool keeps
    the furnace shut for `hold_s` at least; a transfer ends once the probe climbs again above `arrive_above_c`.
    `within_s` is the time limit of any kind; `asks` are what any kind asks in its course, soonest first.
    """

    name: str
    kind: SegmentKind
    to_c: float | None = None
    at_c: float | None = None
    band_c: tuple[float, float] = (-15.0, 15.0)
    hold_s: float = 0.0
    out_of_band: OutOfBand = OutOfBand.PAUSE
    max_rates: tuple[Rate, ...] = ()
    min_rate: Rate | None = None
    ceiling_c: float | None = None
    within_s: float | None = None
    arrive_above_c: float | None = None
    say: str = ""
    asks: tuple[TimedQuestion, ...] = ()

    @property
    def target_c(self) -> float | None:
        """Where the segment leads: `to_c`, or `at_c` of a soak; None for a transfer."""
        return self.at_c if self.kind is SegmentKind.SOAK else self.to_c

    @property
    def lowest_c(self) -> float:
        """The lower edge of a soak's band, °C."""
        return (self.at_c or 0.0) + self.band_c[0]

    @property
    def highest_c(self) -> float:
        """The upper edge of a soak's band, °C."""
        return (self.at_c or 0.0) + self.band_c[1]


@dataclass(frozen=True, slots=True)
class Schedule:
    """A whole heat as planned; `checklist` is what is ticked off before the fire is lit, a line each."""

    title: str
    segments: tuple[Segment, ...]
    crucible_class: str = ""
    basis: str = ""
    heat: HeatNumber | None = None
    checklist: tuple[str, ...] = ()

    def limits_in_force(self, index: int) -> tuple[Rate, ...]:
        """Give the climb limits of segment `index`.

        A soak without limits of its own keeps those of the ramp that leads to it: the last degrees up to the soak
        temperature are climbed inside the soak segment, and they are no less dangerous there.
        """
        segment = self.segments[index]
        if segment.max_rates or segment.kind is not SegmentKind.SOAK or index == 0:
            return segment.max_rates
        before = self.segments[index - 1]
        return before.max_rates if before.kind is SegmentKind.RAMP else ()

    def fastest_c_per_s(self, index: int) -> float | None:
        """Give the fastest climb or fall that segment `index` allows, °C/s, without sign; None if nothing limits it."""
        return min((rate.c_per_s for rate in self.limits_in_force(index)), default=None)

    def allowed_c_per_s(self, index: int) -> tuple[float | None, float | None]:
        """Give the lowest and the highest slope that segment `index` allows, °C/s; a cooling's is below zero."""
        segment, fastest = self.segments[index], self.fastest_c_per_s(index)
        if segment.kind is SegmentKind.COOL:
            return (None if fastest is None else -fastest), None
        return (segment.min_rate.c_per_s if segment.min_rate else None), fastest

    def end_of_ramp_c(self, index: int) -> float:
        """Give the temperature at which ramp `index` is done, °C.

        When a soak follows, its band is soon enough: who levels off two degrees low has arrived.
        """
        to_c = self.segments[index].to_c or 0.0
        if index + 1 < len(self.segments):
            after = self.segments[index + 1]
            if after.kind is SegmentKind.SOAK:
                return min(to_c, after.lowest_c)
        return to_c

    @property
    def cold_c(self) -> float:
        """Below this the heat is over, °C: cold enough to touch, or where its last cooling leads if that is warmer."""
        last = self.segments[-1]
        return max(COLD_C, last.to_c or 0.0) if last.kind is SegmentKind.COOL else COLD_C

    def joining_segment(self, temp_c: float) -> int:
        """Give the index of the segment that fits a furnace found at `temp_c`.

        The first ramp not yet climbed or soak not yet passed, among the segments before any cooling. A furnace hotter
        than all of them joins at the last of those: a soak is never taken as done without having been watched.
        """
        last = 0
        for index, segment in enumerate(self.segments):
            if segment.kind is SegmentKind.COOL:
                break
            if segment.kind is SegmentKind.RAMP and temp_c < self.end_of_ramp_c(index):
                return index
            if segment.kind is SegmentKind.SOAK:
                if temp_c <= segment.highest_c:
                    return index
                last = index
            if segment.kind is SegmentKind.RAMP:
                last = index
        return last
