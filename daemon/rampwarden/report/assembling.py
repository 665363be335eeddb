"""Puts a report together: judged courses become a drawing, headlines and sections, and go into one file."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from matplotlib.figure import Figure

from rampwarden.report.claims_table import claims_section
from rampwarden.report.content import (
    Section,
    alarms_section,
    checklist_section,
    checks_section,
    crucible_section,
    remarks_section,
    segments_section,
    sensor_section,
    subtitle,
    verdict_sections,
)
from rampwarden.report.course import Course
from rampwarden.report.drawing import draw_heat
from rampwarden.report.html_page import html_page
from rampwarden.report.next_shift import five_lines
from rampwarden.report.overlay import comparison_section, draw_heats
from rampwarden.report.pdf_and_picture import save_drawing, save_pdf
from rampwarden.report.physics_sections import physics_sections
from rampwarden.report.probes_section import probes_sections
from rampwarden.report.units import Scale
from rampwarden.report.verdict import HeatVerdict, judge

_CAPTION = (
    "A limit is broken when the climb within its whole window exceeds it; the ramp drawn looks back over a shorter "
    "time and may step out for a moment. Grey about the line: extremes. Where nobody watched, no line."
)
_OVERLAY_CAPTION = "Each heat has its own dash and marker. Grey bands: soaks of the first heat's schedule."


@dataclass(frozen=True, slots=True)
class Edition:
    """A finished report. `verdicts` are headlines with their kinds: kept, broken, unfinished."""

    title: str
    under: str
    verdicts: tuple[tuple[str, str], ...]
    figure: Figure
    caption: str
    sections: tuple[Section, ...]

    @property
    def headlines(self) -> tuple[str, ...]:
        """The verdicts as a terminal shows them."""
        return tuple(headline for headline, _ in self.verdicts)

    def save(self, path: Path) -> None:
        """Write the report in the format its name ends with; raises `OSError` when that cannot be done."""
        heading = (self.title, self.under, *self.headlines)
        match path.suffix.lower():
            case ".html":
                page = html_page(self.title, self.under, self.verdicts, self.figure, self.caption, self.sections)
                path.write_text(page, encoding="utf-8", errors="replace")
            case ".pdf":
                save_pdf(path, heading, self.figure, self.sections)
            case _:
                save_drawing(path, heading, self.figure)


def edit(courses: Sequence[Course], scale: Scale, align_c: float | None) -> Edition:
    """Put a report of one heat or several together; `align_c` (°C) is where several are laid over one another."""
    return _one(courses[0], scale) if len(courses) == 1 else _several(courses, scale, align_c)


def _one(course: Course, scale: Scale) -> Edition:
    verdict = judge(course, scale)
    return Edition(
        title=course.title,
        under=subtitle(course),
        verdicts=((verdict.headline, _kind(verdict)),),
        figure=draw_heat(course, scale),
        caption=_CAPTION,
        sections=tuple(_sections(course, verdict, scale)),
    )


def _sections(course: Course, verdict: HeatVerdict, scale: Scale) -> Iterator[Section]:
    yield Section("For the next shift", five_lines(course, verdict, scale))
    yield from verdict_sections(verdict)
    if course.figures.account is not None:
        yield claims_section(course.figures.account, scale)
    if (checklist := checklist_section(course)) is not None:
        yield checklist
    yield segments_section(course, scale)
    yield from physics_sections(course, scale)
    yield from probes_sections(course, scale)
    yield alarms_section(course, scale)
    for section in (remarks_section(course, scale), checks_section(course, scale)):
        if section is not None:
            yield section
    yield crucible_section(course, scale)
    yield sensor_section(course, scale)


def _several(courses: Sequence[Course], scale: Scale, align_c: float | None) -> Edition:
    verdicts = [judge(course, scale) for course in courses]
    headlines = tuple(
        (f"{number}: {verdict.headline}", _kind(verdict)) for number, verdict in enumerate(verdicts, start=1)
    )
    aligned = "from their starts" if align_c is None else f"laid over one another at {scale.show_temp(align_c)}"
    return Edition(
        title=f"{len(courses)} heats side by side",
        under=f"{aligned} · " + " · ".join(f"{number}: {each.name}" for number, each in enumerate(courses, start=1)),
        verdicts=headlines,
        figure=draw_heats(courses, scale, align_c),
        caption=_OVERLAY_CAPTION,
        sections=(
            comparison_section(courses, scale),
            *(
                Section(f"{number}: {part.heading}", part.sentences, part.table)
                for number, (course, verdict) in enumerate(zip(courses, verdicts, strict=True), start=1)
                for part in (*verdict_sections(verdict), segments_section(course, scale))
            ),
        ),
    )


def _kind(verdict: HeatVerdict) -> str:
    return verdict.outcome.name.lower()
