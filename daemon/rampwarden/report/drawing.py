"""The drawing of one heat: temperature, ramp, soak clock and what happened, over one axis of time.

Reads in black and white: every line has its own dash, every kind of alarm its own hatch, and colours (of Okabe and
Ito, told apart by colour-blind eyes) only help. Knows matplotlib and a course; who calls it has seen to it that
matplotlib is there.
"""

import math
import textwrap
from collections.abc import Sequence
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, MultipleLocator

from rampwarden.core.model import EventName, Priority
from rampwarden.core.schedule import Segment, SegmentKind
from rampwarden.report.content import spot_checks
from rampwarden.report.course import Course, SegmentStretch
from rampwarden.report.drawing_probes import draw_aside, draw_beside, draw_parting, key_beside
from rampwarden.report.plateau import melting_points
from rampwarden.report.probe_courses import PLACES_COMPARED
from rampwarden.report.strokes import BLACK, BLUE, GREEN, GREY, ORANGE, VERMILION, hours, runs
from rampwarden.report.units import Scale
from rampwarden.terminal_text import printable

# Typed loosely: matplotlib types the names of all its 300 settings one by one.
STYLE: dict[Any, Any] = {
    "text.parse_math": False,  # a dollar in somebody's note is a dollar
    "svg.fonttype": "none",
    "svg.hashsalt": "rampwarden",
    "font.size": 8.0,
    "font.family": "sans-serif",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": "#dddddd",
    "grid.linewidth": 0.5,
    "lines.linewidth": 1.1,
    "hatch.linewidth": 0.6,
    "pdf.fonttype": 42,
}
WIDTH_IN = 7.3
"""in. A4 less margins of 12 mm."""

# Hatch and face of an alarm's bar: the graver, the darker, so that it also reads on a grey printer.
_BARS = {Priority.HIGH: (VERMILION, ""), Priority.MEDIUM: (ORANGE, "////"), Priority.LOW: ("#ffffff", "....")}
_MARKERS = {
    EventName.NOTE: "o",
    EventName.MARK: "D",
    EventName.OBSERVED: "^",
    EventName.ASKED: "v",
    EventName.ANSWERED: "s",
}
_MOST_LANES = 10
# Ramps an order of magnitude apart share one axis only if it is stretched about zero.
_STRETCH_ABOVE = 6.0
# A segment's name needs about so much of the width, or it would run into its neighbour's.
_LEAST_SHARE_FOR_NAME = 0.025
_ROOM_FOR_NUMBER = 0.02


def draw_heat(course: Course, scale: Scale) -> Figure:
    """Draw one heat; the figure is as wide as an A4 page and belongs to nobody."""
    lanes = _lanes(course)
    soaks = any(course.schedule.segments[each.index].kind is SegmentKind.SOAK for each in course.stretches)
    compared = any(probe.parting for probe in course.probes)
    aside = any(probe.place not in PLACES_COMPARED for probe in course.probes)
    further = [*([0.9] if compared else []), *([0.9] if aside else [])]
    heights = [3.0, 1.5, *([0.8] if soaks else []), *further, 0.35 + 0.19 * (len(lanes) + bool(course.remarks))]
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH_IN, sum(heights) + 1.0), layout="constrained")
        axes: Sequence[Axes] = figure.subplots(len(heights), 1, sharex=True, height_ratios=heights)
        _draw_temperature(axes[0], course, scale)
        _draw_ramp(axes[1], course, scale)
        if soaks:
            _draw_soak_clock(axes[2], course)
        if compared:
            draw_parting(axes[2 + soaks], course, scale)
        if aside:
            draw_aside(axes[2 + soaks + compared], course, scale)
        _draw_events(axes[-1], course, lanes)
        _set_time_axis(axes, course)
        figure.align_ylabels(axes)
    return figure


def hour_label(value: float, _position: int | None = None) -> str:
    """Write a place on the time axis as h:mm, also before the start of an aligned drawing."""
    minutes = round(abs(value) * 60.0)
    return f"{'−' if value < 0 and minutes else ''}{minutes // 60}:{minutes % 60:02d}"


def hour_step(span_h: float) -> float:
    """Give a round step of the time axis, in hours, that leaves six to twelve labels."""
    for step_h in (1 / 60, 2 / 60, 5 / 60, 10 / 60, 0.25, 0.5, 1.0, 2.0, 4.0, 6.0, 12.0, 24.0):
        if span_h / step_h <= 12.0:
            return step_h
    return 48.0


def _draw_temperature(axes: Axes, course: Course, scale: Scale) -> None:
    for stretch in course.stretches:
        segment = course.schedule.segments[stretch.index]
        _draw_path(axes, course, stretch, scale)
        if segment.ceiling_c is not None:
            span = [hours(stretch.from_s), hours(stretch.to_s)]
            axes.plot(span, [scale.temp(segment.ceiling_c)] * 2, color=VERMILION, linestyle=(0, (5, 1.5, 1, 1.5)))
    for run in runs(course.samples):
        x = [hours(each.to_s) for each in run]
        low, high = [scale.temp(each.low_c) for each in run], [scale.temp(each.high_c) for each in run]
        axes.fill_between(x, low, high, color=GREY, alpha=0.35, linewidth=0)
        axes.plot(x, [scale.temp(each.mean_c) for each in run], color=BLACK, zorder=3)
    draw_beside(axes, course, scale)
    _draw_remarks(axes, course, scale)
    for remark, check in spot_checks(course):
        place = hours(remark.time_s), scale.temp(check.corrected_c)
        axes.plot(*place, marker="x", color=VERMILION, markersize=6, markeredgewidth=1.5, linestyle="none", zorder=5)
    for plateau in melting_points(course):
        span = [hours(plateau.from_s), hours(plateau.to_s)]
        axes.plot(span, [scale.temp(plateau.point_c)] * 2, color=GREEN, linewidth=3.0, alpha=0.7, zorder=2)
    axes.set_ylabel(f"temperature, {scale.unit}")
    axes.legend(handles=_temperature_key(course), loc="best", fontsize=6.5, framealpha=0.9, borderaxespad=0.3)
    _name_segments(axes, course)


def _draw_remarks(axes: Axes, course: Course, scale: Scale) -> None:
    """Mark each note on the curve, numbered as in the table where a number has room beside the one before."""
    first_s, last_s = _bounds(course)
    numbered_s = -math.inf
    for number, remark in enumerate(course.remarks, start=1):
        if remark.temp_c is None:
            continue
        place = (hours(remark.time_s), scale.temp(remark.temp_c))
        axes.plot(*place, marker=_MARKERS[remark.kind], color=BLUE, markersize=4, linestyle="none", zorder=4)
        if remark.time_s - numbered_s >= _ROOM_FOR_NUMBER * (last_s - first_s):
            axes.annotate(
                str(number), place, xytext=(-3, 4), textcoords="offset points", fontsize=6.5, color=BLUE, ha="right"
            )
            numbered_s = remark.time_s


def _temperature_key(course: Course) -> list[Line2D | Patch]:
    kinds = [course.schedule.segments[stretch.index] for stretch in course.stretches]
    key: list[Line2D | Patch] = [Line2D([], [], color=BLACK, label="measured")]
    if any(segment.max_rates for segment in kinds):
        key.append(Line2D([], [], color=BLUE, linestyle="--", label="schedule's path: as fast as it allows"))
    if any(segment.min_rate for segment in kinds):
        key.append(Line2D([], [], color=GREEN, linestyle=":", linewidth=1.6, label="as slowly as it allows"))
    if any(segment.kind is SegmentKind.SOAK for segment in kinds):
        key.append(
            Patch(facecolor=BLUE, alpha=0.2, hatch="||||", edgecolor=BLUE, linewidth=0, label="band of the soak")
        )
    if any(segment.ceiling_c is not None for segment in kinds):
        key.append(Line2D([], [], color=VERMILION, linestyle=(0, (5, 1.5, 1, 1.5)), label="ceiling"))
    key += key_beside(course)
    if any(spot_checks(course)):
        key.append(Line2D([], [], color=VERMILION, marker="x", linestyle="none", label="spot check, corrected"))
    if any(melting_points(course)):
        key.append(Line2D([], [], color=GREEN, linewidth=3.0, alpha=0.7, label="freezing point of a pure metal"))
    return key


def _draw_path(axes: Axes, course: Course, stretch: SegmentStretch, scale: Scale) -> None:
    """Draw where the schedule leads from where this segment began: its fastest and slowest way, or its band."""
    segment = course.schedule.segments[stretch.index]
    if segment.kind is SegmentKind.SOAK:
        edges = scale.temp(segment.lowest_c), scale.temp(segment.highest_c)
        span = [hours(stretch.from_s), hours(stretch.to_s)]
        axes.fill_between(span, *edges, facecolor=BLUE, alpha=0.2, hatch="||||", edgecolor=BLUE, linewidth=0)
        return
    limits = segment.max_rates
    if limits:
        _draw_way(axes, stretch, segment, min(rate.c_per_s for rate in limits), scale, {"color": BLUE, "ls": "--"})
    if segment.min_rate is not None:
        _draw_way(axes, stretch, segment, segment.min_rate.c_per_s, scale, {"color": GREEN, "ls": ":", "lw": 1.6})


def _draw_way(
    axes: Axes, stretch: SegmentStretch, segment: Segment, c_per_s: float, scale: Scale, look: dict[str, object]
) -> None:
    if segment.to_c is None:
        return
    needed_s = abs(segment.to_c - stretch.from_c) / c_per_s
    lasted_s = stretch.to_s - stretch.from_s
    share = min(1.0, lasted_s / needed_s) if needed_s > 0 else 1.0
    reached_c = stretch.from_c + share * (segment.to_c - stretch.from_c)
    times = [stretch.from_s, stretch.from_s + min(needed_s, lasted_s), stretch.to_s]
    temps = [stretch.from_c, reached_c, reached_c]
    axes.plot([hours(each) for each in times], [scale.temp(each) for each in temps], **look)  # type: ignore[arg-type]


def _name_segments(axes: Axes, course: Course) -> None:
    """Write each segment's number over its time, and a rule where it begins; names stand in the table."""
    first_s, last_s = _bounds(course)
    for stretch in course.stretches:
        axes.axvline(hours(stretch.from_s), color=GREY, linewidth=0.5, linestyle=(0, (1, 2)), zorder=1)
        share = (stretch.to_s - stretch.from_s) / max(1.0, last_s - first_s)
        if share < _LEAST_SHARE_FOR_NAME:
            continue
        # About 150 letters of this size fill the width.
        name = printable(course.schedule.segments[stretch.index].name)
        label = f"{stretch.index + 1} {name}"
        if len(label) > 140 * share:
            label = textwrap.shorten(label, max(2, int(140 * share)), placeholder="…") if share > 0.08 else label[:2]
        if label.endswith("…") and len(label) < 6:
            label = str(stretch.index + 1)
        middle = hours((stretch.from_s + stretch.to_s) / 2)
        axes.text(
            middle, 1.01, label.strip(), transform=axes.get_xaxis_transform(), ha="center", va="bottom", fontsize=6.5
        )


def _draw_ramp(axes: Axes, course: Course, scale: Scale) -> None:
    bounds = [course.schedule.allowed_c_per_s(stretch.index) for stretch in course.stretches]
    steepest = max((abs(bound) for pair in bounds for bound in pair if bound is not None), default=None)
    gentlest = min((abs(bound) for pair in bounds for bound in pair if bound), default=None)
    seen = [each.ramp_c_per_s for each in course.samples if each.ramp_c_per_s is not None]
    reach = 1.5 * (steepest or max((abs(ramp) for ramp in seen), default=1.0 / 60.0))
    factor = scale.difference(3600.0)
    for stretch, (lowest, highest) in zip(course.stretches, bounds, strict=True):
        if lowest is None and highest is None:
            continue
        edges = ((-reach if lowest is None else lowest) * factor, (reach if highest is None else highest) * factor)
        span = [hours(stretch.from_s), hours(stretch.to_s)]
        axes.fill_between(span, *edges, facecolor=BLUE, alpha=0.12, linewidth=0)
        for bound, look in ((lowest, ":"), (highest, "--")):
            if bound is not None:
                axes.plot(span, [bound * factor] * 2, color=BLUE, linestyle=look)
    for run in runs(course.samples):
        steered = [each for each in run if each.ramp_c_per_s is not None]
        x = [hours(each.to_s) for each in steered]
        axes.plot(x, [(each.ramp_c_per_s or 0.0) * factor for each in steered], color=BLACK, linewidth=0.8)
    if steepest is not None and gentlest is not None and steepest > _STRETCH_ABOVE * gentlest:
        axes.set_yscale("symlog", linthresh=gentlest * factor, linscale=1.0)
        axes.set_yticks(_stretched_ticks(gentlest * factor, reach * factor), minor=False)
        axes.set_yticks([], minor=True)
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:.0f}".replace("-", "−")))
    axes.set_ylim(-reach * factor, reach * factor)
    axes.set_ylabel(f"ramp, {scale.unit}/h")


def _stretched_ticks(gentlest: float, reach: float) -> list[float]:
    """Give ticks for an axis stretched about zero: round numbers from the gentlest limit up, both ways."""
    ticks, tick = [], 10.0
    while tick < reach:
        if tick >= 0.6 * gentlest:
            ticks.append(tick)
        tick *= 10.0 if reach / gentlest > 100.0 else 3.0 if f"{tick:.0f}"[0] == "1" else 10.0 / 3.0
    return [-tick for tick in reversed(ticks)] + [0.0, *ticks]


def _draw_soak_clock(axes: Axes, course: Course) -> None:
    longest_min = 1.0
    for stretch in course.stretches:
        segment = course.schedule.segments[stretch.index]
        if segment.kind is not SegmentKind.SOAK:
            continue
        within = [each for each in course.samples if stretch.from_s <= each.to_s <= stretch.to_s]
        within = [each for each in within if each.soaked_s or each.to_s < stretch.to_s]
        longest_min = max(longest_min, segment.hold_s / 60.0)
        axes.plot([hours(each.to_s) for each in within], [each.soaked_s / 60.0 for each in within], color=BLACK)
        span = [hours(stretch.from_s), hours(stretch.to_s)]
        axes.plot(span, [segment.hold_s / 60.0] * 2, color=BLUE, linestyle="--")
    axes.set_ylim(0.0, 1.15 * longest_min)
    axes.set_ylabel("soaked, min")


def _lanes(course: Course) -> list[str]:
    """Give the alarms that get a lane of their own, in order of their first time."""
    return list(dict.fromkeys(episode.alarm for episode in course.episodes))[:_MOST_LANES]


def _draw_events(axes: Axes, course: Course, lanes: Sequence[str]) -> None:
    names = [*lanes, *(["notes, marks"] if course.remarks else [])]
    last_s = _bounds(course)[1]
    least_h = hours(last_s - _bounds(course)[0]) / 250.0
    for episode in course.episodes:
        if episode.alarm not in lanes:
            continue
        colour, hatch = _BARS[episode.priority]
        start = hours(episode.from_s)
        width = max(least_h, hours(last_s if episode.to_s is None else episode.to_s) - start)
        lane = lanes.index(episode.alarm)
        axes.barh(lane, width, left=start, height=0.7, color=colour, hatch=hatch, edgecolor=BLACK, linewidth=0.5)
    for remark in course.remarks:
        place = hours(remark.time_s), len(lanes)
        axes.plot(*place, marker=_MARKERS[remark.kind], color=BLUE, markersize=4, linestyle="none")
    axes.set_yticks(range(len(names)), names, fontsize=7)
    axes.set_ylim(max(0.6, len(names) - 0.4), -0.6)
    axes.grid(visible=False, axis="y")
    if not names:
        axes.text(0.5, 0.5, "no alarm, no note", transform=axes.transAxes, ha="center", va="center", color=GREY)
    if course.episodes:
        key = [
            Patch(facecolor=colour, hatch=hatch, edgecolor=BLACK, linewidth=0.5, label=str(priority))
            for priority, (colour, hatch) in _BARS.items()
        ]
        axes.legend(
            handles=key, title="priority", loc="upper left", bbox_to_anchor=(1.0, 1.0), fontsize=6.5, title_fontsize=6.5
        )


def _set_time_axis(axes: Sequence[Axes], course: Course) -> None:
    first_h, last_h = (hours(each) for each in _bounds(course))
    axes[-1].set_xlim(first_h, last_h + 0.01 * max(last_h - first_h, 1 / 60))
    axes[-1].xaxis.set_major_locator(MultipleLocator(hour_step(last_h - first_h)))
    axes[-1].xaxis.set_major_formatter(FuncFormatter(hour_label))
    axes[-1].set_xlabel("time since the watch began, h:mm")


def _bounds(course: Course) -> tuple[float, float]:
    return course.samples[0].from_s, course.samples[-1].to_s
