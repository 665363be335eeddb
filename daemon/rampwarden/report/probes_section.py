"""What a report says of the probes beside the followed one, and of the times in which one of them stood in."""

from collections.abc import Iterator

from rampwarden.core.quantities import format_duration
from rampwarden.report.content import Section, Table
from rampwarden.report.course import Course
from rampwarden.report.probe_courses import ProbeCourse, StoodIn
from rampwarden.report.units import Scale, clock
from rampwarden.terminal_text import printable

_HUNG = {
    "pot": "on the pot",
    "chamber": "in the chamber",
    "bottle": "on the gas bottle",
    "room": "in the room",
}


def probes_sections(course: Course, scale: Scale) -> Iterator[Section]:
    """Give the other probes and what stood in; nothing where there is one probe."""
    if course.probes:
        rows = tuple(_probe_row(probe, scale) for probe in course.probes)
        headings = ("probe", "hung", "highest", "± there", "parted from the followed by", "without a reading")
        yield Section("The other probes", (), Table(headings, rows, numbers=(2, 3, 5)))
    if course.stood_in:
        sentences = tuple(_stood_in(stood, scale) for stood in course.stood_in)
        yield Section("What stood in for the followed probe", sentences)


def _probe_row(probe: ProbeCourse, scale: Scale) -> tuple[str, ...]:
    expanded_c = probe.expanded_c
    return (
        printable(probe.name),
        _HUNG.get(probe.place, printable(probe.place)),
        scale.show_temp(probe.hottest_c),
        "–" if expanded_c is None else scale.show_difference(expanded_c),
        _parted(probe, scale),
        str(probe.said_nothing or "–"),
    )


def _parted(probe: ProbeCourse, scale: Scale) -> str:
    """Say how far it stood over and under the followed one at most, each with its moment."""
    if not probe.parting:
        return "–"
    over = max(probe.parting, key=lambda sample: sample.mean_c)
    under = min(probe.parting, key=lambda sample: sample.mean_c)
    said = []
    if over.mean_c > 0.0:
        said.append(f"{scale.show_signed(over.mean_c)} at {clock(over.to_s)}")
    if under.mean_c < 0.0:
        said.append(f"{scale.show_signed(under.mean_c)} at {clock(under.to_s)}")
    return ", ".join(said) or "–"


def _stood_in(stood: StoodIn, scale: Scale) -> str:
    credit = "a soak was credited by it" if stood.earned else "a soak earned nothing by it, at least for a time"
    left = f"; not judged meanwhile: {', '.join(sorted(stood.unguarded))}" if stood.unguarded else ""
    return printable(
        f"From {clock(stood.from_s)} for {format_duration(stood.to_s - stood.from_s)} by the {stood.probe} probe: "
        f"± {scale.show_difference(stood.worst_c)} at worst, {credit}{left}."
    )
