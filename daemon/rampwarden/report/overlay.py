"""Several heats over one another, aligned where they pass a chosen temperature, and their figures side by side."""

from collections.abc import Sequence

import matplotlib as mpl
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MultipleLocator

from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import SegmentKind
from rampwarden.errors import ReportError
from rampwarden.report.content import Section, Table
from rampwarden.report.course import Course
from rampwarden.report.drawing import STYLE, WIDTH_IN, hour_label, hour_step
from rampwarden.report.strokes import BLACK, BLUE, GREEN, GREY, ORANGE, VERMILION, hours, runs
from rampwarden.report.units import Scale
from rampwarden.terminal_text import printable

# Colour, dash and marker: any one of them alone tells the heats apart.
_LOOKS = (
    (BLACK, "-", "o"),
    (VERMILION, "--", "s"),
    (BLUE, ":", "^"),
    (GREEN, "-.", "D"),
    (ORANGE, "-", "v"),
    (GREY, "--", "P"),
    ("#CC79A7", ":", "X"),
    ("#56B4E9", "-.", "*"),
)


def passing_s(course: Course, temp_c: float) -> float:
    """Give when a heat first climbs past a temperature, s; raises `ReportError` when it never does."""
    before = None
    for sample in course.samples:
        if sample.mean_c >= temp_c:
            if before is None or before.mean_c >= temp_c:
                return sample.to_s
            share = (temp_c - before.mean_c) / (sample.mean_c - before.mean_c)
            return before.to_s + share * (sample.to_s - before.to_s)
        before = sample
    peak_c = course.figures.peak_c
    raise ReportError(f"{course.path}: never came to {temp_c:.0f} °C (highest {peak_c:.0f} °C); align at a lower one")


def draw_heats(courses: Sequence[Course], scale: Scale, align_c: float | None) -> Figure:
    """Draw the temperatures of several heats over one axis of time."""
    zeros_s = [each.samples[0].from_s if align_c is None else passing_s(each, align_c) for each in courses]
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH_IN, 5.2), layout="constrained")
        axes = figure.subplots()
        for stretch in courses[0].stretches:
            segment = courses[0].schedule.segments[stretch.index]
            if segment.kind is SegmentKind.SOAK:
                axes.axhspan(scale.temp(segment.lowest_c), scale.temp(segment.highest_c), color=GREY, alpha=0.2, lw=0)
        for number, (course, zero_s) in enumerate(zip(courses, zeros_s, strict=True)):
            colour, dash, marker = _LOOKS[number % len(_LOOKS)]
            label = f"{number + 1}: {course.name}"
            every = max(1, len(course.samples) // 12)
            for run in runs(course.samples):
                x = [hours(each.to_s - zero_s) for each in run]
                y = [scale.temp(each.mean_c) for each in run]
                # Staggered, so that markers of heats that agree do not hide one another.
                places = (number * every // len(courses), every)
                look = {"color": colour, "linestyle": dash, "marker": marker}
                axes.plot(x, y, markevery=places, markersize=4, label=label, **look)  # type: ignore[arg-type]
                label = "_"
        if align_c is not None:
            axes.axvline(0.0, color=GREY, linewidth=0.6)
        first_h = min(hours(each.samples[0].from_s - zero_s) for each, zero_s in zip(courses, zeros_s, strict=True))
        last_h = max(hours(each.samples[-1].to_s - zero_s) for each, zero_s in zip(courses, zeros_s, strict=True))
        axes.set_xlim(first_h, last_h)
        axes.xaxis.set_major_locator(MultipleLocator(hour_step(last_h - first_h)))
        axes.xaxis.set_major_formatter(FuncFormatter(hour_label))
        since = "its start" if align_c is None else f"it passed {scale.show_temp(align_c)}"
        axes.set_xlabel(f"time of each heat since {since}, h:mm")
        axes.set_ylabel(f"temperature, {scale.unit}")
        axes.legend(loc="best", fontsize=7)
    return figure


def comparison_section(courses: Sequence[Course], scale: Scale) -> Section:
    """Give the heats' figures, one row a heat."""
    headings = ("", "began", "schedule", "lasted", "highest", "soaked", "nearest to a limit", "dose", "alarms")
    rows = tuple(_comparison_row(number, course, scale) for number, course in enumerate(courses, start=1))
    return Section("Side by side", (), Table(headings, rows, numbers=(0, 3, 4, 5, 7)))


def _comparison_row(number: int, course: Course, scale: Scale) -> tuple[str, ...]:
    figures = course.figures
    shares = [(part.climb_c / part.limit_c, part.name) for part in figures.segments if part.climb_c and part.limit_c]
    nearest = max(shares, default=None)
    alarms = ", ".join(f"{name} ×{count}" if count > 1 else name for name, count in figures.alarms.items())
    return (
        str(number),
        printable(figures.started[:16].replace("T", " ")),
        printable(course.title),
        format_duration(figures.seconds),
        scale.show_temp(figures.peak_c),
        format_duration(figures.soaked_s),
        "–" if nearest is None else printable(f"{nearest[0]:.0%} in {nearest[1]}"),
        f"{figures.dose_min:.0f} min",
        alarms or "none",
    )
