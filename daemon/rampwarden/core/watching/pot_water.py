"""Water that leaves a drying pot, told while it happens: by the pot's own climb, and by its weights beside it.

A probe on the pot sees the climb slow down where water boils off, and recover when it is gone; `pot.WaterCourse` knows
by how much. An oven whose dial stands still looks the same, so both are said. Weight alone proves a pot dry: it is
asked for, and put beside what the climb says.
"""

from msgspec.structs import replace

from rampwarden.core.limits import RAMP_FORECAST, RAMP_HIGH
from rampwarden.core.model import EventName, Finding, WaterState
from rampwarden.core.pot import SLOWED_TO, WaterCourse
from rampwarden.core.schedule import Segment, SegmentKind
from rampwarden.core.watching.event_list import EventList
from rampwarden.core.weight_marks import POT, maybe_weight_kg

_POINT_S = 60.0
# A segment that leads no further up than this slows down of itself where water leaves; one that climbs on does not.
_LEADS_ON_C = 125.0
# Above this no water of a wall is left to look for, and nothing is added to the course, °C.
_OVER_C = 250.0
# A pot found colder than this has its weight before drying still to tell, °C.
_COLD_C = 60.0
# So long after its water left a pot runs after its oven, s: some two time constants of one of 5 kg. Own arithmetic.
_RUNS_S = 5400.0
_ASKS = "weigh the pot before it dries and after (mark: pot-weighs 3.52 kg): only its weight proves it dry"


class PotWater:
    """Follows the water of one heat; `asks` says whether the pot is still to be dried, and so weighed."""

    def __init__(self, events: EventList, *, asks: bool) -> None:
        self._events = events
        self._asks = asks
        self._course = WaterCourse()
        self._sum_s = self._sum_c = 0.0
        self._count = 0
        self._ends_s: float | None = None
        self._highest_c = 0.0
        self._leaving_s: float | None = None
        self._left_told = self._missed_told = False
        self._before_kg: float | None = None
        self._after_kg: float | None = None

    def feed(self, time_s: float, temp_c: float, segment: Segment) -> None:
        """Take a believed temperature (°C) at `time_s` (s, rising) in a segment."""
        if self._ends_s is None:
            self._ends_s = time_s + _POINT_S
            if self._asks and temp_c <= _COLD_C and self._before_kg is None:
                self._events.observe(_ASKS)
        if self._leaving_s is not None and not self._left_told and not self._missed_told:
            self._look_for_an_end(temp_c, segment)
        if segment.kind is SegmentKind.TRANSFER or self._highest_c > _OVER_C:
            return
        self._highest_c = max(self._highest_c, temp_c)
        self._sum_s, self._sum_c, self._count = self._sum_s + time_s, self._sum_c + temp_c, self._count + 1
        if time_s < self._ends_s:
            return
        self._course.feed(self._sum_s / self._count, self._sum_c / self._count)
        self._sum_s = self._sum_c = 0.0
        self._count, self._ends_s = 0, time_s + _POINT_S
        self._judge(time_s, segment)

    def resume(self) -> None:
        """A blind time, or readings in doubt: what has not been seen whole tells no slope."""
        self._course = WaterCourse()
        self._sum_s = self._sum_c = 0.0
        self._count = 0

    def mark(self, name: str) -> None:
        """Take a mark that tells the pot's weight, and say what stands beside it; any other changes nothing."""
        kg = maybe_weight_kg(name, POT)
        if kg is None:
            return
        if self._highest_c <= _COLD_C:
            self._before_kg = kg
            self._events.say_here(
                EventName.OBSERVED, f"pot · {kg:.3f} kg before it dries; weigh it again when it is dry"
            )
            return
        self._after_kg = kg
        if self._before_kg is None:
            text = f"{kg:.3f} kg; what it weighed before it dried was not told"
        else:
            text = f"{kg:.3f} kg, {1000.0 * (self._before_kg - kg):.0f} g less than before; {self._seen_words()}"
        self._events.say_here(EventName.OBSERVED, f"pot · {text}")

    def add_reason(self, time_s: float, found: dict[str, Finding]) -> None:
        """Say of a climb that is too fast that it follows the last water, where it does."""
        since_s = self._course.left_s if self._course.left_s is not None else self._leaving_s
        if since_s is None or time_s > since_s + _RUNS_S:
            return
        for name in (RAMP_HIGH.name, RAMP_FORECAST.name):
            finding = found.get(name)
            if finding is not None:
                what = f"{finding.what}; its water has left, and the pot runs after its oven"
                found[name] = replace(finding, what=what)

    def state(self) -> WaterState | None:
        """Give what has been seen of the water; None while nothing has."""
        if self._leaving_s is None and self._before_kg is None and self._after_kg is None:
            return None
        return WaterState(
            self._leaving_s,
            None if self._course.slowest is None else round(self._course.slowest, 2),
            self._course.left_s,
            self._before_kg,
            self._after_kg,
            self._missed_told,
        )

    def _judge(self, time_s: float, segment: Segment) -> None:
        course = self._course
        if course.left_s is not None and self._leaving_s is not None and not self._left_told:
            self._left_told = True
            self._events.observe(
                f"its water has left: the climb has recovered {course.recovered_by:.0f}-fold, and the pot runs after "
                "its oven; weigh it when it is cold"
            )
        target_c = segment.target_c
        if self._leaving_s is not None or course.slowed_to is None or target_c is None or target_c < _LEADS_ON_C:
            return
        if course.slowed_to <= SLOWED_TO and segment.kind.heats:
            self._leaving_s = time_s
            self._events.observe(
                f"water is leaving the wall, or the oven stands still: the pot climbs at {course.slowed_to:.0%} of its "
                "pace before; hold the oven as it is"
            )

    def _look_for_an_end(self, temp_c: float, segment: Segment) -> None:
        """Say that the climb was never seen to recover, where it no longer can be."""
        if segment.kind is SegmentKind.TRANSFER or temp_c > _OVER_C:
            self._missed_told = True
            self._events.observe("no recovery of the climb was seen: the pot is not shown to be dry; weigh it")

    def _seen_words(self) -> str:
        if self._course.left_s is not None:
            return "its climb showed water leave, and recovered"
        return "its climb showed water leave" if self._leaving_s is not None else "its climb showed no water leave"
