"""Where the bell rings."""

import os
import sys

from rampwarden.errors import SettingsError
from rampwarden.settings import Settings


def bell_descriptor(settings: Settings) -> int | None:
    """Give where the bell rings: the set device, else the terminal the watch runs in, else nowhere."""
    if not settings.bell.enabled:
        return None
    if settings.bell.device:
        place = f"bell.device = {settings.bell.device!r}: cannot ring there"
        try:
            # Not to wait for whoever is at the other end of a pipe or a line without carrier.
            descriptor = os.open(settings.bell.device, os.O_WRONLY | os.O_NOCTTY | os.O_NONBLOCK | os.O_CLOEXEC)
        except OSError as error:
            raise SettingsError(f"{place}: {error.strerror}") from error
        if not os.isatty(descriptor):
            os.close(descriptor)
            raise SettingsError(f"{place}: it is no terminal; give one such as /dev/tty1")
        return descriptor
    return sys.stdout.fileno() if sys.stdout.isatty() else None
