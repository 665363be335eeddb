"""The strip of the last half hour: a corridor with a dot in it, and the way the schedule leads on.

Time runs to the right, temperature upwards. What the schedule allowed is shaded, the course is a line of half blocks,
the present is the dot, and what is expected ahead is dotted. Cells are worked out here; styles are names.
"""

import math
from bisect import bisect_left
from collections.abc import Sequence

from rampwarden.display.degrees import CELSIUS, Degrees
from rampwarden.picture import CoursePoint, Picture, WayPoint

_PAST_S = 1800.0
# Of the width, what lies ahead of now: long enough to see where it leads, short enough to leave the past its room.
_AHEAD_SHARE = 0.2
_LABEL_COLUMNS = 6
# A corridor edge further from the course than this many times its own span would flatten the course to a line.
_FAR = 1.0
_LEAST_SPAN_C = 12.0

Cell = tuple[str, str]
"""A character, and the name of its style."""
_NOTHING: Cell = (" ", "")
_SHADE: Cell = ("░", "corridor")


def draw_strip(picture: Picture, width: int, height: int, degrees: Degrees = CELSIUS) -> list[list[Cell]]:
    """Draw the strip into `height` rows of `width` cells, the last for the minutes; nothing to draw gives no rows."""
    columns, rows = width - _LABEL_COLUMNS, height - 1
    if columns < 10 or rows < 2 or not picture.course:
        return []
    now_s = max(picture.status.time_s, picture.course[-1].time_s)
    ahead_s = _PAST_S * _AHEAD_SHARE / (1.0 - _AHEAD_SHARE)
    plot = _Plot(columns, rows, now_s - _PAST_S, now_s + ahead_s)
    past = _columns_of(picture.course, plot)
    coming = _ways_at(picture.ahead, plot, now_s)
    if not coming and not any(past):
        # Nothing was measured for half an hour: there is no course to draw, and the alarm says why.
        return []
    plot.scale_to(past, coming)
    for column, point in enumerate(past):
        if point is not None:
            plot.shade(column, point.low_c, point.high_c)
    for column, way in coming.items():
        plot.shade(column, way.low_c, way.high_c)
        plot.put(column, way.way_c, "·", "way")
    plot.line([None if point is None else point.temp_c for point in past])
    last = picture.course[-1]
    if picture.status.temp_c is not None and last.time_s >= plot.from_s:
        # Where it was measured: a dot that moved on with the clock would pass an old temperature off as a new one.
        plot.put(plot.column(last.time_s), picture.status.temp_c, "●", "astray" if is_astray(picture) else "dot")
    return [*plot.labelled(degrees), _hours(plot, plot.column(now_s))]


def is_astray(picture: Picture) -> bool:
    """Tell whether the temperature stands outside its corridor."""
    temp_c = picture.status.temp_c
    if temp_c is None:
        return False
    too_low = picture.low_c is not None and temp_c < picture.low_c
    return too_low or (picture.high_c is not None and temp_c > picture.high_c)


class _Plot:
    """Cells with a scale of time across and one of temperature upwards."""

    def __init__(self, columns: int, rows: int, from_s: float, to_s: float) -> None:
        self.columns, self.rows = columns, rows
        self.from_s, self.to_s = from_s, to_s
        self._low_c, self._high_c = 0.0, 1.0
        self._cells: list[list[Cell]] = [[_NOTHING] * columns for _ in range(rows)]

    def column(self, time_s: float) -> int:
        """Give the column of a time."""
        return min(self.columns - 1, int((time_s - self.from_s) / (self.to_s - self.from_s) * self.columns))

    def time_s(self, column: int) -> float:
        """Give the time at the middle of a column."""
        return self.from_s + (column + 0.5) * (self.to_s - self.from_s) / self.columns

    def scale_to(self, past: Sequence[CoursePoint | None], coming: dict[int, WayPoint]) -> None:
        """Choose the scale: all of the course and the way ahead, and the edges as far as they are near."""
        temps = [point.temp_c for point in past if point is not None] + [way.way_c for way in coming.values()]
        low_c, high_c = min(temps), max(temps)
        far_c = _FAR * max(high_c - low_c, _LEAST_SPAN_C)
        pairs = [(point.low_c, point.high_c) for point in past if point is not None]
        pairs += [(way.low_c, way.high_c) for way in coming.values()]
        edges = [edge for pair in pairs for edge in pair if edge is not None]
        near = [edge for edge in edges if low_c - far_c <= edge <= high_c + far_c]
        low_c, high_c = min([low_c, *near]), max([high_c, *near])
        spare_c = max(0.05 * (high_c - low_c), (_LEAST_SPAN_C - (high_c - low_c)) / 2)
        self._low_c, self._high_c = low_c - spare_c, high_c + spare_c

    def shade(self, column: int, low_c: float | None, high_c: float | None) -> None:
        """Shade what is allowed in a column; without any edge nothing is said."""
        if low_c is None and high_c is None:
            return
        for row in range(self.rows):
            # Whatever the corridor touches: one narrower than a row would else be seen only here and there.
            step_c = (self._high_c - self._low_c) / self.rows
            top_c = self._high_c - row * step_c
            if (low_c is None or top_c > low_c) and (high_c is None or top_c - step_c < high_c):
                self._cells[row][column] = _SHADE

    def put(self, column: int, temp_c: float, sign: str, style: str) -> None:
        """Put a sign at a temperature."""
        self._cells[self._half_row(temp_c) // 2][column] = (sign, style)

    def line(self, temps: Sequence[float | None]) -> None:
        """Draw the course, each column joined to the one before it."""
        before: int | None = None
        for column, temp_c in enumerate(temps):
            if temp_c is None:
                before = None
                continue
            here = self._half_row(temp_c)
            start = here if before is None else before + (1 if here > before else -1 if here < before else 0)
            for row in range(min(start, here) // 2, max(start, here) // 2 + 1):
                upper = min(start, here) <= 2 * row <= max(start, here)
                lower = min(start, here) <= 2 * row + 1 <= max(start, here)
                self._cells[row][column] = ("█" if upper and lower else "▀" if upper else "▄", "course")
            before = here

    def labelled(self, degrees: Degrees) -> list[list[Cell]]:
        """Give the rows with the temperatures of the highest, middle and lowest before them."""
        step_c = (self._high_c - self._low_c) / self.rows
        wanted = {0, self.rows - 1} | ({self.rows // 2} if self.rows >= 5 else set())
        rows = []
        for row, cells in enumerate(self._cells):
            label = f"{degrees.temp(self._high_c - (row + 0.5) * step_c):.0f}" if row in wanted else ""
            rows.append([*((letter, "quiet") for letter in f"{label:>{_LABEL_COLUMNS - 2}} "), ("│", "quiet"), *cells])
        return rows

    def _half_row(self, temp_c: float) -> int:
        share = (self._high_c - temp_c) / (self._high_c - self._low_c)
        return max(0, min(2 * self.rows - 1, math.floor(share * 2 * self.rows)))


def _columns_of(course: Sequence[CoursePoint], plot: _Plot) -> list[CoursePoint | None]:
    """Give the last point of each column that has one; a hole no longer than a few columns is closed."""
    found: list[CoursePoint | None] = [None] * plot.columns
    for point in course[bisect_left(course, plot.from_s, key=lambda each: each.time_s) :]:
        found[plot.column(point.time_s)] = point
    longest = max(1, math.ceil(20.0 * plot.columns / (plot.to_s - plot.from_s)))
    last: int | None = None
    for column, here in enumerate(found):
        if here is not None:
            if last is not None and 1 < column - last <= longest + 1:
                found[last + 1 : column] = [found[last]] * (column - last - 1)
            last = column
    return found


def _ways_at(ahead: Sequence[WayPoint], plot: _Plot, now_s: float) -> dict[int, WayPoint]:
    """Give the way ahead in each column it reaches, by straight lines between its points."""
    ways: dict[int, WayPoint] = {}
    index = 0
    for column in range(plot.column(now_s) + 1, plot.columns):
        time_s = plot.time_s(column)
        while index + 1 < len(ahead) and ahead[index + 1].time_s < time_s:
            index += 1
        if index + 1 >= len(ahead):
            break
        before, after = ahead[index], ahead[index + 1]
        span_s = after.time_s - before.time_s
        share = 0.0 if span_s <= 0 else max(0.0, (time_s - before.time_s) / span_s)
        ways[column] = WayPoint(
            time_s,
            before.way_c + share * (after.way_c - before.way_c),
            _between(before.low_c, after.low_c, share),
            _between(before.high_c, after.high_c, share),
        )
    return ways


def _between(before: float | None, after: float | None, share: float) -> float | None:
    return None if before is None or after is None else before + share * (after - before)


def _hours(plot: _Plot, now_column: int) -> list[Cell]:
    """Give the row of minutes below the strip."""
    row: list[Cell] = [_NOTHING] * (plot.columns + _LABEL_COLUMNS)
    step_min = 10 if plot.columns >= 40 else 15
    marks = {plot.column(plot.time_s(now_column) + 60.0 * minutes): minutes for minutes in range(-30, 8, step_min)}
    for column, minutes in marks.items():
        label = "now" if minutes == 0 else f"{minutes:+d} min".replace("-", "–")
        start = max(0, min(plot.columns - len(label), column - len(label) // 2)) + _LABEL_COLUMNS
        row[start : start + len(label)] = [(letter, "quiet") for letter in label]
    return row
