"""What is said to a running watch in the plainest way, a command and a few plain words, is called outright.

Somebody stands at a hot furnace, and all that options, help and mistakes need takes longer to load than the bell takes
to fall silent. Whatever has an option, or a word too many or too few, is left to `application`, so that no mistake and
no help has two wordings.
"""

from collections.abc import Callable
from functools import partial
from importlib import import_module
from math import inf
from typing import NamedTuple


class _Plain(NamedTuple):
    """The module and name of what does it, and how many words it takes."""

    module: str
    name: str
    fewest: int = 0
    most: float = 0


_CALLS = {
    "--version": _Plain("version", "print_version"),
    "status": _Plain("during.standing", "status"),
    "acknowledge": _Plain("during.telling", "acknowledge", 0, 1),
    "note": _Plain("during.telling", "note", 1, inf),
    "mark": _Plain("during.telling", "mark", 1, inf),
    "answer": _Plain("during.telling", "answer", 1, inf),
}


def plain_call(arguments: list[str]) -> Callable[[], object] | None:
    """Give what carries a plain command out; None where it takes more to read it."""
    plain = _CALLS.get(arguments[0]) if arguments else None
    words = arguments[1:]
    if plain is None or not plain.fewest <= len(words) <= plain.most or any(word.startswith("-") for word in words):
        return None
    return partial(getattr(import_module(f"rampwarden.cli.{plain.module}"), plain.name), *words)
