"""Follows the heat along its schedule: which segment, how long soaked, what has just been completed.

Theory of operation. The heat is always in one phase; phases change only through `TRANSITIONS`. Each temperature
is looked at once by the guards below (named functions that only compare), whose answer is the happening the table is
asked about. Two rules:

1. The soak clock is honest: it counts only time between two readings that both stood in the band, and never a gap.
   What such time is worth as evidence is not known here: the clock is given.
2. A segment ends by what the temperature did or by a person's word, never by the clock alone.
3. The heat is over when the pot is cold, not when the last line is ticked: until then the last segment stays in force.

Knows nothing of alarms: being late or off is judged elsewhere, from what stands here.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType
from typing import Protocol

from rampwarden.core.heat.pulled_probe import PulledProbe
from rampwarden.core.schedule import OutOfBand, Schedule, Segment, SegmentKind
from rampwarden.errors import HeatTransitionError

# Readings further apart than this leave a gap nobody has watched: it is not credited to a soak. For a slow board, or a
# log of one reading a minute, the caller gives a longer one.
LONGEST_CREDITED_S = 15.0

# A pot in transit is recognised by a dip and a rise, so that the last flicker in the oven is not taken for its arrival.
# Common practice, no source: a probe in the air falls by more than 15 °C within a minute.
_DIP_C = 15.0
_RISE_C = 10.0
# Without a dip (a second probe waits in the furnace) this far above the oven there can be no doubt.
_BEYOND_C = 50.0


# A soak that starts again when its band is left has been left for so long, s: one reading beside it is no leaving.
# Common practice, no source.
_RESTARTS_AFTER_S = 15.0


class Phase(Enum):
    """What the heat is doing."""

    WAITING = "waiting for the first temperature"
    RAMPING = "ramping"
    APPROACHING = "approaching the soak"
    SOAKING = "soaking"
    ADRIFT = "out of the soak's band"
    TRANSFERRING = "transferring"
    COOLING = "cooling"
    STILL_HOT = "cooling and still watched"
    COMPLETE = "complete"


class TrackerInput(Enum):
    """What can move the heat from one phase to another."""

    BEGIN_RAMP = "begin a ramp"
    BEGIN_SOAK = "begin a soak"
    BEGIN_TRANSFER = "begin a transfer"
    BEGIN_COOL = "begin cooling"
    RUN_OUT = "run out of segments"
    ENTER_BAND = "enter the band"
    LEAVE_BAND = "leave the band"
    FINISH = "finish"


BEGINNINGS: Mapping[SegmentKind, TrackerInput] = MappingProxyType(
    {
        SegmentKind.RAMP: TrackerInput.BEGIN_RAMP,
        SegmentKind.SOAK: TrackerInput.BEGIN_SOAK,
        SegmentKind.TRANSFER: TrackerInput.BEGIN_TRANSFER,
        SegmentKind.COOL: TrackerInput.BEGIN_COOL,
    }
)
_UNFINISHED = tuple(phase for phase in Phase if phase is not Phase.COMPLETE)
_WALKING = tuple(phase for phase in _UNFINISHED if phase is not Phase.STILL_HOT)
# Asked at every reading, and so looked up once (see `SegmentKind.heats`).
_WITHOUT_SEGMENT = (Phase.WAITING, Phase.COMPLETE)
_RAMPING, _COOLING = Phase.RAMPING, Phase.COOLING

TRANSITIONS: Mapping[tuple[Phase, TrackerInput], Phase] = MappingProxyType(
    {
        (Phase.APPROACHING, TrackerInput.ENTER_BAND): Phase.SOAKING,
        (Phase.SOAKING, TrackerInput.LEAVE_BAND): Phase.ADRIFT,
        (Phase.ADRIFT, TrackerInput.ENTER_BAND): Phase.SOAKING,
        **{(phase, TrackerInput.BEGIN_RAMP): Phase.RAMPING for phase in _WALKING},
        **{(phase, TrackerInput.BEGIN_SOAK): Phase.APPROACHING for phase in _WALKING},
        **{(phase, TrackerInput.BEGIN_TRANSFER): Phase.TRANSFERRING for phase in _WALKING},
        **{(phase, TrackerInput.BEGIN_COOL): Phase.COOLING for phase in _WALKING},
        **{(phase, TrackerInput.RUN_OUT): Phase.STILL_HOT for phase in _WALKING},
        **{(phase, TrackerInput.FINISH): Phase.COMPLETE for phase in _UNFINISHED},
    }
)


def next_phase(phase: Phase, happening: TrackerInput) -> Phase:
    """Give the phase that follows; raises `HeatTransitionError` where the table has none."""
    try:
        return TRANSITIONS[phase, happening]
    except KeyError:
        raise HeatTransitionError(f"a heat that is {phase.value} cannot {happening.value}") from None


class Milestone(Enum):
    """What has just been reached; `HeatProgress` says of which segment."""

    SEGMENT_STARTED = "segment started"
    SOAK_COMPLETE = "soak complete"
    SCHEDULE_DONE = "schedule done"
    HEAT_COMPLETE = "heat complete"


@dataclass(frozen=True, slots=True)
class HeatProgress:
    """A milestone of segment `index`."""

    milestone: Milestone
    index: int


class SoakClock(Protocol):
    """Says how much of a soak counts."""

    @property
    def soaked_s(self) -> float:
        """What counts of the present soak, s; it may become less."""

    def begin(self, index: int) -> None:
        """The soak of segment `index` begins at nothing."""

    def feed(self, time_s: float, *, in_band: bool) -> None:
        """Take a reading (s) of the present soak."""

    def restart(self) -> None:
        """The present soak begins at nothing again."""

    def leave(self, time_s: float) -> None:
        """The present segment ends at `time_s` (s)."""


class HeatTracker:
    """Walks one schedule. Public state is for reading only: `phase`, `index`, `started_s`, `soaked_s`.

    `soaked_s` is the soak clock; of a cooling that is to stay shut for a time, it is for how long it has been.
    """

    def __init__(self, schedule: Schedule, clock: SoakClock) -> None:
        self.schedule = schedule
        self._clock = clock
        self.phase = Phase.WAITING
        self.index = 0
        self.started_s = 0.0
        self.soaked_s = 0.0
        self._last_c = 0.0
        self._departed_c = 0.0
        self._lowest_c = 0.0
        self._end_c = 0.0
        self._left_s = math.inf
        self._probe = PulledProbe()

    @property
    def segment(self) -> Segment | None:
        """The segment in force, the last one until the pot is cold; None before the first reading and at the end."""
        return None if self.phase in _WITHOUT_SEGMENT else self.schedule.segments[self.index]

    @property
    def overdue_s(self) -> float | None:
        """When the present segment is overdue, seconds since the heat began; None if it has no time limit."""
        segment = self.segment
        if segment is None or segment.within_s is None or self.phase is Phase.STILL_HOT:
            return None
        return self.started_s + segment.within_s

    @property
    def probe_pulled(self) -> bool:
        """Whether the probe was pulled while the pot was cooling, and has not been put back."""
        return self._probe.pulled

    def feed(self, time_s: float, temp_c: float) -> list[HeatProgress]:
        """Take an accepted temperature; gives what was reached by it, in order (mostly nothing)."""
        phase = self.phase
        if phase is _RAMPING:
            done = temp_c >= self._end_c
        elif phase is _COOLING:
            done = self._has_cooled(time_s, temp_c)
        elif phase is Phase.STILL_HOT:
            pulled = self._probe.feed(time_s, temp_c)
            return self._end(temp_c) if temp_c <= self.schedule.cold_c and not pulled else []
        elif phase is Phase.TRANSFERRING:
            done = self._has_arrived(temp_c)
        elif phase is Phase.COMPLETE:
            return []
        elif phase is Phase.WAITING:
            self._last_c = temp_c
            return self._begin(self.schedule.joining_segment(temp_c), time_s, temp_c, seen=True)
        else:
            done = self._soak(time_s, temp_c)
        self._last_c = temp_c
        return self._complete(time_s, temp_c) if done else []

    def skip(self, time_s: float) -> list[HeatProgress]:
        """End the present segment on a person's word."""
        if self.segment is None or self.phase is Phase.STILL_HOT:
            raise HeatTransitionError(f"a heat that is {self.phase.value} has no segment to skip")
        # The last reading belongs to the segment that is left: a soak may not count the time since.
        return self._begin(self.index + 1, time_s, self._last_c, seen=False)

    def finish(self) -> None:
        """End the heat on a person's word."""
        self.phase = next_phase(self.phase, TrackerInput.FINISH)

    def _complete(self, time_s: float, temp_c: float) -> list[HeatProgress]:
        reached = []
        if self.schedule.segments[self.index].kind is SegmentKind.SOAK:
            reached.append(HeatProgress(Milestone.SOAK_COMPLETE, self.index))
        return reached + self._begin(self.index + 1, time_s, temp_c, seen=True)

    def _begin(self, index: int, time_s: float, temp_c: float, *, seen: bool) -> list[HeatProgress]:
        """Begin segment `index`; `seen` says that `temp_c` was read at `time_s`."""
        self._clock.leave(time_s)
        if index >= len(self.schedule.segments):
            return self._end(temp_c)
        segment = self.schedule.segments[index]
        self.phase = next_phase(self.phase, BEGINNINGS[segment.kind])
        self.index = index
        self.started_s = time_s
        self.soaked_s = 0.0
        self._departed_c = self._lowest_c = temp_c
        if segment.kind is SegmentKind.RAMP:
            self._end_c = self.schedule.end_of_ramp_c(index)
        elif segment.kind is SegmentKind.COOL:
            is_last = index + 1 == len(self.schedule.segments)
            self._end_c = self.schedule.cold_c if is_last else segment.to_c or 0.0
        reached = [HeatProgress(Milestone.SEGMENT_STARTED, index)]
        self._left_s = math.inf
        if self.phase is Phase.APPROACHING:
            in_band = _in_band(segment, temp_c)
            self._clock.begin(index)
            if seen:
                self._clock.feed(time_s, in_band=in_band)
            if in_band:
                self.phase = next_phase(self.phase, TrackerInput.ENTER_BAND)
        return reached

    def _end(self, temp_c: float) -> list[HeatProgress]:
        """Give the end of the schedule, which is the end of the heat if the pot is cold."""
        if temp_c > self.schedule.cold_c:
            self.phase = next_phase(self.phase, TrackerInput.RUN_OUT)
            return [HeatProgress(Milestone.SCHEDULE_DONE, self.index)]
        self.phase = next_phase(self.phase, TrackerInput.FINISH)
        return [HeatProgress(Milestone.HEAT_COMPLETE, self.index)]

    def _has_cooled(self, time_s: float, temp_c: float) -> bool:
        hold_s = self.schedule.segments[self.index].hold_s
        pulled = self._probe.feed(time_s, temp_c)
        if hold_s > 0.0:
            self.soaked_s = min(time_s - self.started_s, hold_s)
        return temp_c <= self._end_c and self.soaked_s >= hold_s and not pulled

    def _soak(self, time_s: float, temp_c: float) -> bool:
        """Run the soak clock; true once the soak is complete."""
        segment = self.schedule.segments[self.index]
        in_band = _in_band(segment, temp_c)
        self._clock.feed(time_s, in_band=in_band)
        if in_band and self.phase is not Phase.SOAKING:
            self.phase = next_phase(self.phase, TrackerInput.ENTER_BAND)
        elif not in_band and self.phase is Phase.SOAKING:
            self.phase = next_phase(self.phase, TrackerInput.LEAVE_BAND)
            self._left_s = time_s
        out_for_s = 0.0 if in_band else time_s - self._left_s
        if segment.out_of_band is OutOfBand.RESTART and out_for_s >= _RESTARTS_AFTER_S:
            self._clock.restart()
        self.soaked_s = self._clock.soaked_s
        return in_band and self.soaked_s >= segment.hold_s

    def _has_arrived(self, temp_c: float) -> bool:
        """Tell whether the pot stands in the furnace: the probe dipped and climbs again, or is far above the oven."""
        segment = self.schedule.segments[self.index]
        self._lowest_c = min(self._lowest_c, temp_c)
        if segment.arrive_above_c is not None and temp_c < segment.arrive_above_c:
            return False
        dipped = self._lowest_c <= self._departed_c - _DIP_C and temp_c >= self._lowest_c + _RISE_C
        return dipped or temp_c >= self._departed_c + _BEYOND_C


def _in_band(segment: Segment, temp_c: float) -> bool:
    return segment.lowest_c <= temp_c <= segment.highest_c
