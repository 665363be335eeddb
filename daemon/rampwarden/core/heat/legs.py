"""The way ahead, segment by segment, as far as lengths of time are guessed for it. Guesses nothing itself."""

from collections.abc import Sequence
from dataclasses import dataclass

from rampwarden.core.schedule import Schedule, SegmentKind


@dataclass(frozen=True, slots=True)
class Leg:
    """One segment of the way ahead: seconds from now, and the temperatures it is reckoned to lead from and to, °C."""

    index: int
    begins_s: float
    ends_s: float
    from_c: float | None
    to_c: float | None


def legs_ahead(
    schedule: Schedule, index: int, temp_c: float | None, to_next_s: float | None, later_s: Sequence[float]
) -> list[Leg]:
    """Give the way ahead from `temp_c` now, as far as lengths (s) are given: to the next segment, and of later ones."""
    if to_next_s is None:
        return []
    legs = [Leg(index, 0.0, to_next_s, temp_c, _leads_to_c(schedule, index))]
    for later, length_s in enumerate(later_s, index + 1):
        before = legs[-1]
        to_c = _leads_to_c(schedule, later)
        legs.append(Leg(later, before.ends_s, before.ends_s + length_s, before.to_c, to_c))
    return legs


def _leads_to_c(schedule: Schedule, index: int) -> float | None:
    segment = schedule.segments[index]
    # A pot carried over has cooled; the least it arrives with is the best that is known of it.
    return segment.arrive_above_c if segment.kind is SegmentKind.TRANSFER else segment.target_c
