"""Where things stand on the terminal's display: what is read from afar on top, what is done about it at the bottom.

From top to bottom: which heat, the big numerals with the ramp beside them, the segment with its instruction, the alarms
with what to do, the strip, the last words of the log, the health of board, record and broker, the keys. A small screen
gives up spare lines first, then lines of the strip; an alarm gives up its line only to a more urgent one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from rich.text import Text

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.model import Quality
from rampwarden.display import words
from rampwarden.display.bands import large_bands
from rampwarden.display.degrees import CELSIUS, Degrees
from rampwarden.display.letters import letters, letters_size
from rampwarden.display.numerals import numeral_size, numerals
from rampwarden.display.strip import draw_strip, is_astray
from rampwarden.display.terminal_style import Looks
from rampwarden.picture import AlarmLine, Mode, Picture

SMALLEST = (40, 12)
"""Columns and rows of a terminal below which nothing can be laid out: the display then says so."""

_LETTERS = 4
_UNIT_COLUMNS = 4
_LEAST_PANEL = 24
_LEAST_STRIP = 3
_LEAST_LOG = 3
_LEAST_BAR = 6
_NARROW = 58
_FEW_LINES = 2
_MANY_LINES = 8
_READ_WHOLE = frozenset(entry.name for entry in CATALOGUE.values() if entry.ends_when_seen)
# Narrower than this a panel has room for single words only.
_LEAST_WORDS = 14
# From this many rows on there is room for every sentence, and then for air between the parts.
_ROOMY = 28
_AIRY = 38
# The numerals may take this share of the rows; a little more and the classic 24 rows get the next size.
_NUMERALS_SHARE = 0.35
_LARGEST_HALF_STEPS = 12


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a picture is shown with: real time (monotonic s, and by the wall), log lines, the line of keys, °C or °F."""

    now_s: float
    wall: datetime
    log: Sequence[str]
    bottom: Text
    degrees: Degrees = CELSIUS


def lay_out(picture: Picture, around: Surroundings, width: int, height: int, looks: Looks) -> list[Text]:
    """Give exactly `height` lines of at most `width` cells."""
    # A terminal's last column is left alone.
    if width < SMALLEST[0] - 1 or height < SMALLEST[1]:
        return _too_small(picture, around.degrees, width, height, looks)
    sheet = _Sheet(picture, around, width, height, looks)
    return [_fit(line, width) for line in sheet.lines()[:height]]


class _Sheet:
    """One screenful in the making."""

    def __init__(self, picture: Picture, around: Surroundings, width: int, height: int, looks: Looks) -> None:
        self._picture = picture
        self._around = around
        self._width, self._height = width, height
        self._looks = looks
        self._degrees = around.degrees
        self._said = around.degrees.said
        self._no_news = words.no_news(picture, around.now_s)
        self._half_steps = _half_steps(width, height)

    def lines(self) -> list[Text]:
        """Put the parts together."""
        air = [Text()] if self._height >= _AIRY else []
        foot = [*air, *self._health(), *self._around.bottom.split("\n")]
        hot = [self._title(), *air, *self._hot(), *self._stand_in(), *self._other_probes(), *self._questions()]
        left = self._height - len(hot) - len(foot)
        # Two lines of alarms, or one and how many more there are; then where the heat stands.
        alarm_count = len(self._picture.alarms)
        least = 1 + max(min(2, max(1, alarm_count)), self._rows_to_read())
        bands = self._bands(left - least)
        left -= len(bands) + 2 * len(air)
        wanted = len(self._alarms(self._height))
        alarms = self._alarms(max(least - 1, min(wanted, left - 1)))
        left -= len(alarms)
        # While something is wrong, what was said last gives its line to it.
        least_log = 0 if alarm_count or left < _LEAST_LOG else 1
        now = self._now(is_large=bool(bands))[: max(1, left - least_log)]
        left -= len(now)
        log_rows = 1 if self._height < _ROOMY else self._height // 10
        strip_rows = left - log_rows
        strip = self._strip(strip_rows) if strip_rows >= _LEAST_STRIP else []
        log = self._log(left - len(strip) if not strip else log_rows)
        middle = [*bands, *air, *alarms, *now, *air, *strip, *log]
        filling = self._height - len(hot) - len(middle) - len(foot)
        return [*hot, *middle, *[Text()] * filling, *foot]

    def _bands(self, rows: int) -> list[Text]:
        """What is read from three metres, with a free row between two that no ground parts."""
        lines: list[Text] = []
        before = None
        is_still = words.is_still(self._picture, self._around.now_s)
        for band in large_bands(
            self._picture, self._width, self._height, rows, is_still=is_still, degrees=self._degrees
        ):
            lines += [Text()] if before is not None and not before.style else []
            lines += band.draw(self._looks, self._width)
            before = band
        return lines

    def _title(self) -> Text:
        """Which heat this is; what is no furnace says so first and in reverse."""
        picture, looks = self._picture, self._looks
        mode = words.mode_words(picture)
        line = Text(end="")
        if mode:
            line.append_text(looks.text(f" {mode} ", "mode"))
        line.append_text(looks.text(f" {words.title_words(picture)}", "strong"))
        return _with_right(line, looks.text(f"{words.clock_words(picture)} "), self._width)

    def _hot(self) -> list[Text]:
        """How hot in numerals, and beside them how fast."""
        looks, columns_rows = self._looks, numeral_size(_LETTERS, self._half_steps)
        columns, rows = columns_rows
        drawn = numerals(self._temperature(), self._half_steps, blocks=looks.blocks)
        unit_columns = _UNIT_COLUMNS if self._width >= _NARROW else _UNIT_COLUMNS - 1
        panel = self._panel(self._width - columns - unit_columns - 2, rows)
        lines = []
        for row in range(rows):
            line = looks.text(f" {drawn[row]:>{columns}} ", "strong")
            line.append_text(looks.text(f"{self._degrees.unit if row == 0 else '':<{unit_columns}}", "strong"))
            if row < len(panel):
                line.append_text(panel[row])
            lines.append(line)
        return lines

    def _stand_in(self) -> list[Text]:
        """What stands in for the followed probe, in one row: the numerals are a guess then."""
        sentence = self._said(words.stand_in_words(self._picture))
        return [self._looks.text(f" {sentence} ", "trouble")] if sentence else []

    def _other_probes(self) -> list[Text]:
        """The probes beside the followed one, in one row."""
        sentence = self._said(words.other_probes_words(self._picture))
        return [self._looks.text(f" {sentence}")] if sentence else []

    def _questions(self) -> list[Text]:
        """What waits for an answer, the oldest whole and how many more there are.

        While there is something to be done at once a question gets one row, and the checklist, which is for before
        the fire, none: what is to be done is read from three metres, and the key to reply stands at the foot.
        """
        lines = words.question_words(self._picture)
        status = self._picture.status
        if lines and any(alarm.is_first for alarm in status.alarms):
            return (
                [] if status.questions[0].is_check else [_fit(self._looks.text(f" {lines[0]} ", "mode"), self._width)]
            )
        return [self._looks.text(f" {each} ", "mode") for line in lines for each in _wrapped(line, self._width - 2, 2)]

    def _temperature(self) -> str:
        temp_c = self._picture.status.temp_c
        ended = self._picture.over and temp_c is not None
        return "---" if temp_c is None or (self._no_news and not ended) else f"{self._degrees.temp(temp_c):.0f}"

    def _panel(self, width: int, rows: int) -> list[Text]:
        """How fast, how fast is allowed, where the temperature may be."""
        picture, looks = self._picture, self._looks
        number, unit, allowed = words.ramp_words(picture, self._degrees)
        trouble = self._trouble()
        if self._no_news:
            return [looks.text(f" {self._no_news} ", "trouble"), *trouble]
        if width < _LEAST_WORDS:
            forms = (each for each in words.allowed_forms(picture, self._degrees) if len(each) <= width)
            return [looks.text(each, "strong") for each in (number, unit, next(forms, "")) if each] + trouble
        lines: list[Text] = []
        if number:
            half_steps = max(2, self._half_steps // 2)
            columns, big_rows = numeral_size(len(number), half_steps)
            is_known = picture.status.ramp is not None
            if is_known and big_rows + 3 <= rows and columns + len(unit) + 2 <= width:
                drawn = numerals(number, half_steps, blocks=looks.blocks)
                lines += [looks.text(f"{each} {unit if row == 0 else ''}", "strong") for row, each in enumerate(drawn)]
                if limit := self._large_limit(width, rows - len(lines) - len(trouble)):
                    gauge = self._gauge(min(width - 1, 60))
                    return [*lines, *limit, *trouble, *self._corridor(min(width - 1, 60)), *([gauge] if gauge else [])]
                lines.append(Text())
            else:
                lines.append(looks.text(f"{number} {unit}", "strong"))
        lines += [looks.text(allowed)] if allowed else []
        gauge = self._gauge(min(width - 1, 60))
        lines += [gauge] if gauge is not None else []
        return [*lines, *self._corridor(min(width - 1, 60)), *trouble]

    def _large_limit(self, width: int, rows: int) -> list[Text]:
        """How fast is allowed, in letters that are read from as far as the ramp; nothing where they do not fit."""
        for text in words.allowed_forms(self._picture, self._degrees):
            columns, high = letters_size(text, 1)
            if text and columns < width and high <= rows:
                return [self._looks.text(row, "strong") for row in letters(text, 1, blocks=self._looks.blocks)]
        return []

    def _corridor(self, width: int) -> list[Text]:
        """The temperature as a dot in its corridor, or a sentence where it is outside or has one edge only."""
        picture, looks = self._picture, self._looks
        temp_c, low_c, high_c = picture.status.temp_c, picture.low_c, picture.high_c
        sentence = self._said(words.corridor_words(picture))
        if is_astray(picture):
            return [looks.text(f" {sentence} ", "trouble")]
        if temp_c is None or low_c is None or high_c is None or high_c <= low_c:
            return [looks.text(sentence)] if sentence else []
        degrees = self._degrees
        low, high = f"{degrees.temp(low_c):.0f} ", f" {degrees.temp(high_c):.0f} {degrees.unit}"
        columns = width - len(low) - len(high)
        if columns < 8:
            return [looks.text(sentence)]
        cells = [("░", "corridor")] * columns
        cells[round((temp_c - low_c) / (high_c - low_c) * (columns - 1))] = ("●", "dot")
        return [looks.text(low).append_text(self._cells(cells)).append_text(looks.text(high))]

    def _trouble(self) -> list[Text]:
        """What must be said of the temperature itself."""
        status, looks = self._picture.status, self._looks
        if self._no_news and status.temp_c is not None and not self._picture.over:
            return [looks.text(self._said(f"last {status.temp_c:.0f} °C"))]
        if status.quality is Quality.HELD:
            return [looks.text(" not trusted yet ", "trouble")]
        return []

    def _gauge(self, width: int) -> Text | None:
        """The ramp as a dot in the band that is allowed."""
        status = self._picture.status
        lowest, highest = status.allowed_c_per_s
        if status.ramp is None or (lowest is None and highest is None) or width < 12:
            return None
        ends = [bound for bound in (lowest, highest, 0.0) if bound is not None]
        span = (max(ends) - min(ends)) or 1.0
        from_, to = min(ends) - 0.3 * span, max(ends) + 0.5 * span

        def column(slope: float) -> int:
            return max(0, min(width - 1, round((slope - from_) / (to - from_) * (width - 1))))

        low = column(lowest) if lowest is not None else 0
        high = column(highest) if highest is not None else width - 1
        cells = [("░", "corridor") if low <= each <= high else ("─", "quiet") for each in range(width)]
        for bound in (lowest, highest):
            if bound is not None:
                cells[column(bound)] = ("│", "strong")
        slope = status.ramp.c_per_s
        allowed = (lowest is None or slope >= lowest) and (highest is None or slope <= highest)
        cells[column(slope)] = ("●", "dot" if allowed else "astray")
        return self._cells(cells)

    def _now(self, *, is_large: bool) -> list[Text]:
        """What to do now, and what comes next; `is_large`: the segment stands in large letters already."""
        picture, looks, width = self._picture, self._looks, self._width - 2
        lines = [looks.text(f" {self._said(words.segment_words(picture))}", "" if is_large else "strong")]
        if self._no_news and self._width < _NARROW:
            # Beside the numerals it would be cut off.
            lines = [looks.text(f" {self._no_news} ", "trouble")]
        held_back = self._said(words.held_back_words(picture))
        lines = [*([looks.text(f" {held_back} ", "trouble")] if held_back else []), *lines]
        soak = self._soak()
        # The clock of a soak is what is looked for, once its name can be read from afar.
        lines = [*soak, *lines] if is_large else lines
        limits = "" if picture.present is None else self._said(picture.present.limits)
        for each in (picture.watched, *picture.physics):
            lines += [looks.text(f" {line}") for line in _wrapped(self._said(each), width, 2)]
        instruction = words.instruction_words(picture)
        lines += [looks.text(f" {each}") for each in _wrapped(instruction, width, 2 if self._height >= _ROOMY else 1)]
        if limits and self._height >= _ROOMY:
            lines.append(looks.text(f" {limits}"))
        lines += [looks.text(f" {each}") for each in _wrapped(self._said(words.explained_words(picture)), width, 2)]
        for each in words.readiness_lines(picture):
            lines += [looks.text(f" {line}", "strong") for line in _wrapped(self._said(each), width, 2)]
        lines += [] if is_large else soak
        coming, end = self._said(words.next_words(picture)), words.end_words(picture, self._around.wall)
        if len(coming) + len(end) + 5 <= self._width:
            lines.append(looks.text(" " + " · ".join(part for part in (coming, end) if part)))
        else:
            lines += [looks.text(f" {part}") for part in (coming, end) if part]
        return lines

    def _soak(self) -> list[Text]:
        """The soak clock in words and as a bar; nothing outside a soak."""
        picture, looks = self._picture, self._looks
        soak = words.soak_words(picture)
        if not soak:
            return []
        share = min(1.0, picture.status.soaked_s / picture.status.hold_s)
        *first, last = _wrapped(soak, self._width - 2, 2)
        lines = [looks.text(f" {each}", "strong") for each in first]
        bar = min(40, self._width - len(last) - 6)
        line = looks.text(f" {last}  ", "strong")
        if bar >= _LEAST_BAR:
            full = round(share * bar)
            line.append_text(self._cells([("█", "course")] * full + [("░", "corridor")] * (bar - full)))
        return [*lines, line]

    def _alarms(self, rows: int) -> list[Text]:
        """The alarms in at most `rows` lines, each with what to do about it: whole, or else shortened."""
        alarms = self._picture.alarms
        if not alarms:
            return [self._looks.text(" no alarm")]
        whole = [line for each in self._numbered() for line in self._alarm(*each)]
        if len(whole) <= rows:
            return whole
        lines: list[Text] = []
        for index, each in enumerate(self._numbered()):
            is_last = index == len(alarms) - 1
            room = rows - len(lines) - (0 if is_last else 1)
            drawn = self._alarm(*each)
            if len(drawn) > room:
                drawn = self._alarm_in_short(*each)[:2]
            if len(drawn) > room and lines and not is_last:
                more = f" and {len(alarms) - index} more: {words.standing_marks(alarms[index:])}"
                return [*lines, self._looks.text(more, "strong")]
            lines += drawn[: max(1, room)]
        return lines

    def _rows_to_read(self) -> int:
        """How many rows it takes to read whole what is there to be read, and waits for that."""
        return sum(
            len(self._alarm(*each)) for each in self._numbered() if each[0].waits and each[0].alarm in _READ_WHOLE
        )

    def _numbered(self) -> list[tuple[AlarmLine, int | None]]:
        """The alarms with the key that acknowledges each alone, where there are several and somebody may."""
        alarms = self._picture.alarms
        has_keys = len(alarms) > 1 and self._picture.about.mode is not Mode.REPLAY
        return [(alarm, index + 1 if has_keys and index < 9 else None) for index, alarm in enumerate(alarms)]

    def _alarm(self, alarm: AlarmLine, number: int | None) -> list[Text]:
        """One alarm: its state first, then which, when and where it rang and what is so now; then what to do."""
        looks, width = self._looks, self._width - 2
        said = self._alarm_words(alarm, number)
        style = _style(alarm)
        what = f"{said.head} · {said.where} · {said.fact}"
        if said.todo and len(what) + len(said.todo) + 6 <= self._width:
            return [looks.text(f" {what} ", style).append_text(looks.text(f" → {said.todo}", "strong"))]
        is_short = self._height < _ROOMY and alarm.alarm not in _READ_WHOLE
        most = _FEW_LINES if is_short else _MANY_LINES
        todo = _wrapped(f"→ {said.todo}", width - 4, 2) if said.todo else []
        return [
            *(looks.text(f" {each} ", style) for each in _wrapped(what, width, most)),
            *(looks.text(f"     {each}", "strong") for each in todo),
        ]

    def _alarm_words(self, alarm: AlarmLine, number: int | None) -> words.SaidAlarm:
        said = words.alarm_words(alarm, number)
        return replace(said, fact=self._said(said.fact), todo=self._said(said.todo))

    def _alarm_in_short(self, alarm: AlarmLine, number: int | None) -> list[Text]:
        """The same in two lines that may be cut at their end."""
        said = self._alarm_words(alarm, number)
        lines = [self._looks.text(f" {said.head} · {said.where} · {said.fact} ", _style(alarm))]
        return [*lines, self._looks.text(f"     → {said.todo}", "strong")] if said.todo else lines

    def _strip(self, rows: int) -> list[Text]:
        return [self._cells(row) for row in draw_strip(self._picture, self._width - 1, rows, self._degrees)]

    def _log(self, rows: int) -> list[Text]:
        newest = list(self._around.log)[-rows:] if rows > 0 else []
        return [self._looks.text(f" {self._degrees.logged(line)}") for line in newest]

    def _health(self) -> list[Text]:
        line = Text(" ", end="")
        for index, (what, in_trouble) in enumerate(words.health_words(self._picture, self._around.now_s)):
            line.append(" · " if index else "")
            line.append_text(self._looks.text(what, "trouble" if in_trouble else ""))
        return [line]

    def _cells(self, cells: Sequence[tuple[str, str]]) -> Text:
        """Join cells to a text, one piece for each run of a style."""
        line = Text(end="", no_wrap=True)
        run, style = "", ""
        for sign, name in cells:
            if name != style and run:
                line.append_text(self._looks.text(run, style))
                run = ""
            run, style = run + sign, name
        return line.append_text(self._looks.text(run, style))


def _style(alarm: AlarmLine) -> str:
    return str(alarm.priority) if alarm.waits else "known"


def _half_steps(width: int, height: int) -> int:
    """Give the largest size of numerals that leaves room for the rest."""
    for half_steps in range(_LARGEST_HALF_STEPS, 2, -1):
        columns, rows = numeral_size(_LETTERS, half_steps)
        if columns + _UNIT_COLUMNS + 2 + _LEAST_PANEL <= width and rows <= _NUMERALS_SHARE * height:
            return half_steps
    return 2


def _too_small(picture: Picture, degrees: Degrees, width: int, height: int, looks: Looks) -> list[Text]:
    """Say the most that fits: the temperature, and how many alarms stand."""
    temp_c = picture.status.temp_c
    parts = [
        words.mode_words(picture),
        "no temperature" if temp_c is None else degrees.said(f"{temp_c:.0f} °C"),
        words.standing_marks(picture.alarms) or "no alarm",
        f"{SMALLEST[0]} columns and {SMALLEST[1]} rows are needed for more",
    ]
    lines = [looks.text(part, "strong") for part in parts if part][:height]
    return [_fit(line, width) for line in [*lines, *[Text()] * (height - len(lines))]]


def _with_right(left: Text, right: Text, width: int) -> Text:
    left.truncate(max(1, width - right.cell_len - 1), overflow="ellipsis", pad=True)
    return left.append(" ").append_text(right)


def _wrapped(text: str, width: int, most: int) -> list[str]:
    """Break a sentence into lines; what does not fit into `most` of them ends in dots."""
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    if len(lines) > most:
        lines[most - 1] = f"{lines[most - 1]} …"
    return lines[:most]


def _fit(line: Text, width: int) -> Text:
    if line.cell_len > width:
        line.truncate(width, overflow="ellipsis")
    return line
