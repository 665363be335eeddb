"""`rampwarden schedule new`: asks for what a heat is to be, or takes it from flags and register, and drafts its file.

What is not given is asked on a terminal, one question at a time, and asked again where the answer cannot be read;
without a terminal usual values stand in, and what has none is refused at once.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

import typer

from rampwarden.cli.saying import say
from rampwarden.core.heat import parse_schedule
from rampwarden.core.quantities import parse_duration, parse_temperature
from rampwarden.core.schedule import HeatNumber, Schedule
from rampwarden.errors import QuantityError, RampwardenError, ScheduleError
from rampwarden.plan import (
    CrucibleClass,
    DraftWishes,
    SheetLimit,
    draft_schedule,
    parse_sheet_limit,
    wishes_of_usual,
)
from rampwarden.schedule_files import list_schedules, read_schedule
from rampwarden.toml_files import bounded_toml

_HOLD = "30 min"
Answer = TypeVar("Answer")


@dataclass(frozen=True, slots=True)
class NewSchedule:
    """What was given on the command line; None and empty where nothing was."""

    crucible: str | None
    crucible_class: CrucibleClass | None
    heat: HeatNumber | None
    top: str | None
    hold: str | None
    limits: tuple[str, ...]
    oven: bool | None
    asks: bool | None
    title: str | None
    config: Path | None
    register: str | None


@dataclass(frozen=True, slots=True)
class _KnownCrucible:
    """What the register knows of a pot that a schedule needs."""

    mark: str = ""
    crucible_class: CrucibleClass | None = None
    sheet: str = ""
    limits: tuple[SheetLimit, ...] = ()
    top_c: float | None = None
    is_new: bool = True


def draft_file(file: Path, given: NewSchedule, *, ask: bool) -> Schedule:
    """Draft a schedule, write it to `file`, and give it as it would be watched; never writes over a file."""
    if file.exists():
        raise ScheduleError(f"{file}: is there already; give another name, or change it with an editor")
    text = draft_schedule(_wishes(given, ask=ask))
    schedule = parse_schedule(bounded_toml(text.encode()), str(file))
    write_new(file, text)
    return schedule


def write_new(file: Path, text: str) -> None:
    """Write a file that is not there yet; raises `ScheduleError` where it cannot be."""
    try:
        with file.open("x", encoding="utf-8") as stream:
            stream.write(text)
    except FileExistsError:
        raise ScheduleError(f"{file}: is there already; give another name") from None
    except OSError as error:
        raise ScheduleError(f"{file}: cannot write: {error.strerror}") from error


def _wishes(given: NewSchedule, *, ask: bool) -> DraftWishes:
    pot = _known_crucible(given)
    asked = _Asking(ask)
    crucible_class = given.crucible_class or pot.crucible_class
    if crucible_class is None:
        crucible_class = asked.answer("Class of the crucible", _class, "--class", choices=tuple(CrucibleClass))
    heat = given.heat
    if heat is None:
        usual_heat = HeatNumber.FIRST if pot.is_new else HeatNumber.LATER
        heat = asked.answer("Its first heat, or a later one?", _heat, "--heat", str(usual_heat))
    top_c = _given(given.top, parse_temperature, "--top")
    if top_c is None:
        top_c = asked.answer("Working temperature, such as 1150 C", parse_temperature, "--top")
    soak_s = _given(given.hold, parse_duration, "--hold")
    if soak_s is None:
        soak_s = asked.answer("How long to hold it", parse_duration, "--hold", _HOLD)
    limits = tuple(_given(text, parse_sheet_limit, "--limit") for text in given.limits) or pot.limits
    if not limits and ask:
        limits = asked.limits()
    usual, usual_name = usual_schedule(crucible_class, heat)
    oven = given.oven
    if oven is None:
        oven = heat is HeatNumber.FIRST and asked.yes(
            "Does it dry in an oven first, to be carried to the furnace then?"
        )
    asks = given.asks
    if asks is None:
        asks = asked.yes("A checklist before lighting, and a question about mist while drying?", usual=True)
    made_on = datetime.now(UTC).date().isoformat()
    wishes = DraftWishes(
        title=given.title or f"{pot.mark or crucible_class}, {heat} heat to {top_c:g} °C",
        top_c=top_c,
        soak_s=soak_s,
        crucible_class=str(crucible_class),
        heat=heat,
        in_oven=oven,
        asks=asks,
        sheet=pot.sheet or f"the sheet as entered {made_on}",
        sheet_top_c=pot.top_c,
        limits=tuple(limit for limit in limits if limit is not None),
    )
    return replace(wishes, **wishes_of_usual(usual, usual_name, heat, top_c))  # type: ignore[arg-type]  # fields of it


def usual_schedule(crucible_class: CrucibleClass, heat: HeatNumber) -> tuple[Schedule | None, str]:
    """Give the generic schedule that fits a class and heat best, and its name; None where there is none."""
    found: list[tuple[bool, str, Schedule]] = []
    for path in list_schedules():
        try:
            schedule, _ = read_schedule(path)
        except ScheduleError:
            continue
        if schedule.crucible_class == crucible_class and schedule.heat in (heat, None):
            # One that bears the class's own name is the more general.
            found.append((not path.stem.startswith(str(crucible_class)), path.stem, schedule))
    if not found:
        return None, ""
    _, name, schedule = min(found, key=lambda each: each[:2])
    return schedule, name


def _known_crucible(given: NewSchedule) -> _KnownCrucible:
    if given.crucible is None:
        return _KnownCrucible()
    # Settings and register are loaded for whoever names a crucible, and for nobody else.
    from rampwarden.cli.crucibles.options import open_register  # noqa: PLC0415
    from rampwarden.plan import class_named  # noqa: PLC0415

    with open_register(given.config, given.register) as books:
        known, history = books.crucible(given.crucible), books.history(given.crucible)
    return _KnownCrucible(
        known.mark,
        class_named(known.crucible_class),
        known.sheet_id,
        tuple(parse_sheet_limit(text) for text in known.sheet),
        known.sheet_top_c,
        is_new=history.heats == 0 and not known.first_used,
    )


def _given(text: str | None, parse: Callable[[str], Answer], flag: str) -> Answer | None:
    """Read what was given by a flag; None where nothing was."""
    if text is None:
        return None
    try:
        return parse(text)
    except QuantityError as error:
        raise ScheduleError(f"{flag} {error}") from None


def _class(text: str) -> CrucibleClass:
    return _one_of(CrucibleClass, text)


def _heat(text: str) -> HeatNumber:
    return _one_of(HeatNumber, text)


def _one_of(choices: type[Answer], text: str) -> Answer:
    try:
        return choices(text.strip().lower())  # type: ignore[call-arg]  # an enumeration of words
    except ValueError:
        names = ", ".join(str(choice) for choice in choices)  # type: ignore[attr-defined]
        raise ScheduleError(f"{text!r} is none of: {names}") from None


class _Asking:
    """Asks on a terminal; without one gives the usual answer, or refuses with the flag that would have said it."""

    def __init__(self, ask: bool) -> None:
        self._ask = ask

    def answer(
        self,
        question: str,
        parse: Callable[[str], Answer],
        flag: str,
        usual: str | None = None,
        choices: tuple[str, ...] = (),
    ) -> Answer:
        """Ask until the answer can be read."""
        if not self._ask:
            if usual is None:
                raise ScheduleError(f"{flag} is missing, and there is no terminal to ask at: {question}")
            return parse(usual)
        if choices:
            say(f"{question}, one of: {', '.join(choices)}", to_errors=True)
        while True:
            try:
                return parse(typer.prompt(question, default=usual, err=True))
            except RampwardenError as error:
                say(f"  {error}", to_errors=True)

    def yes(self, question: str, *, usual: bool = False) -> bool:
        """Ask for yes or no; no where nobody can be asked."""
        return self._ask and typer.confirm(question, default=usual, err=True)

    def limits(self) -> tuple[SheetLimit, ...]:
        """Ask for the ramps of the maker's sheet, one at a time, until an empty line."""
        say("The ramps of the maker's sheet, one a line. Enter alone: no more. For example:", to_errors=True)
        say("  20-200 C: at most 30 C / h", to_errors=True)
        say("  cooling 900-200 C: at most 100 C / h", to_errors=True)
        found: list[SheetLimit] = []
        while True:
            text = typer.prompt("Ramp", default="", show_default=False, err=True).strip()
            if not text:
                return tuple(found)
            try:
                found.append(parse_sheet_limit(text))
            except RampwardenError as error:
                say(f"  {error}", to_errors=True)
