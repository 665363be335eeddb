"""Melting and freezing plateaus of a heat, measured over their whole length: a check of the thermocouple in its place.

The watch tells of a plateau while it lasts (`core.explanation`); here, with the whole heat at hand, its ends are
found and its level is held against the metal's freezing point. That states an offset and corrects nothing.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from rampwarden.core.model import FREEZING_POINTS_C, EventName
from rampwarden.core.quantities import format_duration
from rampwarden.report.course import Course
from rampwarden.report.thinning import CourseSample
from rampwarden.report.units import Scale, clock

# As the watch words it; a test holds the two together.
_OBSERVED = re.compile(r"(?:possibly|likely|very likely|almost certainly) (\w+) (melts|freezes)[,:]")
_BLOCK_S = 60.0
"""s over which a level is averaged: flicker is gone then, and a plateau lasts minutes."""
_SEEN_S = 120.0
"""s that a plateau had lasted, at the least, when the watch told of it."""
_LEVEL_C = 2.0
"""°C within which a minute still belongs to the plateau. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class MeltingPoint:
    """A plateau near a pure metal's freezing point (ITS-90, `point_c`), at `level_c` from `from_s` to `to_s`."""

    metal: str
    verb: str
    point_c: float
    level_c: float
    from_s: float
    to_s: float

    @property
    def offset_c(self) -> float:
        """The thermocouple less the freezing point, °C, if the metal is pure and the probe in it."""
        return self.level_c - self.point_c


def melting_points(course: Course) -> Iterator[MeltingPoint]:
    """Give the plateaus that the watch told of, each measured over its whole length."""
    blocks = list(_blocks(course.samples))
    for remark in course.remarks:
        match = _OBSERVED.match(remark.text) if remark.kind is EventName.OBSERVED else None
        if match is None or match[1] not in FREEZING_POINTS_C:
            continue
        seen = [block for block in blocks if remark.time_s - _SEEN_S <= block.from_s and block.to_s <= remark.time_s]
        if not seen:
            continue
        flat = _extended(blocks, blocks.index(seen[0]), blocks.index(seen[-1]))
        level_c = _mean_c(flat)
        yield MeltingPoint(match[1], match[2], FREEZING_POINTS_C[match[1]], level_c, flat[0].from_s, flat[-1].to_s)


def sentence(plateau: MeltingPoint, uncertain_c: float | None, scale: Scale) -> str:
    """Word a plateau as a check; `uncertain_c` is what the thermocouple may be off there (± °C), None if not known."""
    lasted = format_duration(plateau.to_s - plateau.from_s)
    text = (
        f"From {clock(plateau.from_s)}, {lasted} long, possibly {plateau.metal} {plateau.verb}: read "
        f"{scale.temp(plateau.level_c):.1f}, pure {plateau.metal} {plateau.verb} at "
        f"{scale.temp(plateau.point_c):.1f} {scale.unit} (ITS-90): {scale.show_signed(plateau.offset_c)}"
    )
    if uncertain_c is not None:
        within = abs(plateau.offset_c) <= uncertain_c
        limit = scale.show_difference(uncertain_c)
        text += f", {'within' if within else 'more than'} the ± {limit} it may be off"
        if not within:
            text += "; hold it against a fresh thermocouple in the same place"
    return f"{text}. True only of pure metal with the probe in it, or close by; nothing has been corrected."


def _blocks(samples: tuple[CourseSample, ...]) -> Iterator[CourseSample]:
    """Give the samples joined to a minute each."""
    block: CourseSample | None = None
    for sample in samples:
        if block is not None and sample.to_s - block.from_s < _BLOCK_S:
            block.join(sample)
            continue
        if block is not None:
            yield block
        block = CourseSample(sample.from_s, sample.to_s, sample.low_c, sample.high_c, sample.mean_c, sample.count)
    if block is not None:
        yield block


def _extended(blocks: list[CourseSample], first: int, last: int) -> list[CourseSample]:
    """Give the run of blocks about `first` to `last` that stays on their level."""
    level_c = _mean_c(blocks[first : last + 1])
    while first > 0 and abs(blocks[first - 1].mean_c - level_c) <= _LEVEL_C:
        first -= 1
    while last + 1 < len(blocks) and abs(blocks[last + 1].mean_c - level_c) <= _LEVEL_C:
        last += 1
    return blocks[first : last + 1]


def _mean_c(blocks: list[CourseSample]) -> float:
    return sum(block.mean_c for block in blocks) / len(blocks)
