"""What was reckoned of the pot's own physics, as a report prints it; nothing where nothing was."""

from collections.abc import Iterator, Sequence

from rampwarden.core.model import WallPeak
from rampwarden.log_setup import printable
from rampwarden.report.content import Section, Table
from rampwarden.report.course import Course
from rampwarden.report.units import Scale, clock


def physics_sections(course: Course, scale: Scale) -> Iterator[Section]:
    """Give a section for each thing that was followed."""
    physics = course.figures.physics
    if physics is not None and physics.wall:
        yield _wall_section(course, physics.wall, scale)


def _wall_section(course: Course, peaks: Sequence[WallPeak], scale: Scale) -> Section:
    """Give the greatest difference through the wall, and that of each segment."""
    names = {part.number: part.name for part in course.figures.segments}
    greatest = max(peaks, key=lambda peak: abs(peak.through_k))
    sentences = (
        f"Greatest difference through the wall {scale.show_difference(abs(greatest.through_k))} at "
        f"{clock(greatest.at_s)}, in segment {printable(names.get(greatest.segment, str(greatest.segment)))}.",
        "An estimate: the share of what such a wall stands is by handbook figures, good to a factor of two. What one "
        "probe does not see, a flame on one side or steam in the wall, is not in it.",
    )
    rows = tuple(
        (
            str(peak.segment),
            printable(names.get(peak.segment, "–")),
            clock(peak.at_s),
            scale.show_difference(abs(peak.through_k)),
            f"the {'outer' if peak.through_k > 0.0 else 'inner'} face",
            f"{peak.strength_share:.0%}",
        )
        for peak in peaks
    )
    headings = ("", "segment", "at", "greatest difference", "hotter", "of what it stands")
    return Section("The wall", sentences, Table(headings, rows, numbers=(0, 2, 3, 5)))
