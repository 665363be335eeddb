"""A reload: settings that cannot be read are said on every output, not in the log alone."""

import threading
from collections.abc import Callable

import pytest

from rampwarden.assembly.reload import Reload
from rampwarden.errors import SettingsError
from rampwarden.sd_notify import ServiceNotifier
from rampwarden.settings import Settings

STAY = "settings not read again, the old ones stay"


class Announced(ServiceNotifier):
    """A notifier that tells when a reload is over."""

    def __init__(self) -> None:
        super().__init__("", lambda: True)
        self.over = threading.Event()

    def reloaded(self) -> None:
        super().reloaded()
        self.over.set()


def refused() -> Settings:
    raise SettingsError("a.toml: unknown key x\na.toml: unknown key y")


def broken() -> Settings:
    raise ZeroDivisionError


@pytest.mark.parametrize(
    ("reread", "words"),
    [
        (
            refused,
            f"{STAY}: a.toml: unknown key x (and 1 more: see rampwarden settings)",
        ),
        (broken, f"{STAY}: unexpected ZeroDivisionError"),
        (Settings, None),
    ],
)
def test_what_went_wrong_with_a_reload_is_said_on_every_output(
    reread: Callable[[], Settings], words: str | None
) -> None:
    """Whoever asked for it may look at a page, and thinks that the new settings hold."""
    said: list[str] = []
    notifier = Announced()
    reload = Reload(Settings(), reread, lambda: None, lambda _seconds: None, notifier, said.append)
    reload.start()
    reload.ask()
    assert notifier.over.wait(30.0)
    reload.close()
    notifier.close()
    assert said == ([] if words is None else [words])
