"""A schedule laid out in time: how long each segment takes, from which temperature to which.

What cannot be known (a ramp without any limit) stays None instead of a fantasy, and everything after it has no clock
time. Times are seconds since the burner is lit; the clock on the wall is the command line's business.
"""

from collections.abc import Callable
from dataclasses import dataclass

from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.plan.oxidation import line_dose_s, part_within

# Nobody rides a limit: this share of it is reckoned with, or halfway from the least to the greatest where that is more.
# Common practice, no source.
_PACE_SHARE = 0.8
# A pot carried over is reckoned to arrive with this, where the schedule does not say: below, it would be damp again.
# Common practice, no source.
_ARRIVES_C = 100.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """One segment in time. `earliest_s` is its length at its limits, `likely_s` as reckoned; None: not to be known.

    `starts_s` is when it begins. `in_furnace` is False for what comes before a transfer, and for the transfer itself.
    """

    segment: Segment
    index: int
    from_c: float
    to_c: float
    starts_s: float | None
    earliest_s: float | None
    likely_s: float | None
    limit_k_per_h: float | None
    in_furnace: bool

    @property
    def ends_s(self) -> float | None:
        """When it ends, seconds since the beginning."""
        return None if self.starts_s is None or self.likely_s is None else self.starts_s + self.likely_s


@dataclass(frozen=True, slots=True)
class Timeline:
    """A whole heat in time, from the segment at which a furnace at ambient joins."""

    schedule: Schedule
    stretches: tuple[Stretch, ...]

    @property
    def total_s(self) -> float | None:
        """How long the heat takes, s; None if one segment's length is not to be known."""
        return self.stretches[-1].ends_s if self.stretches else 0.0

    @property
    def aim_c(self) -> float:
        """The highest temperature the schedule leads to, °C."""
        return max(stretch.to_c for stretch in self.stretches)

    @property
    def peak_c(self) -> float:
        """The highest temperature it allows: the aim, a soak's upper edge or a ceiling, whichever is highest, °C."""
        return max(_allowed_c(stretch) for stretch in self.stretches)

    def seconds_within(self, range_c: tuple[float, float], *, heating_only: bool = False) -> float | None:
        """Give the time between two temperatures, s; None if a stretch that passes there has no length."""
        return self._sum(range_c, lambda from_c, to_c, seconds: seconds, heating_only=heating_only)

    def dose_s(
        self,
        range_c: tuple[float, float],
        *,
        heating_only: bool = False,
        of_line: Callable[[float, float, float], float] = line_dose_s,
    ) -> float | None:
        """Give the oxidation dose taken between two temperatures, equivalent seconds at 600 °C; None as above.

        `of_line` gives that of one straight line.
        """
        return self._sum(range_c, of_line, heating_only=heating_only)

    def _sum(
        self, range_c: tuple[float, float], of_line: Callable[[float, float, float], float], *, heating_only: bool
    ) -> float | None:
        total = 0.0
        for stretch in self.stretches:
            if heating_only and stretch.segment.kind is SegmentKind.COOL:
                continue
            from_c, to_c, share = part_within(stretch.from_c, stretch.to_c, range_c)
            if share == 0.0:
                continue
            if stretch.likely_s is None:
                return None
            total += of_line(from_c, to_c, share * stretch.likely_s)
        return total


def lay_out(schedule: Schedule, ambient_c: float) -> Timeline:
    """Lay a schedule out in time, starting from a furnace at ambient temperature, °C."""
    segments = schedule.segments
    last_transfer = max((index for index, each in enumerate(segments) if each.kind is SegmentKind.TRANSFER), default=-1)
    stretches = []
    from_c, now_s = ambient_c, 0.0
    known = True
    for index in range(schedule.joining_segment(ambient_c), len(segments)):
        segment = segments[index]
        to_c = _end_c(schedule, index, from_c)
        limit = schedule.fastest_c_per_s(index)
        earliest_s, likely_s = _lengths(segment, from_c, to_c, limit)
        stretches.append(
            Stretch(
                segment=segment,
                index=index,
                from_c=from_c,
                to_c=to_c,
                starts_s=now_s if known else None,
                earliest_s=earliest_s,
                likely_s=likely_s,
                limit_k_per_h=None if limit is None else limit * 3600.0,
                in_furnace=index > last_transfer,
            )
        )
        known = known and likely_s is not None
        now_s += likely_s or 0.0
        from_c = to_c
    return Timeline(schedule, tuple(stretches))


def _allowed_c(stretch: Stretch) -> float:
    segment = stretch.segment
    edge_c = segment.highest_c if segment.kind is SegmentKind.SOAK else stretch.to_c
    return edge_c if segment.ceiling_c is None else max(edge_c, segment.ceiling_c)


def _end_c(schedule: Schedule, index: int, from_c: float) -> float:
    segment = schedule.segments[index]
    if segment.kind is SegmentKind.TRANSFER:
        return min(from_c, segment.arrive_above_c if segment.arrive_above_c is not None else _ARRIVES_C)
    if segment.kind is SegmentKind.RAMP:
        return max(from_c, schedule.end_of_ramp_c(index))
    target_c = segment.target_c
    return from_c if target_c is None else target_c


def _lengths(
    segment: Segment, from_c: float, to_c: float, limit_c_per_s: float | None
) -> tuple[float | None, float | None]:
    """Give the shortest and the likely length of a segment, s."""
    if segment.kind is SegmentKind.TRANSFER:
        return 0.0, segment.within_s
    if segment.kind is SegmentKind.SOAK:
        # The last degrees inside the band belong to the hold.
        way_c = max(0.0, segment.lowest_c - from_c)
        hold_s = segment.hold_s
    else:
        way_c, hold_s = abs(to_c - from_c), 0.0
    if way_c == 0.0:
        return hold_s, hold_s
    pace = _pace(segment, limit_c_per_s)
    earliest_s = None if limit_c_per_s is None else way_c / limit_c_per_s + hold_s
    likely_s = segment.within_s if pace is None else way_c / pace + hold_s
    if segment.kind is SegmentKind.COOL and segment.hold_s:
        # Shut for so long at least; where nothing says how fast it cools, for just so long.
        earliest_s, likely_s = max(earliest_s or 0.0, segment.hold_s), max(likely_s or 0.0, segment.hold_s)
    if likely_s is not None and segment.within_s is not None:
        likely_s = min(likely_s, max(segment.within_s, earliest_s or 0.0))
    return earliest_s, likely_s


def _pace(segment: Segment, limit_c_per_s: float | None) -> float | None:
    least = segment.min_rate.c_per_s if segment.min_rate else None
    if limit_c_per_s is None:
        return least
    return max(_PACE_SHARE * limit_c_per_s, 0.5 * (limit_c_per_s + (least or 0.0)))
