"""A heat that has ended goes into the register, and that can fail only in words. See `crucible`."""

from pathlib import Path

from rampwarden.assembly.crucible import asked_at_end
from rampwarden.assembly.register_place import register_place
from rampwarden.database import is_server
from rampwarden.errors import RampwardenError, RecordError, UnknownMarkError
from rampwarden.records import figures_of
from rampwarden.settings import Settings


def enter_heat(settings: Settings, mark: str, record: Path) -> tuple[str, bool]:
    """Enter a heat that has just been closed; gives what came of it in words, and whether all is well.

    Reads the whole record again, a few seconds for a day of readings.
    """
    of_shop = is_server(register_place(settings))
    try:
        mark = asked_at_end(settings, lambda books: books.crucible(mark).mark)
        figures = figures_of(record)
        if figures.account is None or not figures.was_heat:
            return f"not entered for {mark}: it was no heat: nothing was ever warm", True
        asked_at_end(settings, lambda books: books.enter(mark, figures, figures.account))
        later = "" if figures.rehearsal else "; once it is cold, weigh it and look at it: rampwarden crucible enter"
        return f"entered for {mark} · see: rampwarden crucible show {mark}{later}", True
    except RampwardenError as error:
        by_itself = of_shop and not isinstance(error, RecordError | UnknownMarkError)
        when = "when it answers it is entered by the next watch here, or by" if by_itself else "when that is mended"
        return f"not entered: {error}; {when}: rampwarden crucible enter {record}", False
