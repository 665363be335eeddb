"""How long until the next segment, and until the end of the heat: an honest guess for planning a lunch break.

The present segment goes on at the present ramp, held within what the segment allows; later segments go at their limits.
What cannot be guessed (a transfer, a ramp without any limit) makes the answer None instead of a fantasy.
"""

import math
from dataclasses import dataclass

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

# A ramp slower than this share of its limit says nothing about its future: somebody is about to turn the gas.
_SLOWEST_SHARE = 0.25
# Nor does one that would take longer than this: without a limit to go by, it is standing still.
_LONGEST_GUESS_S = 7 * 86400.0


def time_to_next_s(
    schedule: Schedule, index: int, temp_c: float | None, c_per_s: float | None, soaked_s: float
) -> float | None:
    """Give the expected seconds until segment `index` ends, from the present temperature, slope and soak clock."""
    segment = schedule.segments[index]
    hold_s = segment.hold_s - soaked_s
    if segment.kind is SegmentKind.SOAK:
        # Above its band it has only to fall a little; how fast, no climb limit tells.
        left_c = 0.0 if temp_c is None else segment.lowest_c - temp_c
    elif segment.kind is SegmentKind.TRANSFER or temp_c is None:
        return None
    elif segment.kind is SegmentKind.RAMP:
        left_c = schedule.end_of_ramp_c(index) - temp_c
    else:
        left_c = temp_c - (segment.to_c or 0.0)
    if left_c <= 0:
        return hold_s
    pace = _pace(segment, schedule.limits_in_force(index), c_per_s)
    guess_s = left_c / pace if pace else math.inf
    if guess_s > _LONGEST_GUESS_S:
        return None
    return max(guess_s, hold_s) if segment.kind is SegmentKind.COOL else guess_s + hold_s


@dataclass(frozen=True, slots=True)
class Leg:
    """One segment of the way ahead: seconds from now, and the temperatures it is reckoned to lead from and to, °C."""

    index: int
    begins_s: float
    ends_s: float
    from_c: float | None
    to_c: float | None


def legs_ahead(schedule: Schedule, index: int, temp_c: float | None, to_next_s: float | None) -> list[Leg]:
    """Give the way ahead from `temp_c` now, as far as it can be guessed: it stops before what cannot."""
    if to_next_s is None:
        return []
    legs = [Leg(index, 0.0, to_next_s, temp_c, schedule.segments[index].target_c)]
    for later in range(index + 1, len(schedule.segments)):
        before, segment = legs[-1], schedule.segments[later]
        segment_s = _planned_s(schedule, later, before.to_c)
        if segment_s is None:
            break
        # A pot carried over has cooled; the least it arrives with is the best that is known of it.
        to_c = segment.arrive_above_c if segment.kind is SegmentKind.TRANSFER else segment.target_c
        legs.append(Leg(later, before.ends_s, before.ends_s + segment_s, before.to_c, to_c))
    return legs


def time_to_end_s(schedule: Schedule, index: int, to_next_s: float | None) -> float | None:
    """Give the expected seconds until the last segment ends, given those until the present one does."""
    legs = legs_ahead(schedule, index, None, to_next_s)
    return legs[-1].ends_s if len(legs) == len(schedule.segments) - index else None


def _planned_s(schedule: Schedule, index: int, from_c: float | None) -> float | None:
    segment = schedule.segments[index]
    if segment.kind is SegmentKind.TRANSFER:
        return segment.within_s
    if from_c is None or segment.target_c is None:
        return None
    slowest = _slowest(schedule.limits_in_force(index))
    climb_c = abs(segment.target_c - from_c)
    if slowest is None and climb_c > 0 and segment.kind is not SegmentKind.SOAK:
        return None
    way_s = climb_c / slowest if slowest else 0.0
    # A furnace stays shut while it cools, and not once it has.
    return max(way_s, segment.hold_s) if segment.kind is SegmentKind.COOL else way_s + segment.hold_s


def _pace(segment: Segment, limits: tuple[Rate, ...], c_per_s: float | None) -> float | None:
    """Give the pace to reckon with, °C/s: the present one, held between the segment's limits."""
    fastest = _slowest(limits)
    if c_per_s is None:
        return fastest
    present = -c_per_s if segment.kind is SegmentKind.COOL else c_per_s
    if fastest is None:
        return present if present > 0 else None
    slowest = segment.min_rate.c_per_s if segment.min_rate else _SLOWEST_SHARE * fastest
    return min(max(present, slowest), fastest)


def _slowest(rates: tuple[Rate, ...]) -> float | None:
    return min((rate.c_per_s for rate in rates), default=None)
