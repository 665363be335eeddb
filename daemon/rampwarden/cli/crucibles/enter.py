"""`rampwarden crucible enter`: heats from their records into the register, each of them once."""

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.assembly.register_place import register_place
from rampwarden.assembly.waiting_records import waiting_to_be_entered
from rampwarden.cli import questions
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.crucibles.options import (
    JsonOption,
    RegisterOption,
    print_json,
    register_settings,
)
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.core.schedule import COLD_C
from rampwarden.core.written_numbers import parse_number
from rampwarden.errors import AmbiguousNumberError, QuantityError, RampwardenError, RecordError, RegisterError
from rampwarden.records import Register, RegisteredHeat, header_of, record_id, writer_of
from rampwarden.schedule_files import find_schedule, read_schedule
from rampwarden.settings import Settings
from rampwarden.terminal_text import printable

# Whoever ends a watch waits no longer than this for a register that others hold, s.
_AT_END_S = 1.0
_MASS = re.compile(r"(\S.*?)\s*(kg|g)?", re.IGNORECASE)


def enter(
    records: Annotated[
        list[Path] | None, typer.Argument(help="Heat records; none: all that wait in the folder.", show_default=False)
    ] = None,
    mark: Annotated[str | None, typer.Option("--crucible", help="Its mark, if the record has none.")] = None,
    mass_kg: Annotated[float | None, typer.Option(help="What the pot weighed afterwards, kg.")] = None,
    look: Annotated[
        str | None, typer.Option(help="What was seen of it afterwards; kept beside the heat, and clears nothing.")
    ] = None,
    schedule: Annotated[Path | None, typer.Option(help="For a record that carries no schedule.")] = None,
    questions_asked: Annotated[
        bool, typer.Option("--questions/--no-questions", help="Ask for mass and look, on a terminal.")
    ] = True,
    again: Annotated[bool, typer.Option("--again", help="Even if it has been entered, perhaps elsewhere.")] = False,
    as_json: JsonOption = False,
    config: ConfigOption = None,
    register: RegisterOption = None,
) -> int:
    """Enter heats from their records, each once; on a terminal it asks what the pots weigh and look like by now."""
    settings = register_settings(config, register)
    if not records and (mark or mass_kg is not None or look is not None):
        raise RecordError("which heat? Name its record, as in: rampwarden crucible enter RECORD --look 'no crack'")
    ask = questions_asked and mass_kg is None and look is None and not as_json and questions.can_ask()
    done: list[dict[str, object]] = []
    status = FINE
    with Register.open(register_place(settings)) as books:
        chosen = records or list(waiting_to_be_entered(settings, books.entered()))
        for record in chosen:
            try:
                entered = _enter(books, record, mark, schedule, again=again)
                if mass_kg is not None or look is not None:
                    books.note_afterwards(str(entered["record_id"]), mass_kg, look)
            except RampwardenError as error:
                if len(chosen) == 1:
                    raise
                # One that cannot be entered is no reason to leave the others.
                typer.echo(f"rampwarden: {printable(str(error))}", err=True)
                status = FOUND_SOMETHING
                continue
            done.append(entered)
            if not as_json:
                noted = " · mass and look noted" if mass_kg is not None or look is not None else ""
                print(printable(f"{record}: {entered['outcome']} for {entered['mark']}{noted}"))
        asked = _ask_what_was_seen(books, done, named=bool(records)) if ask else 0
    if as_json:
        print_json(entered=done)
    elif not chosen and not asked:
        print("no heat waits to be entered")
    return status


def _enter(books: Register, record: Path, mark: str | None, schedule: Path | None, *, again: bool) -> dict[str, object]:
    """Enter one record; gives what came of it."""
    from rampwarden.records import figures_of  # noqa: PLC0415 (a list of what waits does without the monitor)

    holder = writer_of(record)
    if holder is not None:
        raise RecordError(f"{record}: is being written by {holder}; enter it when the heat has ended")
    header = header_of(record)
    wanted = mark or header.crucible
    if not wanted:
        raise RecordError(f"{record}: names no crucible; say which: --crucible MARK")
    # The mark first: to read a long record for nothing would be a pity.
    wanted = books.crucible(wanted).mark
    number = record_id(record, header)
    known = books.entry(number)
    if known is not None and not again:
        owner, closed = known
        if owner != wanted and mark is not None:
            raise RegisterError(f"{record}: has been entered for {owner}; --again enters it for {wanted} instead")
        if closed:
            return _outcome(record, number, owner, "has been entered already")
        wanted = owner
    figures = figures_of(record, read_schedule(find_schedule(schedule))[0] if schedule else None)
    if not figures.was_heat:
        # By whatever door: a false start dries and fires nothing, and must not make a new pot one in use.
        raise RecordError(f"{record}: was no heat: nothing was ever warm; there is nothing to enter for {wanted}")
    if known is not None and again:
        books.enter_again(wanted, figures, figures.account)
        return _outcome(record, number, wanted, "entered again")
    done = books.enter(wanted, figures, figures.account)
    return _outcome(record, number, wanted, "entered" if done else "has been entered already")


def _ask_what_was_seen(books: Register, done: Sequence[dict[str, object]], *, named: bool) -> int:
    """Ask for mass and look of the heats just entered, and, unless records were `named`, of every pot's last heat."""
    entered = {str(each["record_id"]): str(each["mark"]) for each in done}
    unseen = [] if named else list(unseen_heats(books))
    heats = [heat for mark in {*entered.values()} for heat in books.heats(mark)] + [heat for _, heat in unseen]
    told = {heat.figures.record_id: heat.figures for heat in heats}
    asked = entered | {heat.figures.record_id: mark for mark, heat in unseen}
    for number, mark in asked.items():
        figures = told[number]
        typer.echo(printable(f"{mark}, heat of {figures.started[:10]}: {figures.title}"), err=True)
        mass_kg = questions.answer_or_none(
            "  What does it weigh now, cold? (3.38 kg; Enter: not weighed)", parse_mass_kg
        )
        look = questions.answer_or_none("  What does it look like? (even ring, no crack; Enter: not looked at)", str)
        if mass_kg is not None or look is not None:
            books.note_afterwards(number, mass_kg, look)
            print(printable(f"{mark}: noted"))
    return len(asked)


def ask_after_heat(settings: Settings, record: Path) -> None:
    """Ask what the pot of a heat that has just ended weighs and looks like, if it is cold.

    A false start is not entered, and of it nothing is asked. Raises `RegisterError`.
    """
    number = record_id(record, header_of(record))
    with Register.open(register_place(settings), patience_s=_AT_END_S) as books:
        known = books.entry(number)
        if known is None:
            return
        account = next(each for each in books.heats(known[0]) if each.figures.record_id == number).account
        closed_c = None if account is None else account.closed_c
        # Of a hot one it has been said already who asks later, where its heat was entered.
        if closed_c is not None and closed_c <= COLD_C:
            _ask_what_was_seen(books, [_outcome(record, number, known[0], "entered")], named=True)


def unseen_heats(books: Register) -> Iterator[tuple[str, RegisteredHeat]]:
    """Give the last true heat of each pot in use of which nobody has told what it weighed or looked like afterwards."""
    for known, history in books.crucibles():
        if known.retired or not history.heats:
            continue
        last = [heat for heat in books.heats(known.mark) if not heat.figures.rehearsal][-1]
        if last.mass_after_kg is None and not last.look:
            yield known.mark, last


def parse_mass_kg(text: str) -> float:
    """Read a pot's mass, kg, such as ``3.38 kg``, ``3,38`` or ``3380 g``; raises `QuantityError`."""
    found = _MASS.fullmatch(text.strip())
    if found is None:
        raise QuantityError(f"{text!r} is not a mass such as '3.38 kg' or '3380 g'")
    try:
        value = parse_number(found[1])
    except AmbiguousNumberError as error:
        unit = found[2] or "kg"
        raise AmbiguousNumberError(f"{text!r}", *(f"{reading} {unit}" for reading in error.readings)) from None
    kg = value / 1000.0 if (found[2] or "kg").lower() == "g" else value
    if not 0.01 <= kg <= 2000.0:
        raise QuantityError(f"{text!r}: must lie between 0.01 and 2000 kg; is the unit right?")
    return kg


def _outcome(record: Path, number: str, mark: str, outcome: str) -> dict[str, object]:
    return {"record": str(record), "record_id": number, "mark": mark, "outcome": outcome}
