"""`rampwarden crucible …`: the register of crucibles and of their heats."""

from typing import Annotated

import msgspec
import typer

from rampwarden.assembly.register_place import register_place
from rampwarden.assembly.waiting_records import waiting_to_be_entered
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.crucibles.enter import enter
from rampwarden.cli.crucibles.options import (
    BoughtOption,
    CapacityOption,
    ClassOption,
    CsvOption,
    DescriptionOption,
    FirstUsedOption,
    JsonOption,
    LimitOption,
    LookedOption,
    MarkArgument,
    MassOption,
    MetalOption,
    NoteOption,
    RegisterOption,
    RetireAtOption,
    SheetOption,
    StoredOption,
    TopOption,
    WallOption,
    now,
    open_register,
    print_json,
    register_settings,
    today,
)
from rampwarden.cli.crucibles.views import (
    crucible_json,
    heat_json,
    print_crucible,
    print_crucibles,
    print_crucibles_csv,
    print_heats_csv,
)
from rampwarden.core.pot import PotHappening
from rampwarden.core.quantities import parse_temperature
from rampwarden.database import place_of
from rampwarden.errors import RegisterError
from rampwarden.plan import CrucibleClass
from rampwarden.records import Crucible, Happened, Register, carry_over
from rampwarden.terminal_text import printable

_STORED = {"damp": PotHappening.STORED_DAMP, "dry": PotHappening.STORED_DRY}

crucible = typer.Typer(help="Register crucibles, and see what their heats did to them.", no_args_is_help=True)
crucible.command()(enter)


@crucible.command()
def add(
    mark: MarkArgument,
    crucible_class: Annotated[CrucibleClass, typer.Option("--class", help="Bond and body.", show_default=False)],
    wall_mm: WallOption = None,
    capacity_kg: CapacityOption = None,
    mass_new_kg: MassOption = None,
    metal: MetalOption = None,
    description: DescriptionOption = None,
    bought: BoughtOption = None,
    first_used: FirstUsedOption = None,
    stored: StoredOption = None,
    sheet: SheetOption = None,
    sheet_top: TopOption = None,
    limit: LimitOption = None,
    note: NoteOption = None,
    retire_at: RetireAtOption = None,
    as_json: JsonOption = False,
    config: ConfigOption = None,
    register: RegisterOption = None,
) -> None:
    """Register a crucible."""
    changes = _changes(
        crucible_class=crucible_class,
        wall_mm=wall_mm,
        capacity_kg=capacity_kg,
        mass_new_kg=mass_new_kg,
        metal=metal,
        description=description,
        bought=bought,
        first_used=first_used,
        stored=stored,
        sheet_id=sheet,
        sheet_top_c=None if sheet_top is None else parse_temperature(sheet_top),
        sheet=None if limit is None else tuple(limit),
        note=note,
        retire_at=retire_at,
    )
    with open_register(config, register, create=True) as books:
        known = books.add(msgspec.structs.replace(Crucible(mark, ""), **changes), _happened(stored, None))
        _report(books, known.mark, "registered", as_json=as_json)


@crucible.command()
def amend(
    mark: MarkArgument,
    new_mark: Annotated[str | None, typer.Option(help="Another mark for it.", show_default=False)] = None,
    crucible_class: ClassOption = None,
    wall_mm: WallOption = None,
    capacity_kg: CapacityOption = None,
    mass_new_kg: MassOption = None,
    metal: MetalOption = None,
    description: DescriptionOption = None,
    bought: BoughtOption = None,
    first_used: FirstUsedOption = None,
    stored: StoredOption = None,
    sheet: SheetOption = None,
    sheet_top: TopOption = None,
    limit: LimitOption = None,
    looked_at: LookedOption = None,
    no_limits: Annotated[bool, typer.Option("--no-limits", help="Drop the sheet's ramps and top.")] = False,
    note: NoteOption = None,
    retire_at: RetireAtOption = None,
    as_json: JsonOption = False,
    config: ConfigOption = None,
    register: RegisterOption = None,
) -> None:
    """Change what is known of a crucible; what is not given stays. Limits replace all those before."""
    changes = _changes(
        mark=new_mark,
        crucible_class=crucible_class,
        wall_mm=wall_mm,
        capacity_kg=capacity_kg,
        mass_new_kg=mass_new_kg,
        metal=metal,
        description=description,
        bought=bought,
        first_used=first_used,
        stored=stored,
        sheet_id=sheet,
        sheet_top_c=None if sheet_top is None else parse_temperature(sheet_top),
        sheet=None if limit is None else tuple(limit),
        note=note,
        retire_at=retire_at,
    )
    with open_register(config, register) as books:
        known = books.crucible(mark)
        if no_limits:
            known = msgspec.structs.replace(known, sheet=(), sheet_top_c=None)
        elif not changes and not looked_at:
            raise RegisterError(f"nothing to change in {known.mark}; see: rampwarden crucible amend --help")
        known = books.replace(mark, msgspec.structs.replace(known, **changes), _happened(stored, looked_at))
        _report(books, known.mark, "amended", as_json=as_json)


@crucible.command()
def retire(
    mark: MarkArgument,
    on: Annotated[str | None, typer.Option(help="The day, as 2026-01-31; else today.", show_default=False)] = None,
    why: Annotated[str, typer.Option(help="The reason.", show_default=False)] = "",
    undo: Annotated[bool, typer.Option("--undo", help="Take it back into use.")] = False,
    as_json: JsonOption = False,
    config: ConfigOption = None,
    register: RegisterOption = None,
) -> None:
    """Retire a crucible: a watch warns of it from now on. Its heats stay."""
    with open_register(config, register) as books:
        known = books.crucible(mark)
        if undo:
            known = msgspec.structs.replace(known, retired="", retired_why="")
        else:
            known = msgspec.structs.replace(known, retired=on or today().isoformat(), retired_why=why)
        books.replace(mark, known)
        _report(books, known.mark, "in use again" if undo else "retired", as_json=as_json)


@crucible.command("list")
def list_known(
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    config: ConfigOption = None,
    register: RegisterOption = None,
) -> None:
    """List every crucible with what its heats come to."""
    settings = register_settings(config, register)
    with Register.open(register_place(settings)) as books:
        crucibles, entered = books.crucibles(), books.entered()
        lives = [books.life(known.mark, today()) for known, _ in crucibles]
    if as_json:
        print_json(crucibles=[crucible_json(*each, life) for each, life in zip(crucibles, lives, strict=True)])
    elif as_csv:
        print_crucibles_csv(crucibles)
    else:
        print_crucibles(crucibles, lives)
        if count := sum(1 for _ in waiting_to_be_entered(settings, entered)):
            print(f"heats that carry a mark and are not entered: {count} · rampwarden crucible enter")


@crucible.command()
def show(
    mark: MarkArgument,
    segments: Annotated[bool, typer.Option("--segments", help="Each segment's worst ramp and soak too.")] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    config: ConfigOption = None,
    register: RegisterOption = None,
) -> None:
    """Show one crucible and its heats; the CSV holds one heat a row."""
    settings = register_settings(config, register)
    with Register.open(register_place(settings)) as books:
        known, history, heats = books.crucible(mark), books.history(mark), books.heats(mark)
        life, happened = books.life(mark, today()), books.happenings(mark)
    if as_json:
        print_json(crucible=crucible_json(known, history, life), heats=[heat_json(heat) for heat in heats])
    elif as_csv:
        print_heats_csv(heats)
    else:
        price = settings.workshop.gas_price
        print_crucible(known, history, life, happened, heats, segments=segments, gas_price=price)


@crucible.command()
def move(
    to: Annotated[str, typer.Option(help="Where it goes: a file, or postgresql://…", show_default=False)],
    as_json: JsonOption = False,
    config: ConfigOption = None,
    register: RegisterOption = None,
) -> None:
    """Carry the register over to another file or server, all of it or nothing. It stays where it was, too."""
    place = register_place(register_settings(config, register))
    try:
        goal = place_of(to)
    except ValueError as error:
        raise RegisterError(f"--to {to!r}: {error}") from None
    if goal == place:
        raise RegisterError(f"{to}: is where the register is already")
    with Register.open(place) as source, Register.open(goal, create=True) as target:
        carried = carry_over(source, target)
        name = target.name
    if as_json:
        there = {"crucibles": carried.crucibles, "heats": carried.heats, "there_already": carried.there_already}
        print_json(moved={"to": name, **there})
    else:
        print(printable(f"{name}: {carried.sentence}"))
        print(printable(f'from now on use it: [watch] crucible_register = "{goal}"'))


def _changes(**given: object) -> dict[str, object]:
    """Give the options that were given; how a pot is stored is known as of today."""
    changes = {name: value for name, value in given.items() if value is not None}
    if "crucible_class" in changes:
        changes["crucible_class"] = str(changes["crucible_class"])
    if "stored" in changes:
        changes["stored_on"] = today().isoformat()
    return changes


def _happened(stored: str | None, looked_at: str | None) -> list[Happened]:
    """Give what has happened to the pot by these options, as of now."""
    at = now().isoformat().replace("+00:00", "Z")
    # Other words than these two are refused with the crucible.
    happened = [Happened(_STORED[stored], at)] if stored in _STORED else []
    if looked_at:
        happened.append(Happened(PotHappening.INSPECTED, at, looked_at))
    return happened


def _report(books: Register, mark: str, what: str, *, as_json: bool) -> None:
    if as_json:
        print_json(crucible=crucible_json(books.crucible(mark), books.history(mark), books.life(mark, today())))
    else:
        print(printable(f"{mark}: {what} · {books.name}"))
