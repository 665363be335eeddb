"""The other probes in a heat's drawing: their courses, what stood in for the followed one, and how they part from it.

Without colour every probe is known by its dash, by its marker, and by its name in the key; what is guessed, by a hatch
and a dotted line.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import cycle

from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from rampwarden.report.course import Course
from rampwarden.report.probe_courses import PLACES_COMPARED, ProbeCourse
from rampwarden.report.strokes import BLACK, BLUE, GREEN, ORANGE, VERMILION, hours, runs
from rampwarden.report.thinning import CourseSample
from rampwarden.report.units import Scale
from rampwarden.terminal_text import printable

_LOOKS: tuple[dict[str, object], ...] = (
    {"color": VERMILION, "linestyle": (0, (6, 2)), "marker": "s"},
    {"color": GREEN, "linestyle": (0, (6, 2, 1, 2)), "marker": "^"},
    {"color": BLUE, "linestyle": (0, (3, 1.5)), "marker": "o"},
    {"color": ORANGE, "linestyle": (0, (3, 1.5, 1, 1.5, 1, 1.5)), "marker": "v"},
)
_MARKERS_ON_A_LINE = 12
_GUESSED = {"facecolor": "none", "edgecolor": BLUE, "hatch": "////", "linewidth": 0.4}


def draw_beside(axes: Axes, course: Course, scale: Scale) -> None:
    """Draw, on the axes of the temperature, the probes that are compared with the followed one, and the guesses."""
    for probe, look in _looks(course):
        if probe.place in PLACES_COMPARED:
            _draw_course(axes, probe.samples, look, scale.temp)
    for stood in course.stood_in:
        x = [hours(time_s) for time_s, _, _ in stood.guesses]
        low = [scale.temp(temp_c - off_c) for _, temp_c, off_c in stood.guesses]
        high = [scale.temp(temp_c + off_c) for _, temp_c, off_c in stood.guesses]
        axes.fill_between(x, low, high, **_GUESSED, zorder=2)  # type: ignore[arg-type]
        middle = [scale.temp(temp_c) for _, temp_c, _ in stood.guesses]
        axes.plot(x, middle, color=BLACK, linestyle=(0, (1, 1)), linewidth=1.6, zorder=3)


def key_beside(course: Course) -> list[Line2D | Patch]:
    """Give the key's entries of what `draw_beside` draws."""
    key: list[Line2D | Patch] = [
        Line2D([], [], markersize=3, label=printable(_label(probe)), **look)  # type: ignore[arg-type]
        for probe, look in _looks(course)
        if probe.place in PLACES_COMPARED
    ]
    if course.stood_in:
        key.append(Patch(**_GUESSED, label="guessed by another probe, as far as it may be off"))  # type: ignore[arg-type]
    return key


def draw_parting(axes: Axes, course: Course, scale: Scale) -> None:
    """Draw by how much other probes stand over the followed one."""
    for probe, look in _looks(course):
        _draw_course(axes, probe.parting, look, scale.difference)
    axes.axhline(0.0, color=BLACK, linewidth=0.6)
    axes.set_ylabel(f"over the\nfollowed, {'K' if scale.unit == '°C' else scale.unit}")


def draw_aside(axes: Axes, course: Course, scale: Scale) -> None:
    """Draw the probes that hang on a bottle or in the room, on an axis of their own."""
    handles = []
    for probe, look in _looks(course):
        if probe.place not in PLACES_COMPARED:
            _draw_course(axes, probe.samples, look, scale.temp)
            handles.append(Line2D([], [], markersize=3, label=printable(_label(probe)), **look))  # type: ignore[arg-type]
    axes.legend(handles=handles, loc="best", fontsize=6.5, framealpha=0.9, borderaxespad=0.3)
    axes.set_ylabel(f"beside, {scale.unit}")


def _looks(course: Course) -> Iterator[tuple[ProbeCourse, dict[str, object]]]:
    return zip(course.probes, cycle(_LOOKS), strict=False)


def _label(probe: ProbeCourse) -> str:
    """Name a probe, with its place where the name does not say it."""
    return probe.name if probe.name == probe.place else f"{probe.name} ({probe.place})"


def _draw_course(
    axes: Axes, samples: Sequence[CourseSample], look: dict[str, object], shown: Callable[[float], float]
) -> None:
    every = max(1, len(samples) // _MARKERS_ON_A_LINE)
    for run in runs(samples):
        x, y = [hours(each.to_s) for each in run], [shown(each.mean_c) for each in run]
        axes.plot(x, y, linewidth=0.9, markersize=3, markevery=(every // 2, every), zorder=2, **look)  # type: ignore[arg-type]
