"""The picture drawn on a terminal, and the keys that answer it."""

from rampwarden.display.degrees import Degrees
from rampwarden.display.display import Display, Keys
from rampwarden.display.keys import ReplayKeys, WatchKeys
from rampwarden.display.screen import Abilities, TerminalScreen, terminal_abilities
from rampwarden.display.terminal_style import Looks, has_blocks

__all__ = [
    "Abilities",
    "Degrees",
    "Display",
    "Keys",
    "Looks",
    "ReplayKeys",
    "TerminalScreen",
    "WatchKeys",
    "has_blocks",
    "terminal_abilities",
]
