"""What makes itself heard at the furnace: the bell, the board's buzzer, and the voice."""

import shutil
from collections.abc import Callable, Sequence
from contextlib import ExitStack, closing

from rampwarden.core.model import Event, Notice
from rampwarden.errors import SettingsError
from rampwarden.outputs.bell import Bell
from rampwarden.outputs.buzzer import Buzzer
from rampwarden.outputs.speech import Speech, Voice, found_command
from rampwarden.service import Output
from rampwarden.settings import Settings


def voice_command(settings: Settings) -> tuple[str, ...] | None:
    """Give how to speak, None where nobody asked for a voice; raises `SettingsError` where there is none to be had."""
    if not settings.speech.enabled:
        return None
    command = settings.speech.command or found_command()
    if not command:
        raise SettingsError(
            "speech.enabled: neither spd-say nor espeak-ng is installed; install one of them, or set speech.command"
        )
    if shutil.which(command[0]) is None:
        raise SettingsError(f"speech.command: there is no program {command[0]!r}")
    return tuple(command)


class Audible:
    """Bell, buzzer and voice, as far as there are any; `descriptor` is where the bell rings, `command` how to speak."""

    def __init__(
        self, settings: Settings, descriptor: int | None, command: Sequence[str] | None, buzzer: Buzzer | None
    ) -> None:
        self._bell = None if descriptor is None else Bell(descriptor)
        fahrenheit = settings.speech.degrees == "F"
        self._speech = None if command is None else Speech(Voice(command), fahrenheit=fahrenheit)
        self._is_second = settings.bell.when == "unreached"
        self.outputs: list[Output] = [each for each in (self._bell, buzzer, self._speech) if each is not None]

    def start(self, hear: Callable[[Notice], None]) -> None:
        """Begin; `hear` is told of one that dies or fails."""
        for each in (self._bell, self._speech):
            if each is not None:
                each.start(hear)

    def note_reach(self, reached: bool) -> None:
        """Let a bell that is asked for only while nobody is reached over MQTT rest or ring."""
        if self._bell is not None and self._is_second:
            self._bell.rest(reached)

    def say_state(self) -> bool:
        """Say how the heat stands; false where there is no voice."""
        if self._speech is None:
            return False
        self._speech.ask()
        return True

    def tell_again(self, events: Sequence[Event]) -> None:
        """Sound what an earlier run left unacknowledged."""
        for event in events:
            for output in self.outputs:
                output.tell(event)

    def close(self) -> None:
        """Fall silent."""
        with ExitStack() as ending:
            for each in (self._bell, self._speech):
                if each is not None:
                    ending.enter_context(closing(each))
