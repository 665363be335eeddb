"""A terminal taken over for a whole screen, and given back as it was whatever happens.

Policy. Frames are written without waiting: what a terminal does not take at once waits here, at most one frame, and
further frames are dropped until it is through. So a terminal held with Ctrl-S, or a line slower than the picture, costs
the watch nothing. Only lines that changed are sent, as one write; a whole one now and then heals what others have
written across it. Giving back never waits long.

Knows escape sequences and terminal settings, nothing of what is shown. The sequences are those that a VT100 knows;
the alternate screen and the cursor's visibility come from the terminal's own description.
"""

import contextlib
import curses
import errno
import os
import select
import termios
import time
import tty
from collections.abc import Sequence
from dataclasses import dataclass

_RESTORE_WITHIN_S = 0.5
# The begin and end of an update that should be seen whole. A terminal that does not know them leaves them out.
_TOGETHER = (b"\x1b[?2026h", b"\x1b[?2026l")
# Plain consoles and real terminals on a line: they have been seen to show what they do not know.
_OLD = ("vt", "linux", "ansi", "dumb", "cons")
_NO_MORE = {errno.EIO, errno.ENXIO, errno.EBADF, errno.ENODEV}


@dataclass(frozen=True, slots=True)
class Abilities:
    """What a terminal's description says of it. `colours` is how many; the rest are its own sequences."""

    colours: int
    enter: bytes
    leave: bytes
    hide_cursor: bytes
    show_cursor: bytes
    together: tuple[bytes, bytes]


def terminal_abilities(name: str, descriptor: int) -> Abilities | None:
    """Look a terminal up by its name (TERM); None when it is not known, or cannot place its cursor as a VT100 does.

    The library keeps the first that was found: a process has one terminal.
    """
    try:
        curses.setupterm(name, descriptor)
    except curses.error:
        return None
    if not (curses.tigetstr("cup") or b"").startswith(b"\x1b["):
        return None

    def own(capability: str) -> bytes:
        # Padding for terminals of the seventies is written into some descriptions as $<…>.
        return (curses.tigetstr(capability) or b"").partition(b"$<")[0]

    return Abilities(
        colours=max(0, curses.tigetnum("colors")),
        enter=own("smcup"),
        leave=own("rmcup"),
        hide_cursor=own("civis"),
        show_cursor=own("cnorm"),
        together=(b"", b"") if name.startswith(_OLD) else _TOGETHER,
    )


class TerminalScreen:
    """A screen on descriptor `output`, with keys from `keyboard`. Used by one thread at a time."""

    def __init__(self, output: int, keyboard: int | None, abilities: Abilities) -> None:
        self._keyboard = keyboard
        self._abilities = abilities
        self._output, self._is_own = _reopened(output)
        self._before: list[object] | None = None
        self._shown: list[bytes] = []
        self._unsent = b""
        self.entered = False
        self.gone = False
        """Whether the terminal is no more: hung up, or unplugged."""

    @property
    def in_foreground(self) -> bool:
        """Whether the terminal is ours at the moment, and not the shell's."""
        try:
            return os.tcgetpgrp(self._output) == os.getpgrp()
        except OSError:
            # Not the terminal that controls us: nobody can put us in its background.
            return True

    def size(self) -> tuple[int, int]:
        """Give columns and rows; a line that does not know them has those of a VT100."""
        try:
            columns, rows = os.get_terminal_size(self._output)
        except OSError:
            columns = rows = 0
        return (columns or 80), (rows or 24)

    def enter(self) -> None:
        """Take the terminal over: keys come one by one and are not echoed, the cursor is hidden."""
        if self._keyboard is not None:
            with contextlib.suppress(termios.error, OSError):
                self._before = termios.tcgetattr(self._keyboard)
                tty.setcbreak(self._keyboard, termios.TCSANOW)
        abilities = self._abilities
        self._unsent += abilities.enter + abilities.hide_cursor + b"\x1b[0m\x1b[2J"
        self._shown = []
        self.entered = True
        self._send()

    def show(self, lines: Sequence[bytes], *, whole: bool = False) -> bool:
        """Show these lines, the first at the top; False when the terminal has not taken the ones before yet."""
        self._send()
        if self._unsent or self.gone:
            return False
        if whole or len(self._shown) != len(lines):
            self._shown = [b"\x00"] * len(lines)
        changed = [
            b"\x1b[%d;1H%b\x1b[0m\x1b[K" % (row + 1, line)
            for row, (line, before) in enumerate(zip(lines, self._shown, strict=True))
            if line != before
        ]
        self._shown = list(lines)
        if changed:
            begin, end = self._abilities.together
            self._unsent = begin + b"".join(changed) + end
            self._send()
        return True

    def clear(self) -> None:
        """Have the next frame drawn on an empty screen: its size has changed."""
        self._shown = []
        if self.entered and not self._unsent:
            self._unsent = b"\x1b[0m\x1b[2J"

    def read_keys(self, timeout_s: float) -> bytes:
        """Give what was typed, waiting up to `timeout_s` real seconds for it."""
        if self._keyboard is None:
            time.sleep(timeout_s)
            return b""
        try:
            if not select.select([self._keyboard], [], [], timeout_s)[0]:
                return b""
            data = os.read(self._keyboard, 1024)
        except (OSError, ValueError):
            data = b""
        if not data:
            # Nobody is at the other end any more, or it is not ours now: no reason to spin.
            time.sleep(timeout_s)
        return data

    def leave(self, last_words: bytes = b"") -> None:
        """Give the terminal back; a second time does nothing. Safe from another thread when its own is stuck."""
        if not self.entered:
            return
        self.entered = False
        abilities = self._abilities
        ending = abilities.leave or b"\x1b[2J\x1b[H"
        self._unsent += b"\x1b[0m" + abilities.show_cursor + ending + last_words
        until_s = time.monotonic() + _RESTORE_WITHIN_S
        self._send()
        if self._unsent and not self.gone:
            # Somebody has stopped it with Ctrl-S. A terminal left stopped on another screen is of no use to anybody.
            self._flow_again()
        while self._unsent and not self.gone and time.monotonic() < until_s:
            time.sleep(0.01)
            self._send()
        self._unsent = b""
        self._restore()

    def close(self) -> None:
        """Give the terminal back and let go of it."""
        self.leave()
        if self._is_own:
            os.close(self._output)
            self._is_own = False

    def _restore(self) -> None:
        if self._before is not None and self._keyboard is not None and self.in_foreground:
            with contextlib.suppress(termios.error, OSError):
                termios.tcsetattr(self._keyboard, termios.TCSANOW, self._before)  # type: ignore[arg-type]
        self._before = None

    def _flow_again(self) -> None:
        """Let output flow: Linux starts a stopped terminal when its flow control is switched off."""
        with contextlib.suppress(termios.error, OSError):
            settings = termios.tcgetattr(self._output)
            flowing = [*settings]
            flowing[0] = settings[0] & ~termios.IXON
            termios.tcsetattr(self._output, termios.TCSANOW, flowing)
            termios.tcsetattr(self._output, termios.TCSANOW, settings)

    def _send(self) -> None:
        while self._unsent and not self.gone:
            try:
                if not self._is_own and not select.select([], [self._output], [], 0)[1]:
                    return
                # A descriptor that others share may wait: then no more than it surely takes at once.
                sent = os.write(self._output, self._unsent if self._is_own else self._unsent[:256])
            except BlockingIOError:
                return
            except OSError as error:
                self.gone = error.errno in _NO_MORE
                return
            self._unsent = self._unsent[sent:]


def _reopened(descriptor: int) -> tuple[int, bool]:
    """Give the terminal opened anew, so that not to wait is our affair alone; the same one where that is refused."""
    try:
        again = os.open(os.ttyname(descriptor), os.O_WRONLY | os.O_NONBLOCK | os.O_NOCTTY | os.O_CLOEXEC)
    except OSError:
        return descriptor, False
    return again, True
