"""What one segment allows, judged in one place: its rate limits, its least rate, its ceiling and its band.

The same judges give the findings that may become alarms and the edges that displays draw, so a dot and an alarm cannot
disagree. A finding is a fact about now: whether it has stood long enough to be an alarm is the desk's business. A
deadband applies only to alarms already raised, so that it never helps to raise one.
"""

from collections.abc import Collection

from rampwarden.core.limits.ceiling import Ceiling
from rampwarden.core.limits.direction import Cooling, Heating
from rampwarden.core.limits.edges import Edge
from rampwarden.core.limits.least_rate import LeastRate
from rampwarden.core.limits.level_doubt import LevelDoubt
from rampwarden.core.limits.rate_limits import RateLimits
from rampwarden.core.limits.soak_band import SoakBand
from rampwarden.core.model import Finding, Noise
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

# The displayed ramp looks back a third of the fastest limit's window: quick enough to steer by, and at 25 °C / 15 min
# still steady within a tenth of the limit. The bounds keep it useful where limits are very short, very long or absent.
_DISPLAY_SHARE = 1 / 3
_DISPLAY_SHORTEST_S = 30.0
_DISPLAY_LONGEST_S = 300.0
_DISPLAY_DEFAULT_S = 120.0


class SegmentLimits:
    """Judges every believed temperature against one segment's limits.

    The segment begins at `time_s` (s) with a slope of `slope_c_per_s` (°C/s) just before, 0 where none is known;
    `before` judged the segment it follows, None where nothing goes on from there. `top_c` is the highest temperature
    the crucible's maker allows, °C: a ceiling in every segment.
    """

    def __init__(
        self,
        schedule: Schedule,
        index: int,
        time_s: float,
        before: "SegmentLimits | None",
        slope_c_per_s: float = 0.0,
        top_c: float | None = None,
    ) -> None:
        self.index = index
        segment = schedule.segments[index]
        limits, coming = schedule.limits_in_force(index), _coming_limits(schedule, index)
        falling = segment.kind is SegmentKind.COOL
        if before is not None and before._rates.limits == limits and before._rates.falling == falling:
            # The same limits go on (a soak keeps its ramp's): so does what has been climbed under them.
            self._rates: RateLimits = before._rates
            self._rates.go_on(coming)
        else:
            self._rates = RateLimits(limits, coming, time_s, slope_c_per_s, falling=falling)
            if before is not None:
                self._rates.come_from(before._rates, time_s)
        self._limits, self._worst_c = limits, self._rates.worst_c
        # After a soak its upper edge stays in force while the pot cools: gas left on is seen there first.
        soak = segment if segment.kind is SegmentKind.SOAK else _soak_before(schedule, index)
        self._band = None if soak is None else SoakBand(soak.lowest_c, soak.highest_c)
        self._on_the_way_down = soak is not segment
        self._ceiling: Ceiling | None = None
        ceilings = (segment.ceiling_c, top_c, None if soak is None else soak.ceiling_c)
        ceiling_c = min((each for each in ceilings if each is not None), default=None)
        if ceiling_c is not None:
            kept = before._ceiling if before is not None else None
            self._ceiling = kept if kept and kept.ceiling_c == ceiling_c else Ceiling(ceiling_c)
        self._least = None if segment.min_rate is None else LeastRate(segment.min_rate)
        self._kind = segment.kind
        self._direction: Heating | Cooling | None = None
        if segment.kind is not SegmentKind.TRANSFER:
            self._direction = Cooling() if falling else Heating()
        self._judged = False

    def resume(self, time_s: float) -> None:
        """Go on at `time_s` (s) after a time when nobody watched; what has been climbed is not forgiven."""
        self._rates.resume(time_s)
        if self._least is not None:
            self._least.resume()
        if self._ceiling is not None:
            self._ceiling.resume()
        if self._direction is not None:
            self._direction = type(self._direction)()

    def cool_down(self) -> None:
        """Judge on when the schedule is done and the pot still hot: how fast it falls, and that it grows no hotter."""
        if not self._rates.falling:
            self._rates = RateLimits((), (), 0.0, falling=True)
        self._least = None
        self._on_the_way_down = True
        self._direction = self._direction if isinstance(self._direction, Cooling) else Cooling()

    def judge_climb_anew(self, time_s: float, spared: float = 0.0) -> None:
        """Judge the climb from `time_s` (s) on: what was climbed before was the probe's and not the pot's.

        Of the next climb within each limit's window `spared`, a share of it, is the probe's still.
        """
        self._rates.begin_anew(time_s, spared)

    def judge_climb_along(self, from_s: float, from_c: float, time_s: float, temp_c: float, spared: float) -> None:
        """Judge the climb on as if it had gone straight from `from_c` (°C) at `from_s` (s) to `temp_c` at `time_s`.

        `spared` as in `judge_climb_anew`.
        """
        self._rates.begin_along(from_s, from_c, time_s, temp_c, spared)

    def bridge(self, step_c: float) -> None:
        """Take note that the reading has stepped by so much, °C, and what it is a reading of has not."""
        self._rates.bridge(step_c)

    @property
    def climb_limits(self) -> tuple[Rate, ...]:
        """How fast the temperature may climb; none while it should fall."""
        return () if self._rates.falling else self._rates.limits

    @property
    def display_window_s(self) -> float:
        """The window that suits the displayed ramp under these limits, seconds."""
        shortest = min((rate.window_s for rate in self._rates.limits), default=None)
        if shortest is None:
            return _DISPLAY_DEFAULT_S
        return min(max(shortest * _DISPLAY_SHARE, _DISPLAY_SHORTEST_S), _DISPLAY_LONGEST_S)

    @property
    def worst_climbs_c(self) -> tuple[tuple[Rate, float], ...]:
        """Each limit with the greatest climb (a cooling's: fall) within its window in this segment so far, °C."""
        return tuple(zip(self._limits, self._worst_c, strict=True))

    def feed(
        self,
        time_s: float,
        temp_c: float,
        noise: Noise,
        *,
        approaching: bool,
        raised: Collection[str],
        doubt: LevelDoubt | None = None,
    ) -> dict[str, Finding]:
        """Judge one believed temperature (°C) at `time_s` (s, rising); gives the findings present, by alarm.

        `raised` are the alarms that stand; `approaching` says that a soak has never been in its band yet; `doubt` is
        how far the temperature may be off where it is a guess, None where it is a reading.
        """
        found: dict[str, Finding] = {}
        self._judged = True
        self._rates.feed(time_s, temp_c, noise, found, doubt)
        if self._least is not None:
            self._least.feed(time_s, temp_c, noise, raised, found, doubt)
        if self._ceiling is not None:
            self._ceiling.feed(time_s, temp_c, noise, raised, found, doubt)
        if self._band is not None:
            off_c = 0.0 if doubt is None else doubt.level_c
            self._band.feed(temp_c, raised, found, approaching=approaching or self._on_the_way_down, off_c=off_c)
        # In its band a soak may fall as it likes; on the way there it wants heat as a ramp does.
        wants = approaching or self._on_the_way_down or self._kind is not SegmentKind.SOAK
        if self._direction is not None and wants:
            self._direction.feed(time_s, temp_c, noise, found, doubt)
        return found

    def edges(self) -> list[Edge]:
        """Give every edge for the last temperature, none before the first: the very figures the findings come from."""
        judges = (self._rates, self._least, self._ceiling, self._band)
        return [edge for judge in judges if judge is not None and self._judged for edge in judge.edges()]


def _soak_before(schedule: Schedule, index: int) -> Segment | None:
    """Give the soak that a cooling follows; None elsewhere."""
    if index == 0 or schedule.segments[index].kind is not SegmentKind.COOL:
        return None
    before = schedule.segments[index - 1]
    return before if before.kind is SegmentKind.SOAK else None


def _coming_limits(schedule: Schedule, index: int) -> tuple[Rate, ...]:
    """Give the rate limits of the segment after this one, none where it falls and this one climbs, or the reverse."""
    if index + 1 >= len(schedule.segments):
        return ()
    falls, will_fall = (schedule.segments[each].kind is SegmentKind.COOL for each in (index, index + 1))
    return schedule.limits_in_force(index + 1) if falls == will_fall else ()
