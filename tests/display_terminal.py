"""Terminals to try the display at: a pseudo-terminal that may go unread, and tmux, a whole terminal. No test itself."""

import contextlib
import fcntl
import json
import os
import pty
import re
import select
import shlex
import shutil
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from command_line import PROGRAM, environment
from full_terminal import fill_terminal

PATIENCE_S = 30.0
SCHEDULE = """
title = "A heat to look at"
basis = "for tests"

[[segment]]
name = "drying"
kind = "ramp"
to = "220 C"
max_rate = "25 C / 5 min"
say = "Door ajar."

[[segment]]
name = "evening out"
kind = "soak"
at = "220 C"
hold = "500 h"
"""
TMUX = shutil.which("tmux")
_LAUNCHER = "import fcntl, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0); {before}from rampwarden.cli import run; run()"
_STEERING = re.compile(rb"\x1b\[[0-9;?]*[A-Za-z]")


def wait_until(condition: Callable[[], object], what: Callable[[], str]) -> None:
    """Wait for a condition; says `what` was there instead when it does not come in time."""
    until_s = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < until_s, what()
        time.sleep(0.03)


def rehearsal(record: Path, *options: str, speed: int = 600, fault: str = "fast-ramp") -> list[str]:
    """Give the arguments of a rehearsal that goes too fast while drying, and then holds for longer than any test."""
    schedule = record.parent / "heat.toml"
    schedule.write_text(SCHEDULE)
    return ["rehearse", str(schedule), "--speed", str(speed), "--fault", fault, "--record", str(record), *options]


def recorded(record: Path) -> list[dict[str, Any]]:
    """Give the whole lines of a record so far."""
    if not record.exists():
        return []
    whole, _, _ = record.read_bytes().rpartition(b"\n")
    return [json.loads(line) for line in whole.splitlines()]


class PtyTerminal:
    """A command of ours at a pseudo-terminal of its own; what it shows is read only when it is looked at."""

    def __init__(
        self,
        folder: Path,
        arguments: Sequence[str],
        term: str = "xterm-256color",
        size: tuple[int, int] = (100, 30),
        before: str = "",
        full: bool = False,
        **more: str,
    ) -> None:
        self._master, slave = pty.openpty()
        # A copy of the terminal's other end stays open: its settings can be looked at when the command is gone.
        self._slave = os.dup(slave)
        self.resize(*size)
        if full:
            fill_terminal(self._slave)
        self.before = termios.tcgetattr(self._slave)
        self.shown = b""
        self.process = subprocess.Popen(
            [sys.executable, "-c", _LAUNCHER.format(before=before), *arguments],
            cwd=folder,
            env=_terminal_environment(folder, {"TERM": term, **more}),
            stdin=slave,
            stdout=slave,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )
        os.close(slave)

    def resize(self, columns: int, rows: int) -> None:
        """Give the window another size."""
        fcntl.ioctl(self._slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def settings(self) -> list[Any]:
        """Give the terminal's settings as they are."""
        return termios.tcgetattr(self._slave)

    def look(self) -> bytes:
        """Read what has been shown, and give all of it."""
        while select.select([self._master], [], [], 0)[0]:
            try:
                self.shown += os.read(self._master, 65_536)
            except OSError:
                break
        return self.shown

    def text(self) -> str:
        """Give what has been shown without what steers the terminal."""
        return _STEERING.sub(b"", self.look()).decode(errors="replace")

    def await_text(self, wanted: str) -> None:
        """Wait until it has been shown."""
        wait_until(lambda: wanted in self.text(), lambda: f"{wanted!r} was not shown, but {self.text()[-2000:]!r}")

    def press(self, keys: bytes) -> None:
        """Press keys."""
        os.write(self._master, keys)

    def end(self, number: int | None = None, *, unread: bool = False, within_s: float = PATIENCE_S) -> int:
        """Wait for the end, perhaps after a signal, and read meanwhile as a terminal does; gives the exit status.

        `unread`: nobody reads. What is shown at the end may then be lost, for a watch never waits long for a terminal.
        """
        if number is not None:
            self.process.send_signal(number)
        if unread:
            return self.process.wait(within_s)
        until_s = time.monotonic() + within_s
        while self.process.poll() is None:
            assert time.monotonic() < until_s, f"it has not ended after {within_s} s"
            select.select([self._master], [], [], 0.03)
            self.look()
        return self.process.returncode

    def close(self) -> None:
        """Leave nothing running and nothing open."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        if self.process.stderr is not None:
            self.process.stderr.close()
        for descriptor in (self._master, self._slave):
            os.close(descriptor)


class TmuxTerminal:
    """A shell in tmux, which is a terminal of its own kind with a screen that can be captured."""

    def __init__(self, folder: Path, columns: int, rows: int) -> None:
        # A socket's path must be short.
        self._server = [str(TMUX), "-S", str(folder / "t"), "-f", "/dev/null"]
        size = ["-x", str(columns), "-y", str(rows)]
        shell = ["env", "PS1=ready ", "ENV=", "sh", "-i"]
        subprocess.run(
            [*self._server, "new-session", "-d", *size, *shell],
            check=True,
            cwd=folder,
            env=_terminal_environment(folder, {"TERM": "xterm-256color"}),
        )
        self.await_screen(lambda screen: "ready" in screen)

    def run(self, arguments: Sequence[str]) -> None:
        """Type a command of ours."""
        self.type(shlex.join([*PROGRAM, *arguments]))
        self.press("Enter")

    def type(self, text: str) -> None:
        """Type letters as they are."""
        self._tell("send-keys", "-l", text)

    def press(self, *keys: str) -> None:
        """Press keys by their names."""
        self._tell("send-keys", *keys)

    def resize(self, columns: int, rows: int) -> None:
        """Give the window another size."""
        self._tell("resize-window", "-x", str(columns), "-y", str(rows))

    def screen(self) -> str:
        """Give what is to be seen now."""
        return self._tell("capture-pane", "-p")

    def await_screen(self, wanted: Callable[[str], object]) -> str:
        """Wait until the screen is as wanted, and give it."""
        wait_until(lambda: wanted(self.screen()), lambda: f"the screen shows instead:\n{self.screen()}")
        return self.screen()

    def close(self) -> None:
        """End the shell and all in it."""
        with contextlib.suppress(subprocess.SubprocessError):
            self._tell("kill-server")

    def _tell(self, *words: str) -> str:
        done = subprocess.run([*self._server, *words], check=True, capture_output=True, timeout=PATIENCE_S)
        return done.stdout.decode()


def _terminal_environment(folder: Path, more: Mapping[str, str]) -> dict[str, str]:
    foreign = ("NO_COLOR", "LC_ALL", "LC_CTYPE", "TMUX", "TERM", "COLORTERM")
    kept = {name: value for name, value in environment(folder).items() if name not in foreign}
    return kept | {"LANG": "C.UTF-8"} | more
