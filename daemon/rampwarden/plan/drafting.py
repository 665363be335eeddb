"""A schedule drafted from the limits of a maker's sheet, as the text of a commented file for a person to look over.

Where the sheet is silent, a generic schedule's limits stand in and say so; where both are, the line is left out and its
place is marked. Knows nothing of files or of the register.
"""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from rampwarden.core.quantities import Rate, format_duration
from rampwarden.core.schedule import HeatNumber, Schedule, Segment, SegmentKind
from rampwarden.errors import ScheduleError
from rampwarden.plan.sheet import SheetLimit, window_text

_COLD_C = 20.0
_DRY_C, _DRY_S = 180.0, 1800.0
_HOTTEST_DRY_C = 250.0
_BAND_C = 15.0
_COOL_TO_C = 300.0
# The top of a generic schedule stands for any working temperature: its last limits hold however high it is, °C.
_ANY_TOP_C = 3000.0
# Nobody holds a furnace within less, °C. Common practice, no source.
_NARROWEST_C = 5.0
_ABOVE_TOP_C = 50.0
# A window longer than this lets a whole climb pass at once: the same slope is then asked within a quarter of it.
_LONGEST_WINDOW_S = 1800.0
# A segment is overdue after this many times what its limit alone takes, at least half an hour.
_OVERDUE, _LEAST_WITHIN_S = 3.0, 1800.0
_COLUMN = 34
# What is looked at before a fire is lit, where no generic schedule says it better.
_CHECKLIST = (
    "Hose and valve tried with soapy water: no bubble",
    "Door or window open for air; flue and burner inlet free",
    "CO detector on, and tested",
    "Tongs, tools and gloves dry and in reach",
    "Pot and bottle weighed, and both weights marked",
)
_MIST = '[{ after = "40 min", question = "Is there mist at the door or lid?", answers = ["mist seen", "mist gone"] }]'
_NO_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class DraftWishes:
    """What a heat is to be: `top_c` °C held for `soak_s`, down to `cool_to_c`; dried first at `dry_c`, if given.

    `in_oven`: it dries in an oven and is carried over. `asks`: the watch asks a checklist before the fire is lit, and
    for mist while it dries; else both stand there as comments. `limits` are the sheet's, named in `sheet`; `usual`
    those of a generic schedule, named in `usual_from`, and `usual_soaks` where it evens out on the way up.
    """

    title: str
    top_c: float
    soak_s: float = 1800.0
    crucible_class: str = ""
    heat: HeatNumber | None = None
    dry_c: float | None = None
    dry_s: float = _DRY_S
    in_oven: bool = False
    asks: bool = False
    sheet: str = ""
    sheet_top_c: float | None = None
    limits: tuple[SheetLimit, ...] = ()
    usual: tuple[SheetLimit, ...] = ()
    usual_from: str = ""
    usual_soaks: tuple[Segment, ...] = ()
    cool_to_c: float = _COOL_TO_C


@dataclass(slots=True)
class _Table:
    """One [[segment]] in the making: lines of key, value and why."""

    lines: list[tuple[str, str, str]] = field(default_factory=list)

    def put(self, key: str, value: object, why: str = "") -> None:
        self.lines.append((key, json.dumps(value, ensure_ascii=False), why))

    def text(self) -> str:
        written = ["[[segment]]"]
        for key, value, why in self.lines:
            line = f"{key} = {value}"
            written.append(f"{line:<{_COLUMN}}# {why}" if why else line)
        return "\n".join(written)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Part of the way between two temperatures under the same limits; `from_sheet` tells whose they are."""

    from_c: float
    to_c: float
    most: tuple[Rate, ...]
    least: Rate | None
    from_sheet: bool


def limits_of(schedule: Schedule) -> tuple[SheetLimit, ...]:
    """Give the ramps of a generic schedule as a sheet would write them; its top stands for any working temperature."""
    limits: list[SheetLimit] = []
    at_c = _COLD_C
    top_c = max((segment.target_c or 0.0 for segment in schedule.segments), default=0.0)
    for segment in schedule.segments:
        if segment.kind in (SegmentKind.RAMP, SegmentKind.COOL) and segment.to_c is not None:
            low_c, high_c = sorted((at_c, segment.to_c))
            high_c = _ANY_TOP_C if high_c >= top_c else high_c
            cooling = segment.kind is SegmentKind.COOL
            limits += [SheetLimit(low_c, high_c, rate, cooling=cooling) for rate in segment.max_rates]
            if segment.min_rate is not None:
                limits.append(SheetLimit(low_c, high_c, segment.min_rate, at_least=True))
            # The last degrees to a soak are climbed under the ramp's limit, so what follows begins where that ended.
            at_c = segment.to_c
    return tuple(limits)


def draft_schedule(wishes: DraftWishes) -> str:
    """Write the file's text; raises `ScheduleError` where the wishes contradict the sheet or one another."""
    _check(wishes)
    tables = [*_drying(wishes), *_heating(wishes), _soak(wishes), *_cooling(wishes)]
    whose = f"{_NO_SOURCE}; the maker's sheet overrides"
    if wishes.limits:
        whose = f"{wishes.sheet}, the maker's" + (f"; where it is silent, {_NO_SOURCE}" if wishes.usual else "")
    head = [
        "# Drafted by: rampwarden schedule new. Look over every line; the maker's sheet outranks all of them.",
        "# A rate holds within ANY window of the length written after the slash.",
        f"title = {json.dumps(wishes.title, ensure_ascii=False)}",
    ]
    if wishes.crucible_class:
        head.append(f"crucible_class = {json.dumps(wishes.crucible_class)}")
    if wishes.heat is not None:
        head.append(f"heat = {json.dumps(str(wishes.heat))}")
    head.append(f"basis = {json.dumps(whose, ensure_ascii=False)}")
    head += _lines_to_tick_off(wishes)
    return "\n\n".join(["\n".join(head), *(table.text() for table in tables)]) + "\n"


def _lines_to_tick_off(wishes: DraftWishes) -> list[str]:
    """Give the checklist as lines of the file: asked for, or as a comment to be taken up."""
    lines = ["checklist = [", *(f"  {json.dumps(line)}," for line in _CHECKLIST), "]"]
    if wishes.asks:
        return ["# Ticked off before the fire is lit: make it your own.", *lines]
    return ["# To have it ticked off before the fire is lit, take the # away and make it your own.", *_hushed(lines)]


def _hushed(lines: Iterable[str]) -> list[str]:
    return [f"# {line}" for line in lines]


def _check(wishes: DraftWishes) -> None:
    if wishes.top_c <= _COLD_C + _BAND_C:
        raise ScheduleError(f"{wishes.top_c:g} °C is no heat; give the temperature it is to reach")
    if wishes.sheet_top_c is not None and wishes.top_c + _NARROWEST_C > wishes.sheet_top_c:
        raise ScheduleError(
            f"the sheet ends at {wishes.sheet_top_c:g} °C: a soak at {wishes.top_c:g} °C would pass it; "
            f"at most {wishes.sheet_top_c - _NARROWEST_C:g} °C"
        )
    if wishes.dry_c is not None and not _COLD_C < wishes.dry_c < wishes.top_c - _BAND_C:
        raise ScheduleError(f"drying at {wishes.dry_c:g} °C must lie well below the {wishes.top_c:g} °C of the heat")
    if wishes.cool_to_c >= wishes.top_c:
        raise ScheduleError(f"a heat to {wishes.top_c:g} °C cannot cool to {wishes.cool_to_c:g} °C")


def _drying(wishes: DraftWishes) -> Iterator[_Table]:
    if wishes.dry_c is None:
        return
    stretches = list(_stretches(wishes, _COLD_C, wishes.dry_c))
    for number, stretch in enumerate(stretches, start=1):
        name = "drying" if len(stretches) == 1 else f"drying {number}"
        table = _ramp(wishes, stretch, name)
        if number == 1:
            table.put("say", "Empty pot upside down. Door or lid ajar until no more mist shows.")
            table.lines.append(("ask" if wishes.asks else "# ask", _MIST, ""))
        yield table
        yield from _evening_out(stretch.to_c, wishes)
    soak = _Table()
    soak.put("name", "dry soak")
    soak.put("kind", "soak")
    soak.put("at", _temp(wishes.dry_c), "dry means weighed dry; the last water leaves below 200 °C")
    soak.put("band", [f"-{_BAND_C:g} C", f"+{_BAND_C:g} C"])
    soak.put("hold", format_duration(wishes.dry_s), _NO_SOURCE)
    soak.put("ceiling", _temp(wishes.dry_c + 2 * _BAND_C), "above this an alarm of high priority")
    yield soak
    if wishes.in_oven:
        carry = _Table()
        carry.put("name", "oven to furnace")
        carry.put("kind", "transfer")
        carry.put("within", "20 min", f"ten minutes out of the heat are plenty; {_NO_SOURCE}")
        arrive_c = min(100.0, wishes.dry_c - 2 * _BAND_C)
        carry.put("arrive_above", _temp(arrive_c), "a pot that fell below goes back to the oven")
        yield carry


def _heating(wishes: DraftWishes) -> Iterator[_Table]:
    start_c = _COLD_C if wishes.dry_c is None else wishes.dry_c
    for stretch in _stretches(wishes, start_c, wishes.top_c):
        last = stretch.to_c >= wishes.top_c
        yield _ramp(wishes, stretch, "to working temperature" if last else f"to {stretch.to_c:g} °C")
        yield from _evening_out(stretch.to_c, wishes)


def _evening_out(at_c: float, wishes: DraftWishes) -> Iterator[_Table]:
    """Give the soak of a generic schedule at a temperature on the way, if it has one."""
    soak = next((soak for soak in wishes.usual_soaks if soak.at_c == at_c), None)
    if soak is None or at_c in (wishes.dry_c, wishes.top_c):
        return
    table = _Table()
    table.put("name", f"evening out at {at_c:g} °C")
    table.put("kind", "soak")
    table.put("at", _temp(at_c))
    table.put("band", [f"{soak.band_c[0]:+g} C", f"{soak.band_c[1]:+g} C"])
    table.put("hold", format_duration(soak.hold_s), f"{wishes.usual_from}: {_NO_SOURCE}")
    table.put("ceiling", _temp(soak.highest_c + _BAND_C), "above this an alarm of high priority")
    yield table


def _ramp(wishes: DraftWishes, stretch: _Stretch, name: str) -> _Table:
    table = _Table()
    table.put("name", name)
    table.put("kind", "ramp")
    table.put("to", _temp(stretch.to_c))
    _put_rates(table, stretch, wishes)
    if stretch.least is not None:
        table.put("min_rate", _rate(stretch.least), "a slower climb rings")
    if stretch.most:
        slowest = min(rate.c_per_s for rate in stretch.most)
        seconds = max(_LEAST_WITHIN_S, _OVERDUE * (stretch.to_c - stretch.from_c) / slowest)
        within_s = -(-seconds // 900.0) * 900.0
        table.put("within", format_duration(within_s), "three times what the limit alone takes: put your furnace's own")
    return table


def _soak(wishes: DraftWishes) -> _Table:
    room_c = wishes.sheet_top_c - wishes.top_c if wishes.sheet_top_c is not None else _ABOVE_TOP_C
    band_c = min(_BAND_C, room_c)
    table = _Table()
    table.put("name", "working temperature")
    table.put("kind", "soak")
    table.put("at", _temp(wishes.top_c))
    table.put("band", [f"-{_BAND_C:g} C", f"+{band_c:g} C"], "its clock runs only inside")
    table.put("hold", format_duration(wishes.soak_s))
    ceiling_c = wishes.top_c + min(room_c, _ABOVE_TOP_C)
    why = "the sheet ends here" if room_c <= _ABOVE_TOP_C and wishes.sheet_top_c is not None else _NO_SOURCE
    table.put("ceiling", _temp(ceiling_c), f"above this an alarm of high priority; {why}")
    table.put("say", "Look into the pot: an even colour, no dark patch and no crack.")
    return table


def _cooling(wishes: DraftWishes) -> Iterator[_Table]:
    for number, stretch in enumerate(_stretches(wishes, wishes.top_c, wishes.cool_to_c)):
        table = _Table()
        table.put("name", "closed furnace" if not number else f"cooling to {stretch.to_c:g} °C")
        table.put("kind", "cool")
        table.put("to", _temp(stretch.to_c))
        _put_rates(table, stretch, wishes)
        if not number:
            table.put("say", "Heat off, lid and flue shut.")
        yield table


def _put_rates(table: _Table, stretch: _Stretch, wishes: DraftWishes) -> None:
    """Put the limits in, with whose they are; or a line that says that nobody has given one."""
    if not stretch.most:
        low_c, high_c = sorted((stretch.from_c, stretch.to_c))
        table.lines.append(
            ("# max_rate", '"… C / 15 min"', f"nobody has said how fast from {low_c:g} to {high_c:g} °C: ask the maker")
        )
        return
    whose = wishes.sheet if stretch.from_sheet else f"{wishes.usual_from}: {_NO_SOURCE}"
    told = ", ".join(f"{rate.climb_c:g} °C in {format_duration(rate.window_s)}" for rate in stretch.most)
    rates = [_rate(_closer(rate)) for rate in stretch.most]
    is_closer = any(rate.window_s > _LONGEST_WINDOW_S for rate in stretch.most)
    table.put("max_rate", rates[0] if len(rates) == 1 else rates, f"{whose}: {told}" if is_closer else whose)


def _stretches(wishes: DraftWishes, from_c: float, to_c: float) -> Iterator[_Stretch]:
    """Cut the way from one temperature to another where its limits change."""
    cooling = to_c < from_c
    sheet = [limit for limit in wishes.limits if limit.cooling is cooling]
    usual = [limit for limit in wishes.usual if limit.cooling is cooling]
    low_c, high_c = sorted((from_c, to_c))
    ends = {end for limit in (*sheet, *usual) for end in (limit.from_c, limit.to_c) if low_c < end < high_c}
    soaks = set() if cooling else {soak.at_c for soak in wishes.usual_soaks if low_c < (soak.at_c or 0.0) < high_c}
    cuts = sorted({low_c, high_c, *ends, *(at_c for at_c in soaks if at_c is not None)})
    parts: list[_Stretch] = []
    for below_c, above_c in pairwise(cuts):
        most = _rates(sheet, below_c, above_c, at_least=False)
        from_sheet = bool(most)
        most = most or _rates(usual, below_c, above_c, at_least=False)
        least = _rates(sheet, below_c, above_c, at_least=True) or (
            () if from_sheet else _rates(usual, below_c, above_c, at_least=True)
        )
        slowest = max(least, key=lambda rate: rate.c_per_s, default=None)
        part = _Stretch(below_c, above_c, most, slowest, from_sheet)
        before = parts[-1] if parts else None
        if (
            before is not None
            and below_c not in soaks
            and (before.most, before.least, before.from_sheet) == (most, slowest, from_sheet)
        ):
            parts[-1] = _Stretch(before.from_c, above_c, most, slowest, from_sheet)
        else:
            parts.append(part)
    if not cooling:
        yield from parts
    else:
        yield from (_Stretch(p.to_c, p.from_c, p.most, p.least, p.from_sheet) for p in reversed(parts))


def _rates(limits: Iterable[SheetLimit], low_c: float, high_c: float, *, at_least: bool) -> tuple[Rate, ...]:
    found = [limit.rate for limit in limits if limit.at_least is at_least and limit.overlaps(low_c, high_c)]
    return tuple(dict.fromkeys(found))


def _closer(rate: Rate) -> Rate:
    """Give the same slope within a quarter of its window where that is long: never more than the sheet allows."""
    return Rate(rate.climb_c / 4, rate.window_s / 4) if rate.window_s > _LONGEST_WINDOW_S else rate


def _rate(rate: Rate) -> str:
    return f"{rate.climb_c:g} C / {window_text(rate.window_s)}"


def _temp(temp_c: float) -> str:
    return f"{temp_c:g} C"


def is_drying_soak(segment: Segment) -> bool:
    """Tell whether a segment is a soak that dries."""
    return segment.kind is SegmentKind.SOAK and segment.at_c is not None and segment.at_c < _HOTTEST_DRY_C


def wishes_of_usual(usual: Schedule | None, name: str, heat: HeatNumber, top_c: float) -> dict[str, object]:
    """Give what a generic schedule lends to a draft: its limits, drying, soaks on the way up, and where it cools to."""
    first = heat is HeatNumber.FIRST
    if usual is None:
        return {"dry_c": _DRY_C, "dry_s": _DRY_S} if first else {}
    drying = next((segment for segment in reversed(usual.segments) if is_drying_soak(segment)), None)
    last = usual.segments[-1]
    peak_c = max(segment.target_c or 0.0 for segment in usual.segments)
    lent: dict[str, object] = {"usual": limits_of(usual), "usual_from": name}
    lent["usual_soaks"] = tuple(
        segment
        for segment in usual.segments
        if segment.kind is SegmentKind.SOAK
        and segment is not drying
        and (first or not is_drying_soak(segment))
        and (segment.at_c or 0.0) < min(peak_c, top_c)
    )
    if first:
        lent["dry_c"] = _DRY_C if drying is None else drying.at_c
        lent["dry_s"] = _DRY_S if drying is None else drying.hold_s
    if last.kind is SegmentKind.COOL and last.to_c is not None and last.to_c < top_c:
        lent["cool_to_c"] = last.to_c
    return lent
