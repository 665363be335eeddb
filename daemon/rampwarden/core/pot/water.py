"""When a pot's water has visibly left, by the course of its own temperature alone.

Water that leaves takes up heat: from 80 to 112 °C a wet pot climbs slower than it did from 40 to 60, and once the water
is gone it runs after its oven, which has gone on climbing. Of a simulated pot of 5 kg in an oven at 90 K/h the slope
falls to 0.69 to 0.64 of itself with 2 % of water, to 0.59 to 0.43 with 3 %, to 0.50 to 0.27 with 5 to 8 %, and recovers
2.7- to 10-fold; of a dry one neither happens (1.02 and 1.0; own arithmetic). One per cent leaves hardly a trace, and an
oven whose dial stood still and was then turned up looks the same: so this excuses nothing, it only keeps a climb that
came afterwards from being held to be steam for certain. A probe in the chamber sees none of it. The account asks
afterwards and a running watch at once; both let the same course pass by `WaterCourse`.
"""

from collections.abc import Iterable

from rampwarden.core.pot.evidence import Belief, EvidenceStretch

_Point = tuple[float, float]
"""s, °C."""

# °C: where the climb is still that of a pot whose water stays, and where its water leaves.
_BEFORE_C = (40.0, 60.0)
_LEAVES_C = (80.0, 115.0)
# Slopes are taken over so long, s: the span of a stretch and the flicker of its ends do not matter then.
_SLOW_FOR_S = 600.0
_FAST_FOR_S = 300.0
# Of the climb before, the most that counts as slowed; how many times the slow climb counts as recovered, and the climb
# before as running after the oven. A dial that stood and went on at its old pace does not reach the last.
SLOWED_TO = 0.7
_RECOVERS_BY = 2.5
_RUNS_BY = 1.2
# Of the climb before: a pot that stands still recovers by no more than this makes of it.
_STANDS = 0.05


def water_left_s(stretches: Iterable[EvidenceStretch]) -> float | None:
    """Give from when on the climb had recovered, s since the heat began; None if that was not seen.

    Seen without a break: from below 40 °C to the recovery every stretch is believed, or nothing is said.
    """
    course = WaterCourse()
    for stretch in stretches:
        if stretch.belief is not Belief.BELIEVED:
            break
        if course.is_empty:
            course.feed(stretch.from_s, stretch.begin_c)
        course.feed(stretch.to_s, stretch.end_c)
    return course.left_s


class WaterCourse:
    """Lets a pot's course pass, a point a minute or so; public state is for reading only.

    `slowed_to` is the slope now as a share of that from 40 to 60 °C, None where it is not one that tells; `slowest` the
    least of those that count as slowed. `left_s` is from when on the climb had recovered (s), `recovered_by` how many
    times the slowest climb it then was.
    """

    def __init__(self) -> None:
        self._course: list[_Point] = []
        self._before: float | None = None
        self._low_s: float | None = None
        self._fast, self._slow, self._now = 0, -1, -1
        self._slowest: float | None = None
        self.slowed_to: float | None = None
        self.left_s: float | None = None
        self.recovered_by = 0.0

    @property
    def is_empty(self) -> bool:
        """Whether nothing has passed yet."""
        return not self._course

    @property
    def slowest(self) -> float | None:
        """The least slope that counts as slowed, as a share of that from 40 to 60 °C; None where there was none."""
        return None if self._slowest is None or self._before is None else self._slowest / self._before

    def feed(self, time_s: float, temp_c: float) -> None:
        """Take a point (s, °C), later than the one before."""
        course, (low_c, high_c) = self._course, _BEFORE_C
        if (course and course[0][1] > low_c) or self.left_s is not None:
            # A pot that was warmer when it was first seen has no climb to compare with; and what has left has left.
            return
        course.append((time_s, temp_c))
        if self._low_s is None and temp_c >= low_c:
            self._low_s = time_s
        if self._before is None:
            if temp_c >= high_c and self._low_s is not None and time_s > self._low_s:
                self._before = (temp_c - low_c) / (time_s - self._low_s)
            return
        self._now, slope = _slow_climb(course, len(course) - 1, self._now)
        self.slowed_to = None if slope is None else slope / self._before
        self._look_for_recovery(time_s, temp_c, self._before)

    def _look_for_recovery(self, time_s: float, temp_c: float, before: float) -> None:
        """Compare the last minutes with the slow climbs that ended where they begin, or earlier."""
        course = self._course
        while course[self._fast + 1][0] <= time_s - _FAST_FOR_S:
            self._fast += 1
            self._slow, slope = _slow_climb(course, self._fast, self._slow)
            if slope is not None and slope <= (SLOWED_TO * before if self._slowest is None else self._slowest):
                self._slowest = slope
        begun_s, begun_c = course[self._fast]
        if self._slowest is not None and time_s - begun_s >= _FAST_FOR_S:
            slope = (temp_c - begun_c) / (time_s - begun_s)
            if slope >= max(_RECOVERS_BY * self._slowest, _RUNS_BY * before):
                self.left_s, self.recovered_by = begun_s, slope / max(self._slowest, _STANDS * before)
                self.slowed_to = None


def _slow_climb(course: list[_Point], end: int, begin: int) -> tuple[int, float | None]:
    """Give the slope over the ten minutes before a point, °C/s, if all of it lay where water leaves; and its begin."""
    while course[begin + 1][0] <= course[end][0] - _SLOW_FOR_S:
        begin += 1
    if begin < 0 or course[begin][1] < _LEAVES_C[0] or course[end][1] > _LEAVES_C[1]:
        return begin, None
    return begin, (course[end][1] - course[begin][1]) / (course[end][0] - course[begin][0])
