"""`rampwarden plan`: before the burner is lit, can this heat work?"""

import difflib
import json
import os
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated, Literal

import typer

from rampwarden.assembly.crucible import workshop
from rampwarden.assembly.register_place import register_place
from rampwarden.cli.before.plan_views import plan_json, print_plan
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.crucibles.options import RegisterOption
from rampwarden.cli.during.heat_options import MetalOption
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.core.physics import OTHERWISE
from rampwarden.core.schedule import Schedule
from rampwarden.errors import SettingsError
from rampwarden.plan import (
    CrucibleClass,
    Judgement,
    Pot,
    ProbePlace,
    Sheath,
    Verdict,
    class_named,
    plan_heat,
)
from rampwarden.records import Register, judge_crucible, must_dry, pot_of
from rampwarden.schedule_files import find_schedule, read_schedule
from rampwarden.settings import Settings, load_settings
from rampwarden.terminal_text import visible_json

_BurnerOption = Annotated[
    list[str] | None,
    typer.Option(
        "--burner-kw",
        help="Net burner power, kW: 12, or 'to red heat=12', repeated by segment, '*=9' for the rest.",
        show_default=False,
    ),
]


def plan(
    schedule: Annotated[Path, typer.Argument(help="Schedule file or name.", show_default=False)],
    crucible: Annotated[str | None, typer.Option("--crucible", help="The crucible's mark.", show_default=False)] = None,
    metal: MetalOption = None,
    start: Annotated[str, typer.Option(help="When it begins: 08:30 or 2026-01-31T08:30; else now.")] = "",
    crucible_class: Annotated[CrucibleClass | None, typer.Option("--class", help="Without a mark.")] = None,
    wall_mm: Annotated[float | None, typer.Option(min=1.0, max=200.0, help="Without a mark.")] = None,
    ambient: Annotated[str | None, typer.Option(help="Temperature of the workshop, as '15 C'.")] = None,
    fuel: Annotated[Literal["propane", "none"] | None, typer.Option(help="none: an electric furnace.")] = None,
    burner_kw: _BurnerOption = None,
    bottle_kg: Annotated[float | None, typer.Option(help="What a full bottle holds, kg.")] = None,
    gross_kg: Annotated[float | None, typer.Option(help="What it weighs now, kg.")] = None,
    tare_kg: Annotated[float | None, typer.Option(help="What is stamped on it, kg.")] = None,
    bottles: Annotated[int | None, typer.Option(help="How many feed the burner together.")] = None,
    butane_percent: Annotated[float | None, typer.Option(help="Butane in the gas, mol %.")] = None,
    bottle_at: Annotated[str | None, typer.Option(help="The bottle's temperature at the start, as '5 C'.")] = None,
    thermocouple: Annotated[str | None, typer.Option(help="Its type: B E J K N R S T.")] = None,
    tolerance_class: Annotated[int | None, typer.Option(help="1 or 2 of IEC 60584-1.")] = None,
    wire_mm: Annotated[float | None, typer.Option(help="Diameter of its wires, mm.")] = None,
    sheath_mm: Annotated[float | None, typer.Option(help="Outer diameter of its sheath or tube, mm.")] = None,
    sheath: Annotated[Sheath | None, typer.Option(help="What the sheath is of.")] = None,
    place: Annotated[ProbePlace | None, typer.Option(help="Where the probe hangs: on the pot, or free.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object, for programs.")] = False,
    config: ConfigOption = None,
    register: RegisterOption = None,
) -> int:
    """Plan a heat: time, fuel, thermocouple and wall, one line each. Exit status 1 when something will not work."""
    flags = {
        "watch.crucible": crucible,
        "watch.crucible_register": register,
        "watch.metal": metal,
        "workshop.ambient": ambient,
        "workshop.fuel": fuel,
        "workshop.burner_kw": None if burner_kw is None else _powers(burner_kw),
        "workshop.bottle_kg": bottle_kg,
        "workshop.gross_kg": gross_kg,
        "workshop.tare_kg": tare_kg,
        "workshop.bottles": bottles,
        "workshop.butane_percent": butane_percent,
        "workshop.bottle_at": bottle_at,
        "workshop.wire_mm": wire_mm,
        "workshop.sheath_mm": sheath_mm,
        "workshop.sheath": sheath,
        "thermocouple.type": thermocouple,
        "thermocouple.tolerance_class": tolerance_class,
        "thermocouple.place": place,
    }
    settings = load_settings(config, flags, os.environ).settings
    chosen, _ = read_schedule(find_schedule(schedule))
    if burner_kw is not None:
        _check_names(settings.workshop.burner_kw or {}, chosen)
    began = _moment(start, datetime.now())
    pot, known = _pot(settings, chosen, datetime.now(UTC).date())
    pot = replace(
        pot,
        crucible_class=crucible_class or pot.crucible_class,
        wall_mm=pot.wall_mm if wall_mm is None else wall_mm,
    )
    made = plan_heat(chosen, workshop(settings), pot, known)
    if as_json:
        print(visible_json(json.dumps(plan_json(made, pot, began), ensure_ascii=False)))
    else:
        print_plan(made, pot, began)
    return FOUND_SOMETHING if made.verdict is Verdict.WILL_NOT_WORK else FINE


def _pot(settings: Settings, schedule: Schedule, today: date) -> tuple[Pot, list[Judgement]]:
    """Give the crucible that is named, and what the register has against this heat; else the schedule's class alone."""
    mark = settings.watch.crucible
    if not mark:
        return Pot(class_named(schedule.crucible_class)), []
    with Register.open(register_place(settings)) as books:
        crucible, life = books.crucible(mark), books.life(mark, today)
    return pot_of(crucible, must_dry(life)), judge_crucible(crucible, life, schedule, settings.watch.metal)


def _powers(given: Sequence[str]) -> object:
    """Give burner powers as settings take them: one figure, or a table by segment."""
    if len(given) == 1 and "=" not in given[0]:
        return given[0]
    table: dict[str, str] = {}
    for text in given:
        name, _, power = text.rpartition("=")
        table[name.strip() or OTHERWISE] = power.strip()
    return table


def _check_names(powers: dict[str, float], schedule: Schedule) -> None:
    """Refuse a power for a segment that this schedule does not have: it would burn nothing, and the sum look fine."""
    names = [segment.name for segment in schedule.segments]
    for name in powers:
        if name not in (OTHERWISE, *names):
            near = difflib.get_close_matches(name, names, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"there are: {', '.join(map(repr, names))}"
            raise SettingsError(f"--burner-kw: the schedule has no segment {name!r}; {hint}")


def _moment(text: str, now: datetime) -> datetime:
    """Give when the heat begins, to the minute: a time of today, a date with a time, or now."""
    now = now.replace(second=0, microsecond=0)
    if not text:
        return now
    for form in ("%H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"):
        try:
            moment = datetime.strptime(text, form)
        except ValueError:
            continue
        return datetime.combine(now.date(), moment.time()) if form == "%H:%M" else moment
    raise SettingsError(f"--start {text!r}: is no time such as 08:30 or 2026-01-31T08:30")
