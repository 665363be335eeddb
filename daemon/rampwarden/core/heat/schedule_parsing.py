"""From a table (as TOML gives it) to a `Schedule`, or to every fault in it at once.

A person who mistyped three lines should hear of all three. Each fault names where it stands, the segment, the key, the
value, why it cannot be used and what would be right. Unknown keys are faults too, with the nearest known name.
"""

import difflib
from collections.abc import Callable, Mapping
from typing import TypeVar

from rampwarden.core.quantities import (
    Rate,
    parse_difference,
    parse_duration,
    parse_rate,
    parse_temperature,
)
from rampwarden.core.schedule import MOST_CHECKS, HeatNumber, OutOfBand, Schedule, Segment, SegmentKind, TimedQuestion
from rampwarden.errors import QuantityError, ScheduleError

_SCHEDULE_KEYS = ("title", "crucible_class", "heat", "basis", "checklist", "segment")
_COMMON_KEYS = ("name", "kind", "say", "within", "ceiling", "ask")
_KEYS = {
    SegmentKind.RAMP: (*_COMMON_KEYS, "to", "max_rate", "min_rate"),
    SegmentKind.SOAK: (*_COMMON_KEYS, "at", "band", "hold", "out_of_band", "max_rate"),
    SegmentKind.TRANSFER: (*_COMMON_KEYS, "arrive_above"),
    SegmentKind.COOL: (*_COMMON_KEYS, "to", "max_rate", "hold"),
}
_REQUIRED = {
    SegmentKind.RAMP: ("name", "to"),
    SegmentKind.SOAK: ("name", "at", "hold"),
    SegmentKind.TRANSFER: ("name", "within"),
    SegmentKind.COOL: ("name", "to"),
}
# What people call them elsewhere, and what each most likely is here. A rate alone is the one that must not be broken:
# who is led to min_rate instead has a ramp without any limit.
_CALLED = {
    "rate": "max_rate (the fastest that is allowed)",
    "ramp": "max_rate (the fastest that is allowed)",
    "ramp_rate": "max_rate (the fastest that is allowed)",
    "limit": "max_rate (the fastest that is allowed)",
    "speed": "max_rate (the fastest that is allowed)",
    "max": "ceiling (the highest temperature) or max_rate (the fastest that is allowed)",
    "maximum": "ceiling (the highest temperature) or max_rate (the fastest that is allowed)",
    "max_temp": "ceiling",
    "target": "to of a ramp or cool, at of a soak",
    "temp": "to of a ramp or cool, at of a soak",
    "temperature": "to of a ramp or cool, at of a soak",
    "time": "hold of a soak, within for a time limit",
    "duration": "hold of a soak, within for a time limit",
    "tolerance": "band",
    "type": "kind",
    "text": "say",
}
# A schedule longer than this is a mistake (or an attack), not a heat.
_MOST_SEGMENTS = 100
_MOST_QUESTIONS, _MOST_ANSWERS, _LONGEST_QUESTION, _LONGEST_ANSWER = 50, 6, 200, 40
_ASK_EXAMPLE = '[{ after = "20 min", question = "Is there mist at the door?", answers = ["mist seen", "mist gone"] }]'

T = TypeVar("T")


def parse_schedule(table: Mapping[str, object], where: str) -> Schedule:
    """Make a schedule from a parsed TOML table; `where` names its file in messages.

    Raises `ScheduleError` with one line for each fault.
    """
    faults: list[str] = []
    _report_unknown(table, _SCHEDULE_KEYS, where, faults)
    rows = table.get("segment")
    if isinstance(rows, Mapping):
        faults.append(f"{where}: [segment] in single brackets; each segment begins with [[segment]]")
        raise ScheduleError("\n".join(faults))
    if not isinstance(rows, list) or not rows or not all(isinstance(row, Mapping) for row in rows):
        faults.append(f"{where}: no segments; a schedule needs at least one [[segment]] table")
        raise ScheduleError("\n".join(faults))
    if len(rows) > _MOST_SEGMENTS:
        raise ScheduleError(f"{where}: {len(rows)} segments; at most {_MOST_SEGMENTS} make sense for a heat")
    segments = [_SegmentTable(row, index, where, faults).read() for index, row in enumerate(rows, start=1)]
    title = _text(table, "title", where, faults) or where
    crucible_class = _text(table, "crucible_class", where, faults)
    basis = _text(table, "basis", where, faults)
    heat = _heat_number(table, where, faults)
    checklist = _checklist(table.get("checklist", []), where, faults)
    if not faults:
        _check_path([segment for segment in segments if segment is not None], where, faults)
    if faults:
        raise ScheduleError("\n".join(faults))
    whole = tuple(segment for segment in segments if segment is not None)
    return Schedule(
        title=title, segments=whole, crucible_class=crucible_class, basis=basis, heat=heat, checklist=checklist
    )


class _SegmentTable:
    """Reads one [[segment]] table, adding what is wrong with it to a shared list."""

    def __init__(self, row: Mapping[str, object], number: int, where: str, faults: list[str]) -> None:
        name = row.get("name")
        self._row = row
        self._faults = faults
        self._place = f"{where}: segment {number}" + (f" {name!r}" if isinstance(name, str) else "")

    def read(self) -> Segment | None:
        kind = self._kind()
        if kind is None:
            return None
        _report_unknown(self._row, _KEYS[kind], self._place, self._faults)
        for key in _REQUIRED[kind]:
            if key not in self._row:
                self._faults.append(f"{self._place}: {key} is missing; a {kind} segment needs it")
        band = self._band()
        segment = Segment(
            name=_text(self._row, "name", self._place, self._faults),
            kind=kind,
            to_c=self._quantity("to", parse_temperature),
            at_c=self._quantity("at", parse_temperature),
            band_c=band,
            hold_s=self._quantity("hold", _parse_time) or 0.0,
            out_of_band=self._out_of_band(),
            max_rates=self._rates(),
            min_rate=self._quantity("min_rate", parse_rate),
            ceiling_c=self._quantity("ceiling", parse_temperature),
            within_s=self._quantity("within", _parse_time),
            arrive_above_c=self._quantity("arrive_above", parse_temperature),
            say=_text(self._row, "say", self._place, self._faults),
            asks=_Asks(self._row.get("ask", []), self._place, self._faults).read(),
        )
        self._check(segment)
        return segment

    def _kind(self) -> SegmentKind | None:
        value = self._row.get("kind")
        try:
            return SegmentKind(value)  # type: ignore[arg-type]  # anything else raises, which is the point
        except ValueError:
            choices = ", ".join(SegmentKind)
            found = "is missing" if value is None else f"= {value!r} is unknown"
            self._faults.append(f"{self._place}: kind {found}; use one of {choices}")
            return None

    def _quantity(self, key: str, parse: Callable[[object], T]) -> T | None:
        if key not in self._row:
            return None
        try:
            return parse(self._row[key])
        except QuantityError as error:
            self._faults.append(f"{self._place}: {key} = {error}")
            return None

    def _rates(self) -> tuple[Rate, ...]:
        value = self._row.get("max_rate", [])
        rates: list[Rate] = []
        for text in value if isinstance(value, list) else [value]:
            try:
                rates.append(parse_rate(text))
            except QuantityError as error:
                self._faults.append(f"{self._place}: max_rate = {error}")
        return tuple(rates)

    def _band(self) -> tuple[float, float]:
        value = self._row.get("band", ["-15 C", "+15 C"])
        if not isinstance(value, list) or len(value) != 2:
            self._faults.append(f"{self._place}: band = {value!r} needs two differences such as ['-25 C', '+35 C']")
            return (0.0, 0.0)
        try:
            low, high = parse_difference(value[0]), parse_difference(value[1])
        except QuantityError as error:
            self._faults.append(f"{self._place}: band = {error}")
            return (0.0, 0.0)
        if not low < 0 < high:
            self._faults.append(f"{self._place}: band = {value!r} must reach from below zero to above it")
        return (low, high)

    def _out_of_band(self) -> OutOfBand:
        value = self._row.get("out_of_band", OutOfBand.PAUSE)
        try:
            return OutOfBand(value)  # type: ignore[arg-type]  # as above
        except ValueError:
            self._faults.append(f"{self._place}: out_of_band = {value!r} is unknown; use pause or restart")
            return OutOfBand.PAUSE

    def _check(self, segment: Segment) -> None:
        """Check what the segment's keys say together."""
        written = self._row.get
        name = written("name")
        if isinstance(name, str) and not name.strip():
            self._faults.append(f"{self._place}: name = {name!r} is empty; the events of this segment are known by it")
        lowest = segment.min_rate
        if lowest is not None and any(lowest.c_per_s >= rate.c_per_s for rate in segment.max_rates):
            self._faults.append(
                f"{self._place}: min_rate = {written('min_rate')!r} is not below max_rate = {written('max_rate')!r}; "
                "no furnace could keep both, lower min_rate"
            )
        ceiling_c, target_c = segment.ceiling_c, segment.target_c
        if ceiling_c is not None and target_c is not None:
            top_c = segment.highest_c if segment.kind is SegmentKind.SOAK else target_c
            if ceiling_c < top_c:
                self._faults.append(
                    f"{self._place}: ceiling = {written('ceiling')!r} lies below {top_c:g} °C, "
                    "where the segment itself leads; raise it"
                )


class _Asks:
    """Reads what a segment asks in its course."""

    def __init__(self, rows: object, place: str, faults: list[str]) -> None:
        self._rows, self._place, self._faults = rows, place, faults

    def read(self) -> tuple[TimedQuestion, ...]:
        """Give the questions, soonest first."""
        rows = [self._rows] if isinstance(self._rows, Mapping) else self._rows
        if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
            self._faults.append(f"{self._place}: ask = {self._rows!r} is no list of questions; such as {_ASK_EXAMPLE}")
            return ()
        if len(rows) > _MOST_QUESTIONS:
            self._faults.append(f"{self._place}: ask has {len(rows)} questions; at most {_MOST_QUESTIONS}")
            return ()
        asks = [self._one(row, f"{self._place}: ask {number}") for number, row in enumerate(rows, start=1)]
        return tuple(sorted((each for each in asks if each is not None), key=lambda each: each.after_s))

    def _one(self, row: Mapping[str, object], place: str) -> TimedQuestion | None:
        faults = self._faults
        before = len(faults)
        _report_unknown(row, ("after", "question", "answers"), place, faults)
        after_s = 0.0
        try:
            after_s = _parse_time(row.get("after"))
        except QuantityError as error:
            faults.append(
                f"{place}: after = {error}" if "after" in row else f"{place}: after is missing; such as 20 min"
            )
        question = " ".join(_text(row, "question", place, faults).split())
        if not 0 < len(question) <= _LONGEST_QUESTION:
            faults.append(f"{place}: question has {len(question)} letters; 1 to {_LONGEST_QUESTION} are needed")
        answers = row.get("answers", [])
        if not isinstance(answers, list) or not all(
            isinstance(each, str) and 0 < len(each.strip()) <= _LONGEST_ANSWER for each in answers
        ):
            faults.append(f"{place}: answers = {answers!r} must be texts of at most {_LONGEST_ANSWER} letters")
            return None
        if len(answers) > _MOST_ANSWERS:
            faults.append(f"{place}: {len(answers)} answers; at most {_MOST_ANSWERS} can be offered")
        offered = tuple(dict.fromkeys(" ".join(each.split()) for each in answers))
        return TimedQuestion(after_s, question, offered) if len(faults) == before else None


def _parse_time(text: object) -> float:
    seconds = parse_duration(text)
    if seconds <= 0:
        raise QuantityError(f"{text!r} must be longer than zero")
    return seconds


def _check_path(segments: list[Segment], where: str, faults: list[str]) -> None:
    """Check that each segment can follow the one before it."""
    reached_c: float | None = None
    for number, segment in enumerate(segments, start=1):
        place = f"{where}: segment {number} {segment.name!r}"
        target_c = segment.target_c
        if segment.kind is SegmentKind.RAMP and reached_c is not None and (target_c or 0.0) <= reached_c:
            faults.append(f"{place}: to = {target_c:g} °C is not above the {reached_c:g} °C before it; use a cool")
        if segment.kind is SegmentKind.COOL and reached_c is not None and (target_c or 0.0) >= reached_c:
            faults.append(f"{place}: to = {target_c:g} °C is not below the {reached_c:g} °C before it; use a ramp")
        if segment.kind is SegmentKind.SOAK and reached_c is not None and reached_c > segment.highest_c:
            faults.append(f"{place}: at = {target_c:g} °C lies below the {reached_c:g} °C already reached")
        reached_c = None if segment.kind is SegmentKind.TRANSFER else target_c


def _checklist(lines: object, where: str, faults: list[str]) -> tuple[str, ...]:
    if not isinstance(lines, list) or not all(isinstance(each, str) and each.strip() for each in lines):
        example = '["Hose and valve tried for leaks", "Tongs dry and at hand"]'
        faults.append(f"{where}: checklist = {lines!r} must be a list of texts, such as {example}")
        return ()
    if len(lines) > MOST_CHECKS or any(len(each) > _LONGEST_QUESTION for each in lines):
        faults.append(f"{where}: checklist may have {MOST_CHECKS} lines of {_LONGEST_QUESTION} letters")
    return tuple(" ".join(each.split()) for each in lines)


def _heat_number(table: Mapping[str, object], where: str, faults: list[str]) -> HeatNumber | None:
    value = table.get("heat")
    if value is None:
        return None
    try:
        return HeatNumber(value)  # type: ignore[arg-type]  # anything else raises, which is the point
    except ValueError:
        faults.append(f"{where}: heat = {value!r} is unknown; use {' or '.join(HeatNumber)}, or leave it out for any")
        return None


def _report_unknown(row: Mapping[str, object], known: tuple[str, ...], place: str, faults: list[str]) -> None:
    for key in row:
        if key not in known and str(key).lower() in _CALLED and "kind" in known:
            faults.append(f"{place}: unknown key {str(key)!r}; did you mean {_CALLED[str(key).lower()]}?")
        elif key not in known:
            near = difflib.get_close_matches(str(key), known, n=1)
            hint = f"did you mean {near[0]}?" if near else f"known keys: {', '.join(known)}"
            faults.append(f"{place}: unknown key {str(key)!r}; {hint}")


def _text(row: Mapping[str, object], key: str, place: str, faults: list[str]) -> str:
    value = row.get(key, "")
    if not isinstance(value, str):
        faults.append(f"{place}: {key} = {value!r} must be text in quotes")
        return ""
    return value
