"""Does a schedule dry the pot, and what would steam do where it does not?"""

from rampwarden.core.schedule import Schedule, Segment, SegmentKind

# A soak that dries: hot enough to boil the water off, and cool enough that what is still in the pores cannot burst the
# wall. Published advice runs from 20 min at 260 °C to 24 h at 200 °C; this is the least of what is usual.
# Common practice, no source.
_COOLEST_C = 100.0
_HOTTEST_C = 270.0
_SHORTEST_S = 1200.0


def drying_soak(schedule: Schedule) -> Segment | None:
    """Give the last soak that dries the pot, before any hotter segment; None if there is none."""
    found = None
    for segment in schedule.segments:
        if segment.kind is SegmentKind.SOAK and _dries(segment):
            found = segment
        elif (segment.target_c or 0.0) > _HOTTEST_C:
            break
    return found


def _dries(segment: Segment) -> bool:
    return _COOLEST_C <= (segment.at_c or 0.0) <= _HOTTEST_C and segment.hold_s >= _SHORTEST_S
