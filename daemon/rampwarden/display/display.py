"""The display on a terminal: draws the picture, takes keys, and keeps out of everybody's way.

Policy. One worker draws and reads keys; the watch never waits for it. It draws when something has changed, at most four
times a second, and each second for the clocks; a terminal that does not take a frame misses it. A defect in the drawing
ends that drawing: the worker is started again, and says so. While the terminal belongs to a shell (Ctrl-Z,
or in the background) nothing is drawn.
"""

import codecs
import threading
import time
from collections import deque
from collections.abc import Callable
from datetime import datetime
from typing import Protocol

from rich.console import Console
from rich.text import Text

from rampwarden.core.model import Notice
from rampwarden.display.degrees import Degrees
from rampwarden.display.keys import RAREST
from rampwarden.display.layout import Surroundings, lay_out
from rampwarden.display.screen import TerminalScreen
from rampwarden.display.terminal_style import Looks
from rampwarden.outputs.worker import Worker, tell_nobody
from rampwarden.picture import Picture, PictureKeeper

_LEAST_BETWEEN_S = 0.25
_CLOCK_S = 1.0
# Soon enough for a key, and for whoever resizes the window.
_KEY_WAIT_S = 0.25
_TYPED_BETWEEN_S = 0.04
# A kernel's message or a stray line across the screen stands no longer than this.
_WHOLE_EVERY_S = 10.0
_BEGUN_SEQUENCES = (b"\x1b", b"\x1b[", b"\x1bO")
_SEQUENCE_WAIT_S = 0.05
_AWAY_S = 0.5
_HALTED = b"halted: nothing is watched until it goes on (fg)\r\n"
_PAUSE_WITHIN_S = 1.0
_END_WITHIN_S = 1.5


class Keys(Protocol):
    """What typed characters mean; the display only asks what to show of it."""

    @property
    def said(self) -> str:
        """What was done last, in words."""

    def take(self, text: str) -> None:
        """Take what was typed."""

    def help(self) -> list[tuple[str, str]]:
        """Give the keys that do something now, each with what it does."""

    def question(self) -> str:
        """Give the line being typed; empty when none is."""

    @property
    def degrees(self) -> Degrees:
        """In what temperatures are shown."""

    @property
    def offers_much(self) -> bool:
        """Whether each of the keys must be seen, on several lines if one is too short."""


class LogTail(Protocol):
    """The last sentences of the log, newest last, and how many there were. `taken_over`: they are shown here alone."""

    lines: deque[str]
    count: int
    taken_over: bool


class Display:
    """Shows one keeper's picture on one screen."""

    def __init__(
        self, screen: TerminalScreen, keeper: PictureKeeper, looks: Looks, keys: Keys, recent: LogTail
    ) -> None:
        self._screen = screen
        self._keeper = keeper
        self._looks = looks
        self._keys = keys
        self._recent = recent
        # Only asked how a style is written; nothing goes through it.
        self._console = Console(color_system=None, width=1000)
        self._closing = threading.Event()
        self._paused = threading.Event()
        self._is_paused = threading.Event()
        self._worker: Worker | None = None
        self._size = (0, 0)
        self._drawn: tuple[int, int] = (-1, -1)
        self._drawn_s = self._whole_s = -1e9
        self._typed = False

    def start(self, hear: Callable[[Notice], None] = tell_nobody) -> None:
        """Take the terminal over; `hear` is told should the drawing die and start again."""
        self._recent.taken_over = True
        self._worker = Worker("display", self._work, hear)
        self._worker.start()

    def close(self) -> None:
        """Give the terminal back, as it was."""
        self._closing.set()
        if self._worker is not None:
            self._worker.end(within_s=_END_WITHIN_S)
        self._screen.close()
        self._recent.taken_over = False

    def pause(self) -> None:
        """Give the terminal back for a while: the process is about to be halted."""
        self._paused.set()
        if not self._is_paused.wait(_PAUSE_WITHIN_S):
            self._screen.leave(_HALTED)

    def resume(self) -> None:
        """Take the terminal over again, as soon as it is ours."""
        self._is_paused.clear()
        self._paused.clear()

    def _work(self) -> None:
        decoder = codecs.getincrementaldecoder("utf-8")(errors="replace")
        # A former life may have ended in the middle of a frame.
        self._screen.clear()
        while not self._closing.is_set():
            if not self._has_terminal():
                self._closing.wait(_AWAY_S)
                continue
            data = self._screen.read_keys(_TYPED_BETWEEN_S if self._typed else _KEY_WAIT_S)
            if data.endswith(_BEGUN_SEQUENCES):
                # A slow line brings a cursor key in pieces.
                data += self._screen.read_keys(_SEQUENCE_WAIT_S)
            if data:
                self._keys.take(decoder.decode(data))
                self._typed = True
            self._draw_if_due()
        self._screen.leave()

    def _has_terminal(self) -> bool:
        """Take the terminal over when it is ours, and leave it alone when it is not."""
        screen = self._screen
        if self._paused.is_set():
            screen.leave(_HALTED)
            self._is_paused.set()
            return False
        if screen.gone or not screen.in_foreground:
            return False
        if not screen.entered:
            screen.enter()
            self._drawn = (-1, -1)
        return True

    def _draw_if_due(self) -> None:
        now_s = time.monotonic()
        picture = self._keeper.picture()
        size = self._screen.size()
        news = (picture.number, self._recent.count) != self._drawn or size != self._size
        since_s = now_s - self._drawn_s
        due_s = _TYPED_BETWEEN_S if self._typed else _LEAST_BETWEEN_S if news else _CLOCK_S
        # Waking a little early must not put a drawing off by a whole wait.
        if since_s < 0.9 * due_s:
            return
        if size != self._size:
            self._size = size
            self._screen.clear()
        whole = now_s - self._whole_s >= _WHOLE_EVERY_S
        if self._screen.show(self._frame(picture, now_s, *size), whole=whole):
            self._drawn = (picture.number, self._recent.count)
            self._drawn_s, self._typed = now_s, False
            self._whole_s = now_s if whole else self._whole_s

    def _frame(self, picture: Picture, now_s: float, width: int, height: int) -> list[bytes]:
        around = Surroundings(
            now_s, datetime.now().astimezone(), tuple(self._recent.lines), self._bottom(width), self._keys.degrees
        )
        # The last cell of a line is left alone: some terminals move on to the next when it is written.
        lines = lay_out(picture, around, width - 1, height, self._looks)
        return [self._looks.encode(line, self._console) for line in lines]

    def _bottom(self, width: int) -> Text:
        """The line of keys, or what is being typed."""
        looks, keys = self._looks, self._keys
        help_width = sum(len(key) + len(what) + 3 for key, what in keys.help()) - 1
        line = looks.text(" ")
        question = keys.question()
        if help_width >= width and keys.offers_much and not question:
            return _in_lines(looks, keys.help(), width)
        if question:
            room = max(10, width - help_width - 4)
            line.append_text(looks.text(f" {question[-room:]} ", "mode")).append("  ")
        elif keys.said and len(keys.said) + help_width + 4 < width:
            line.append_text(looks.text(f" {keys.said} ", "mode")).append("  ")
        tight = help_width >= width
        # On a narrow screen the rarest key gives its place to those that must be found in a hurry.
        shown = [each for each in keys.help() if not (tight and each == RAREST)]
        for index, (key, what) in enumerate(shown):
            line.append("" if index == 0 else " " if tight else "  ")
            line.append_text(looks.text(key, "key")).append(f" {what}")
        return line


def _in_lines(looks: Looks, keys: list[tuple[str, str]], width: int) -> Text:
    """Give the keys on as many lines as they need, none of them parted from what it does."""
    lines, used = [looks.text(" ")], 1
    for key, what in keys:
        columns = len(key) + len(what) + 3
        if used > 1 and used + columns > width:
            lines.append(looks.text(" "))
            used = 1
        lines[-1].append_text(looks.text(key, "key")).append(f" {what}  ")
        used += columns
    return Text("\n").join(lines)
