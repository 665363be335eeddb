"""A heat that has ended goes into the register, and that can fail only in words. See `crucible`."""

from pathlib import Path

from rampwarden.assembly.crucible import register_path
from rampwarden.errors import RampwardenError
from rampwarden.records import Register, figures_of
from rampwarden.settings import Settings


def enter_heat(settings: Settings, mark: str, record: Path) -> tuple[str, bool]:
    """Enter a heat that has just been closed; gives what came of it in words, and whether all is well.

    Reads the whole record again, a few seconds for a day of readings.
    """
    try:
        with Register.open(register_path(settings)) as register:
            mark = register.crucible(mark).mark
            figures = figures_of(record)
            if figures.account is None or not figures.account.was_heat:
                return f"not entered for {mark}: it was no heat: nothing was ever warm", True
            register.enter(mark, figures, figures.account)
            return f"entered for {mark} · see: rampwarden crucible show {mark}", True
    except RampwardenError as error:
        return f"not entered: {error}; when that is mended: rampwarden crucible enter {record}", False
