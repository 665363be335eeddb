"""The overview of `rampwarden listen` on a whole terminal: drawn once a second, with keys to choose and to search."""

import contextlib
import os
import re
import select
import sys
import termios
import time
import tty
from collections.abc import Iterator
from datetime import datetime

from rich.console import Console
from rich.live import Live

from rampwarden.core.model import CommandName
from rampwarden.shop import (
    Change,
    ChangeKind,
    CommandAnswer,
    Furnace,
    LinkChange,
    Listener,
    ShopBell,
    draw,
    in_order,
    line_of,
    overview,
)

# Drawn once a second: more would show nothing new and cost a core as the shop grows. What is urgent may come between.
_DRAWN_EVERY_S = 1.0
_DRAWN_AT_MOST_EVERY_S = 0.25
_PATIENCE_S = 0.25
# Where several things are missing, each is said for so long.
_SAID_FOR_S = 4.0
_LONGEST_SEARCH = 40
_ARROWS = {"\x1b[A": "up", "\x1b[B": "down", "k": "up", "j": "down"}
_ENDS_SEARCH, _DROPS_SEARCH, _TAKES_BACK = ("\r", "\n"), "\x1b", ("\x7f", "\b")
_KEYS = "↑ ↓ choose · / searches · a acknowledges all of its alarms · q ends"
_SEARCH_KEYS = "Enter keeps it · Esc ends it"


class ListenScreen:
    """The overview, until somebody ends it."""

    def __init__(self, console: Console, listener: Listener, bell: ShopBell) -> None:
        self._console = console
        self._listener = listener
        self._bell = bell
        self._trouble = "no connection yet"
        self._last_word = ""
        self._chosen = ""
        self._search = ""
        self._is_searching = False
        self._has_ended = False
        self._keys = sys.stdin.isatty()

    def run(self) -> None:
        """Show until somebody ends it."""
        with _cbreak(wanted=self._keys), Live(console=self._console, screen=True, auto_refresh=False) as live:
            drawn_s = float("-inf")
            is_urgent = False
            while not self._has_ended:
                is_urgent = self._take(self._listener.poll(_PATIENCE_S)) or is_urgent
                keys = _pressed(wanted=self._keys)
                for key in keys:
                    self.press(key)
                now_s = time.monotonic()
                due_s = drawn_s + (_DRAWN_AT_MOST_EVERY_S if is_urgent else _DRAWN_EVERY_S)
                if keys or now_s >= due_s:
                    drawn_s = now_s
                    # Values of what has come into view are there in a moment.
                    is_urgent = self._draw(live, now_s)

    def press(self, key: str) -> None:
        """Do what a key asks."""
        if self._is_searching:
            self._type(key)
            return
        key = _ARROWS.get(key, key)
        if key == "q":
            self._has_ended = True
        elif key == "/":
            self._is_searching = True
        elif key == _DROPS_SEARCH:
            self._search = ""
        elif key in ("up", "down", "a"):
            self._choose(key)

    def _draw(self, live: Live, now_s: float) -> bool:
        furnaces = self._listener.shop.furnaces
        self._bell.look(furnaces, now_s, self._trouble)
        width, height = self._console.size
        shown = overview(furnaces, now_s, height, self._search, self._chosen)
        has_changed = self._listener.show(shown.rows)
        lacking = self._listener.lacking()
        said = lacking[int(now_s / _SAID_FOR_S) % len(lacking)] if lacking else ""
        live.update(
            draw(shown, now_s, width, self._title(len(furnaces)), self._last_word, self._chosen, said), refresh=True
        )
        return has_changed

    def _title(self, count: int) -> str:
        asked = self._listener.asked
        parts = [f"{count:,} furnace{'' if count == 1 else 's'}", self._trouble or "listening"]
        parts += [f"{asked:,} answer{'' if asked == 1 else 's'} to come"] if asked else []
        parts += [f"{datetime.now():%H:%M:%S}"]
        if self._is_searching or self._search:
            parts.insert(0, f"search: {self._search}{'▏' if self._is_searching else ''}")
        if self._keys:
            return " · ".join([*parts, _SEARCH_KEYS if self._is_searching or self._search else _KEYS])
        return " · ".join([*parts, "Ctrl-C ends"])

    def _take(self, changes: list[Change | LinkChange | CommandAnswer]) -> bool:
        """Take note of changes; gives whether one of them should be seen at once."""
        is_urgent = False
        for change in changes:
            if isinstance(change, LinkChange):
                self._trouble = "" if change.is_up else line_of(change)
            else:
                self._last_word = line_of(change) or self._last_word
            is_urgent = is_urgent or not isinstance(change, Change) or change.kind is ChangeKind.ALARMS
        return is_urgent

    def _type(self, key: str) -> None:
        if key in _ENDS_SEARCH or key == _DROPS_SEARCH:
            self._is_searching = False
            self._search = "" if key == _DROPS_SEARCH else self._search
        elif key in _TAKES_BACK:
            self._search = self._search[:-1]
        elif key.isprintable() and len(self._search) < _LONGEST_SEARCH:
            self._search += key

    def _choose(self, key: str) -> None:
        ordered = in_order(self._listener.shop.furnaces, time.monotonic())
        rows = [furnace for furnace in ordered if furnace.matches(self._search)]
        chosen = next((index for index, furnace in enumerate(rows) if furnace.base == self._chosen), -1)
        if key != "a" and rows:
            self._chosen = rows[max(0, min(len(rows) - 1, chosen + (1 if key == "down" else -1)))].base
        elif chosen >= 0:
            self._acknowledge(rows[chosen])
        else:
            self._last_word = "choose a furnace first, with the arrow keys"

    def _acknowledge(self, furnace: Furnace) -> None:
        why_not = self._listener.command(furnace, CommandName.ACKNOWLEDGE)
        self._last_word = why_not or f"acknowledgement sent to {furnace.device}"


@contextlib.contextmanager
def _cbreak(*, wanted: bool) -> Iterator[None]:
    """Let keys come one by one, and leave the terminal as it was."""
    if not wanted:
        yield
        return
    before = termios.tcgetattr(sys.stdin)
    try:
        tty.setcbreak(sys.stdin)
        yield
    finally:
        termios.tcsetattr(sys.stdin, termios.TCSADRAIN, before)


def _pressed(*, wanted: bool) -> list[str]:
    """Give the keys pressed since the last look; an input that has ended ends the overview."""
    if not wanted or not select.select([sys.stdin], [], [], 0)[0]:
        return []
    data = os.read(sys.stdin.fileno(), 256)
    if not data:
        return [_DROPS_SEARCH, "q"]
    return re.findall(r"\x1b\[[0-9;]*[A-Za-z~]|[\s\S]", data.decode(errors="replace"))
