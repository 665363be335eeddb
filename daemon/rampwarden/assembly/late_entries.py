"""What a shop's register or archive could not take when a heat ended, handed in as soon as it can be: each heat once.

Nothing is put by for it. The folder of the records says which heats there are, register and archive which of them they
have; so neither a crash nor a week without a server loses one, and the one that was entered in the moment the line
broke is not counted twice.
"""

import threading
from collections.abc import Callable
from functools import partial

from rampwarden.assembly.archive import hand_in_what_waits
from rampwarden.assembly.errand import Errand
from rampwarden.assembly.register_place import register_place
from rampwarden.assembly.waiting_records import waiting_to_be_entered
from rampwarden.database import is_server
from rampwarden.errors import RampwardenError, RegisterError, StoreError, UnknownMarkError
from rampwarden.plain_logs import structlog
from rampwarden.records import Register, figures_of, header_of
from rampwarden.settings import Settings

# A server that is being looked after comes back within minutes; one that is not costs a question an hour.
_FIRST_PAUSE_S = 30.0
_LONGEST_PAUSE_S = 3600.0
# What is left at the end of a watch is a thread that the process takes with it.
_PATIENCE_S = 0.5


def has_late_entries(settings: Settings) -> bool:
    """Tell whether anything of this furnace is handed in to others: a register in a file is entered by hand."""
    return settings.archive.enabled or is_server(register_place(settings))


class LateEntries(Errand):
    """Hands in what waits, in a thread of its own that nobody waits for; ends when nothing waits any more."""

    def __init__(self, settings: Settings, first_pause_s: float = _FIRST_PAUSE_S) -> None:
        self._settings = settings
        self._pause_s = first_pause_s
        super().__init__("late entries", self._run, _PATIENCE_S)

    def _run(self, stop: threading.Event) -> None:
        errands = [partial(self._archive, stop)] if self._settings.archive.enabled else []
        if is_server(register_place(self._settings)):
            errands.append(partial(self._register, stop))
        while errands and not stop.is_set():
            errands = [errand for errand in errands if not self._succeeds(errand)]
            if errands:
                stop.wait(self._pause_s)
                self._pause_s = min(2.0 * self._pause_s, _LONGEST_PAUSE_S)

    def _succeeds(self, errand: Callable[[], None]) -> bool:
        try:
            errand()
        except StoreError:
            # Said at the start of the watch already, and at its end if it still does not answer.
            return False
        return True

    def _register(self, stop: threading.Event) -> None:
        for sentence in enter_what_waits(self._settings, stop.is_set):
            structlog.get_logger().info(sentence)

    def _archive(self, stop: threading.Event) -> None:
        log = structlog.get_logger()
        for path, what, is_well in hand_in_what_waits(self._settings, stop.is_set):
            log.info(f"{path.name}: archived late" if is_well else f"not archived: {what}")


def enter_what_waits(settings: Settings, is_over: Callable[[], bool]) -> list[str]:
    """Enter every heat of the folder that waits; gives what came of each in words.

    Raises `RegisterError` when the register cannot be used. A record that cannot be is left to who looks after it.
    """
    done: list[str] = []
    with Register.open(register_place(settings)) as books:
        for path in waiting_to_be_entered(settings, books.entered()):
            if is_over():
                break
            try:
                mark = books.crucible(header_of(path).crucible).mark
                figures = figures_of(path)
            except UnknownMarkError:
                continue
            except RegisterError:
                raise
            except RampwardenError as error:
                done.append(f"not entered: {error}")
                continue
            if figures.was_heat and books.enter(mark, figures, figures.account):
                done.append(f"{path.name}: entered late for {mark}")
    return done
