"""`rampwarden crucible enter`: heats from their records into the register, each of them once."""

from pathlib import Path
from typing import Annotated

import typer

from rampwarden.assembly.crucible import register_place
from rampwarden.assembly.entering import waiting_to_be_entered, was_heat
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.crucibles.options import (
    JsonOption,
    RegisterOption,
    print_json,
    register_settings,
)
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.errors import RampwardenError, RecordError, RegisterError
from rampwarden.records import Register, header_of, record_id, writer_of
from rampwarden.schedule_files import find_schedule, read_schedule
from rampwarden.terminal_text import printable


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
    again: Annotated[bool, typer.Option("--again", help="Even if it has been entered, perhaps elsewhere.")] = False,
    as_json: JsonOption = False,
    config: ConfigOption = None,
    register: RegisterOption = None,
) -> int:
    """Enter heats from their records; one that has been entered already is said and not counted twice."""
    settings = register_settings(config, register)
    if not records and (mark or mass_kg is not None or look is not None):
        raise RecordError("which heat? Name its record, as in: rampwarden crucible enter RECORD --look 'no crack'")
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
    if as_json:
        print_json(entered=done)
    elif not chosen:
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
    if not was_heat(figures):
        # By whatever door: a false start dries and fires nothing, and must not make a new pot one in use.
        raise RecordError(f"{record}: was no heat: nothing was ever warm; there is nothing to enter for {wanted}")
    if known is not None and again:
        books.enter_again(wanted, figures, figures.account)
        return _outcome(record, number, wanted, "entered again")
    done = books.enter(wanted, figures, figures.account)
    return _outcome(record, number, wanted, "entered" if done else "has been entered already")


def _outcome(record: Path, number: str, mark: str, outcome: str) -> dict[str, object]:
    return {"record": str(record), "record_id": number, "mark": mark, "outcome": outcome}
