"""Does a schedule give a pot the time and the temperature that drying takes, and what would steam do where it does not?

What counts is the pot's own temperature. Time grows as the temperature falls: nothing counts below 110 °C, little below
150. Usual advice runs from 20 min at 260 °C to a day at 200 and agrees in that direction alone (common practice, no
source). The rule is the account's (`core.pot`): what a plan promises is what the heat can show. A soak proves time and
not dryness: that only the scales do.
"""

from rampwarden.core.pot import drying_per_s
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.plan.timeline import Stretch, Timeline

NOTHING_BELOW_C = 110.0
"""°C of the pot below which no time counts: its pores' water boils above 100. Common practice, no source."""
STEAM_BELOW_C = 200.0
"""°C by which a climbing pot must be dry: steam in a closed pore presses hard there. Common practice, no source."""
HOTTEST_C = 270.0
"""°C, the hottest that is still a drying soak: what a kitchen oven reaches. Common practice, no source."""
LEAST_S = 1.0 / drying_per_s(200.0)
"""s at 200 °C, as much as the least of what is usual: 20 min at 260 °C, 30 at 180. Common practice, no source."""

_PARTS = 60
"""Parts a climb is cut into to add it up; the rule is good to a factor at best."""
_SHORTEST_SOAK_S = 1200.0


def weight(temp_c: float) -> float:
    """Give how much a minute of the pot at `temp_c` (°C) counts, as a share of one at 200 °C.

    >>> round(weight(110.0), 2), round(weight(150.0), 2), round(weight(200.0), 2), round(weight(260.0), 2)
    (0.0, 0.22, 1.0, 1.33)
    """
    return drying_per_s(temp_c) * LEAST_S


def drying_soak(schedule: Schedule) -> Segment | None:
    """Give the last soak that is there to dry the pot, before any hotter segment; None if there is none."""
    found = None
    for segment in schedule.segments:
        if segment.kind is SegmentKind.SOAK and _dries(segment):
            found = segment
        elif (segment.target_c or 0.0) > HOTTEST_C:
            break
    return found


def drying_s(timeline: Timeline) -> float | None:
    """Give the time that dries the pot before it gets too hot, in seconds at 200 °C; None if it is not to be known.

    Soaks up to 270 °C count, and climbs as far as 200 °C, until the pot goes on above.
    """
    total_s = 0.0
    for stretch in timeline.stretches:
        if stretch.segment.kind in (SegmentKind.TRANSFER, SegmentKind.COOL):
            continue
        counted_s = _counted_s(stretch)
        if counted_s is None:
            return None
        total_s += counted_s
        if stretch.to_c > HOTTEST_C:
            break
    return total_s


def _counted_s(stretch: Stretch) -> float | None:
    segment = stretch.segment
    if segment.kind is SegmentKind.SOAK:
        return weight(stretch.to_c) * segment.hold_s if stretch.to_c <= HOTTEST_C else 0.0
    low_c, high_c = max(stretch.from_c, NOTHING_BELOW_C), min(stretch.to_c, STEAM_BELOW_C)
    if low_c >= high_c:
        return 0.0
    if stretch.likely_s is None:
        return None
    # The weight added up along a straight line.
    step_c = (high_c - low_c) / _PARTS
    mean = sum(weight(low_c + (part + 0.5) * step_c) for part in range(_PARTS)) / _PARTS
    return mean * stretch.likely_s * (high_c - low_c) / (stretch.to_c - stretch.from_c)


def _dries(segment: Segment) -> bool:
    return NOTHING_BELOW_C <= (segment.at_c or 0.0) <= HOTTEST_C and segment.hold_s >= _SHORTEST_SOAK_S
