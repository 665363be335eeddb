"""Outputs a watch does without: what cannot be had, or must not be used, costs itself and nothing else, and is said.

A fresh heat is refused for a setting that cannot work, since whoever starts it stands there and relies on it. A heat
that is under way goes on without, and so does any where a secret lies open: a password that everybody on the computer
can read is no reason to leave a furnace unwatched, and none to use it either.
"""

from collections.abc import Callable
from typing import TypeVar

from rampwarden.errors import OpenSecretError, SettingsError

_Made = TypeVar("_Made")


class SparedOutputs:
    """Makes outputs or does without; `sentences` say which are off and why. `is_under_way`: the heat has begun."""

    def __init__(self, *, is_under_way: bool) -> None:
        self.sentences: list[str] = []
        self._is_under_way = is_under_way

    def make(self, what: str, build: Callable[[], _Made]) -> _Made | None:
        """Give what `build` gives, or None where the heat does without it; raises `SettingsError` where it may not."""
        try:
            return build()
        except OpenSecretError as error:
            self.sentences.append(f"{what} is off: {error}")
        except SettingsError as error:
            if not self._is_under_way:
                raise
            self.sentences.append(f"{what} is off: {error}")
        return None
