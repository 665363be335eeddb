"""What the register holds, as people read it, as programs read it, and as a spreadsheet does."""

import sys
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from rampwarden.cli.crucibles.fuel import fuel_facts, fuel_words, gas_kg
from rampwarden.cli.crucibles.life_picture import life_picture
from rampwarden.cli.tables import Cell, print_csv, print_table
from rampwarden.core.model import WallPeak
from rampwarden.core.pot import PotHappening, Ready, readiness_sentence, reason_sentences
from rampwarden.core.quantities import format_duration, format_slope
from rampwarden.plan import CLASSES, class_named
from rampwarden.records import (
    NEAR,
    Crucible,
    Happened,
    HeatFigures,
    History,
    PotLife,
    RegisteredHeat,
    SegmentFigures,
    nearest_limit,
    readiness_words,
    retirement_of,
)

_LIST_HEADINGS = (
    "mark",
    "class",
    "wall",
    "kept for",
    "heats",
    "last",
    "peak",
    "above 700",
    "dose",
    "mass",
    "readiness",
)
_HEAT_HEADINGS = (
    "began",
    "schedule",
    "peak",
    "soak",
    "above 700",
    "dose",
    "nearest to a limit",
    "alarms",
    "mass",
    "look",
)
_SEGMENT_HEADINGS = ("", "segment", "lasted", "worst ramp", "limit", "soaked")
_NOT_LISTED = ("segments", "mark", "account", "physics")


def crucible_json(crucible: Crucible, history: History, life: PotLife) -> dict[str, object]:
    """Give a crucible, what its heats come to and what it is ready for, for programs."""
    return {
        **msgspec.to_builtins(crucible),
        "history": msgspec.to_builtins(history),
        "readiness": readiness_json(life),
        "retirement": [
            {"words": each.words, "share": None if each.share is None else round(each.share, 3)}
            for each in retirement_of(crucible, history)
        ],
    }


def readiness_json(life: PotLife) -> dict[str, object]:
    """Give what a pot is ready for, for programs; `without_account` counts heats of which nothing is shown."""
    readiness = life.readiness
    return {
        "ready": str(readiness.ready),
        "sentence": readiness_sentence(readiness),
        "reasons": list(reason_sentences(readiness)),
        "without_account": life.without_account,
    }


def heat_json(heat: RegisteredHeat) -> dict[str, object]:
    """Give a heat for programs."""
    seen = {"mass_after_kg": heat.mass_after_kg, "look": heat.look, "account": msgspec.to_builtins(heat.account)}
    return {**msgspec.to_builtins(heat.figures), **seen}


def print_crucibles(crucibles: Sequence[tuple[Crucible, History]], lives: Sequence[PotLife]) -> None:
    """Print one line a crucible, with what it is ready for."""
    rows = (_crucible_cells(*each, life) for each, life in zip(crucibles, lives, strict=True))
    print_table(_LIST_HEADINGS, rows)


def print_crucibles_csv(crucibles: Sequence[tuple[Crucible, History]]) -> None:
    """Print one CSV row a crucible, what its heats come to included."""
    names = (*Crucible.__struct_fields__, *History.__struct_fields__)
    rows = (
        [_csv_cell(value) for value in (*msgspec.structs.astuple(crucible), *msgspec.structs.astuple(history))]
        for crucible, history in crucibles
    )
    print_csv(names, rows)


def print_crucible(
    crucible: Crucible,
    history: History,
    life: PotLife,
    happened: Sequence[Happened],
    heats: Sequence[RegisteredHeat],
    *,
    segments: bool,
    gas_price: float | None = None,
) -> None:
    """Print all that is known of one crucible, its heats below; `gas_price` is what a kilogram of gas costs."""
    print_table(("", ""), [*_facts(crucible, history, life, happened), *fuel_facts(heats, gas_price)])
    if not heats:
        print("no heat has been entered")
        return
    print_table(("", ""), life_picture(crucible, heats, plain=not _can_draw()))
    # A column of nothing but dashes helps nobody: most pots have no wall that can be reckoned with.
    walls = any(_greatest_wall(heat) for heat in heats)
    burned = any(gas_kg(heat) is not None for heat in heats)
    headings = (*_HEAT_HEADINGS, *(["through the wall"] if walls else []), *(["gas"] if burned else []))

    def cells(heat: RegisteredHeat) -> tuple[Cell, ...]:
        wall = [_wall_cell(heat)] if walls else []
        return (*_heat_cells(heat), *wall, *([fuel_words(gas_kg(heat), gas_price)] if burned else []))

    if not segments:
        print_table(headings, [cells(heat) for heat in heats])
        return
    for heat in heats:
        print_table(headings, [cells(heat)])
        print_table(_SEGMENT_HEADINGS, (_segment_cells(part) for part in heat.figures.segments))


def _can_draw() -> bool:
    """Tell whether standard output can take the letters that bars are made of."""
    return "utf" in (sys.stdout.encoding or "").lower()


def print_heats_csv(heats: Sequence[RegisteredHeat]) -> None:
    """Print one CSV row a heat."""
    names = [name for name in HeatFigures.__struct_fields__ if name not in _NOT_LISTED]
    rows = (
        [
            *(_csv_cell(getattr(heat.figures, name)) for name in names),
            heat.mass_after_kg,
            heat.look,
            None if (peak := _greatest_wall(heat)) is None else peak.through_k,
            gas_kg(heat),
        ]
        for heat in heats
    )
    print_csv((*names, "mass_after_kg", "look", "wall_k", "gas_kg"), rows)


def _crucible_cells(crucible: Crucible, history: History, life: PotLife) -> tuple[Cell, ...]:
    used = history.heats > 0
    return (
        crucible.mark,
        crucible.crucible_class,
        _known(crucible.wall_mm, "{:g} mm"),
        crucible.metal or "–",
        str(history.heats),
        history.last[:10] or "–",
        _known(history.peak_c, "{:.0f} °C"),
        f"{history.hot_h:.1f} h" if used else "–",
        f"{history.dose_min:.0f} min" if used else "–",
        _masses(crucible.mass_new_kg, history.last_mass_kg),
        (f"retired {crucible.retired}", "dim")
        if crucible.retired
        else _readiness_cell(life, str(life.readiness.ready)),
    )


def _readiness_cell(life: PotLife, text: str) -> Cell:
    """Give a word on the readiness in its colour."""
    styles = {Ready.READY: "green", Ready.INSPECT_FIRST: "bold red"}
    return text, styles.get(life.readiness.ready, "yellow")


def _facts(
    crucible: Crucible, history: History, life: PotLife, happened: Sequence[Happened]
) -> Iterator[tuple[Cell, Cell]]:
    known = class_named(crucible.crucible_class)
    what = crucible.description or (CLASSES[known].description if known else "")
    yield (crucible.mark, "bold"), f"{crucible.crucible_class} ({what})"
    wall, capacity = _known(crucible.wall_mm, "{:g} mm"), _known(crucible.capacity_kg, "{:g} kg")
    yield "size", f"wall {wall}, holds {capacity}, mass {_masses(crucible.mass_new_kg, history.last_mass_kg)}"
    yield "kept for", crucible.metal or "–"
    yield "bought", f"{crucible.bought or '–'}, first used {crucible.first_used or '–'}"
    if crucible.retired:
        yield "retired", f"{crucible.retired} {crucible.retired_why}".strip()
    yield from (("maker's sheet", line) for line in _sheet(crucible))
    rehearsed = f", {history.rehearsals} rehearsed" if history.rehearsals else ""
    yield "heats", f"{history.heats}{rehearsed}"
    if history.heats:
        yield (
            "so far",
            f"up to {_known(history.peak_c, '{:.0f} °C')}, {history.hot_h:.1f} h above 700 °C, oxidation dose "
            f"{history.dose_min:.0f} min at 600 °C (upper bound)",
        )
    yield from _retirement(crucible, history)
    if crucible.note:
        yield "note", crucible.note
    looks = [each for each in happened if each.what is PotHappening.INSPECTED]
    if looks:
        yield "looked at", f"{looks[-1].at[:10]} {looks[-1].note}"
    if not crucible.retired:
        yield "readiness", _readiness_cell(life, readiness_words(life.readiness))
    if life.without_account:
        yield (
            "not shown",
            f"{life.without_account} of its heats entered without an account; give them one from their records: "
            "rampwarden crucible enter RECORD --again",
        )


def _retirement(crucible: Crucible, history: History) -> Iterator[tuple[Cell, Cell]]:
    """Give how near a pot is to each part of its rule, and which part is the nearest."""
    standings = retirement_of(crucible, history)
    nearest = nearest_limit(standings)
    for standing in standings:
        share = standing.share
        told = "" if share is None else f", {share:.0%} of it{', the nearest' if standing is nearest else ''}"
        style = "" if share is None or share < NEAR else "bold red" if share >= 1.0 else "yellow"
        reached = " · reached: retire it" if share is not None and share >= 1.0 else ""
        yield "retire at", (f"{standing.words}{told}{reached}", style)


def _sheet(crucible: Crucible) -> Iterator[str]:
    if crucible.sheet_id:
        yield crucible.sheet_id
    if crucible.sheet_top_c is not None:
        yield f"up to {crucible.sheet_top_c:g} °C"
    yield from crucible.sheet


def _heat_cells(heat: RegisteredHeat) -> tuple[Cell, ...]:
    figures = heat.figures
    remarks = [*(["rehearsal"] if figures.rehearsal else []), *([] if figures.closed else ["record not closed"])]
    return (
        figures.started[:16].replace("T", " "),
        ", ".join([figures.title, *remarks]),
        f"{figures.peak_c:.0f} °C",
        format_duration(figures.soaked_s),
        f"{figures.hot_h:.1f} h",
        f"{figures.dose_min:.0f} min",
        _nearest(figures.segments),
        _alarms(figures.alarms),
        _known(heat.mass_after_kg, "{:g} kg"),
        heat.look or "–",
    )


def _wall_cell(heat: RegisteredHeat) -> str:
    peak = _greatest_wall(heat)
    name = next((part.name for part in heat.figures.segments if peak is not None and part.number == peak.segment), "")
    if peak is None:
        return "–"
    return f"{abs(peak.through_k):.0f} K in {name}" if name else f"{abs(peak.through_k):.0f} K"


def _greatest_wall(heat: RegisteredHeat) -> WallPeak | None:
    return None if heat.figures.physics is None else heat.figures.physics.greatest_wall


def _segment_cells(segment: SegmentFigures) -> tuple[Cell, ...]:
    ramp = limit = "–"
    if segment.climb_c is not None and segment.limit_c is not None and segment.window_s:
        ramp = format_slope(segment.climb_c / segment.window_s, segment.window_s)
        limit = f"{segment.limit_c:g} °C in {format_duration(segment.window_s)}"
    soaked = f"{format_duration(segment.soaked_s)} of {format_duration(segment.hold_s)}" if segment.hold_s else "–"
    return (str(segment.number), segment.name, format_duration(segment.seconds), ramp, limit, soaked)


def _nearest(segments: Sequence[SegmentFigures]) -> Cell:
    """Give the segment that came nearest to its limit, as a share of it."""
    shares = [
        (part.climb_c / part.limit_c, part.name) for part in segments if part.climb_c is not None and part.limit_c
    ]
    if not shares:
        return "–"
    share, name = max(shares)
    return f"{share:.0%} in {name}", "red" if share > 1.0 else ""


def _alarms(alarms: Mapping[str, int]) -> str:
    return ", ".join(name if count == 1 else f"{name} ×{count}" for name, count in alarms.items()) or "none"


def _masses(new_kg: float | None, last_kg: float | None) -> str:
    if new_kg is None or last_kg is None:
        return _known(last_kg if new_kg is None else new_kg, "{:g} kg")
    return f"{last_kg:g} kg of {new_kg:g} ({last_kg / new_kg - 1.0:+.1%})"


def _known(value: float | None, form: str) -> str:
    return "–" if value is None else form.format(value)


def _csv_cell(value: object) -> object:
    if isinstance(value, dict):
        return " ".join(f"{name}:{count}" for name, count in value.items())
    if isinstance(value, tuple):
        return "; ".join(map(str, value))
    return int(value) if isinstance(value, bool) else value
