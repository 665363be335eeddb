"""Buttons at the furnace: what each does, from a device of their own or as keys of the display."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from rampwarden.core.model import Command, CommandName, Notice, NoticeName
from rampwarden.outputs.worker import Worker
from rampwarden.settings import Settings, key_code
from rampwarden.sources import ButtonDevice

_BY = "button"
_END_WITHIN_S = 1.0


class Buttons:
    """Hears the device of the settings, if there is one, and tells the watch what each press means."""

    def __init__(self, settings: Settings) -> None:
        section = settings.buttons
        self._path, self._alone = section.device, section.alone
        self._acknowledge = {key_code(name) for name in section.acknowledge}
        self._marks = {key_code(name): text for name, text in section.marks.items()}
        self._device: ButtonDevice | None = None
        self._worker: Worker | None = None

    def start(self, hear: Callable[[Command | Notice], None]) -> None:
        """Begin; `hear` is told of each press, and of a device that is away."""
        if not self._path:
            return

        def press(code: int) -> None:
            if (command := self.command_of(code)) is not None:
                hear(command)

        def say(trouble: str) -> None:
            hear(Notice(0.0, NoticeName.OUTPUT_FAILING, text=trouble))

        self._device = ButtonDevice(Path(self._path), press, say, alone=self._alone)
        self._worker = Worker("buttons", self._device.run, hear)
        self._worker.start()

    def command_of(self, code: int) -> Command | None:
        """Give what a key means: its mark, or to acknowledge, as every other key does where none is named for it."""
        if code in self._marks:
            return Command(0.0, CommandName.MARK, text=self._marks[code], by=_BY)
        if code in self._acknowledge or not self._acknowledge:
            return Command(0.0, CommandName.ACKNOWLEDGE, by=_BY)
        return None

    def close(self) -> None:
        """End."""
        if self._device is not None and self._worker is not None:
            self._device.close()
            self._worker.end(_END_WITHIN_S)


@contextmanager
def heard_buttons(settings: Settings, hear: Callable[[Command | Notice], None]) -> Iterator[Buttons]:
    """Hear the buttons of the settings for a while."""
    buttons = Buttons(settings)
    buttons.start(hear)
    try:
        yield buttons
    finally:
        buttons.close()


def display_buttons(settings: Settings) -> Mapping[str, str]:
    """Give the marks of keys of the display, and the keys that acknowledge there with an empty one.

    With a device of their own the display's keys stay what they are.
    """
    section = settings.buttons
    if section.device:
        return {}
    typed = {name: " " if name == "space" else name for name in (*section.acknowledge, *section.marks)}
    return {typed[name]: section.marks.get(name, "") for name in typed}
