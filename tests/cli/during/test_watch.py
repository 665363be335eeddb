"""`rampwarden watch` as a process: a board on one pseudo-terminal, a person at another, and how it ends."""

import json
import os
import pty
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.sources.pty_board import PtyBoard, frame_line

from command_line import environment
from full_terminal import fill_terminal

PATIENCE_S = 30.0
# Two seconds are asked for; a machine that runs other tests beside may take longer to get round to it.

SCHEDULE = '[[segment]]\nname = "up"\nkind = "ramp"\nto = "1000 C"\n'
SETTINGS = '[signal]\nlost_after = "1 s"\n[watch]\nstatus_every = "1 s"\n[board]\ndating = "board"\n'
ON_A_TERMINAL = "import fcntl, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0); from rampwarden.cli import run; run()"
IN_THE_BACKGROUND = """
import fcntl, signal, subprocess, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
command = [sys.executable, "-c", "from rampwarden.cli import run; run()", *sys.argv[1:]]
watch = subprocess.Popen(command, process_group=0)
signal.signal(signal.SIGTERM, lambda *_: watch.terminate())
sys.exit(watch.wait())
"""
PLAIN = "from rampwarden.cli import run; run()"


class WatchProcess:
    """A watch in a process of its own, its record, its board, and its terminal if it has one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.record = folder / "heat.jsonl"
        self.board = PtyBoard(folder / "board")
        (folder / "up.toml").write_text(SCHEDULE)
        (folder / "s.toml").write_text(SETTINGS)
        self._sent = 0
        self._process: subprocess.Popen[bytes] | None = None
        self.terminal = -1
        self.shown = b""

    def start(self, launcher: str = PLAIN, *, at_terminal: bool = False, unread: bool = False) -> None:
        """Start it, and wait until it has its record."""
        options = ["--port", str(self.board.path), "--record", str(self.record), "--config", "s.toml", "--plain"]
        stdin = stdout = subprocess.DEVNULL
        if at_terminal:
            self.terminal, stdin = pty.openpty()
            stdout = stdin
            if unread:
                fill_terminal(stdin)
        self._process = subprocess.Popen(
            [sys.executable, "-c", launcher, "watch", "up.toml", *options],
            cwd=self.folder,
            env=environment(self.folder),
            stdin=stdin,
            stdout=stdout,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )
        if stdin >= 0:
            os.close(stdin)
        self.await_line(lambda line: line["kind"] == "notice" and line["notice"] == "port-opened")

    @property
    def process(self) -> subprocess.Popen[bytes]:
        assert self._process is not None
        return self._process

    def lines(self) -> list[dict[str, Any]]:
        """Give the whole lines of the record so far."""
        if not self.record.exists():
            return []
        whole, _, _ = self.record.read_bytes().rpartition(b"\n")
        return [json.loads(line) for line in whole.splitlines()]

    def await_line(self, wanted: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """Wait until the record has such a line, and give it."""
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            for line in self.lines():
                if wanted(line):
                    return line
            time.sleep(0.02)
        pytest.fail(f"no such line came; the record has {self.lines()[1:]}")

    def send_frames(self, count: int) -> None:
        """Let the board send frames a tenth of its own second apart, at 25 °C."""
        for _ in range(count):
            self.board.send(frame_line(self._sent, 100 * self._sent))
            self._sent += 1

    def type(self, keys: bytes) -> None:
        """Press keys at the terminal."""
        os.write(self.terminal, keys)

    def await_shown(self, text: bytes) -> None:
        """Wait until the terminal shows this."""
        until_s = time.monotonic() + PATIENCE_S
        while text not in self.shown:
            readable, _, _ = select.select([self.terminal], [], [], max(0.0, until_s - time.monotonic()))
            assert readable, f"{text!r} was not shown, but {self.shown!r}"
            self.shown += os.read(self.terminal, 65_536)

    def end(self, number: int) -> None:
        """Send a signal and wait for the end."""
        self.process.send_signal(number)
        assert self.process.wait(PATIENCE_S) == 0

    def close(self) -> None:
        """Leave nothing running and nothing open."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            if self._process.stderr is not None:
                self._process.stderr.close()
        if self.terminal >= 0:
            os.close(self.terminal)
        self.board.unplug()


@pytest.fixture
def watch(tmp_path: Path) -> Iterator[WatchProcess]:
    """Give a watch that has not been started yet."""
    watched = WatchProcess(tmp_path)
    yield watched
    watched.close()


def is_alarm(alarm: str, state: str) -> Callable[[dict[str, Any]], bool]:
    """Give what looks for an alarm that went into this state."""
    return lambda line: line.get("alarm") == alarm and line.get("state") == state


# Ends


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_ends_it_at_once_with_its_record_closed(number: int, watch: WatchProcess) -> None:
    """In the middle of readings; status 0, since it was asked to end."""
    watch.start()
    watch.send_frames(6)
    watch.await_line(lambda line: line["kind"] == "reading")
    watch.end(number)
    assert watch.process.stderr is not None
    assert watch.process.stderr.read() == b""
    last = watch.lines()[-1]
    assert (last["kind"], last["reason"]) == ("end", "stopped")
    assert watch.record.read_bytes().endswith(b"\n")


def test_it_ends_at_once_while_it_waits_for_a_port(watch: WatchProcess) -> None:
    """A board that has been unplugged is no reason to wait."""
    watch.start()
    watch.board.unplug()
    watch.await_line(lambda line: line["kind"] == "notice" and line["notice"] == "port-lost")
    watch.end(signal.SIGTERM)
    assert watch.lines()[-1]["kind"] == "end"


def test_ctrl_c_at_its_terminal_ends_it(watch: WatchProcess) -> None:
    """The last line on the terminal says where the record is."""
    watch.start(ON_A_TERMINAL, at_terminal=True)
    watch.await_shown(b"Ctrl-C ends")
    watch.type(b"\x03")
    watch.await_shown(b"record closed: ")
    assert watch.process.wait(PATIENCE_S) == 0
    assert watch.lines()[-1]["reason"] == "stopped"


def test_a_terminal_that_is_closed_ends_it_with_its_record_closed(watch: WatchProcess) -> None:
    """Whoever shuts the window has not torn the record."""
    watch.start(ON_A_TERMINAL, at_terminal=True)
    watch.await_shown(b"Ctrl-C ends")
    os.close(watch.terminal)
    watch.terminal = -1
    assert watch.process.wait(PATIENCE_S) == 0
    assert watch.lines()[-1]["kind"] == "end"


# The person at the terminal


def test_enter_acknowledges_and_the_bell_has_rung(watch: WatchProcess) -> None:
    """Silence is a high alarm: three strokes, a sentence in red; Enter alone acknowledges it."""
    watch.start(ON_A_TERMINAL, at_terminal=True)
    watch.send_frames(6)
    watch.await_line(is_alarm("signal-lost", "unacknowledged"))
    watch.await_shown(b"\a")
    watch.await_shown(b"\x1b[1;31msignal-lost")
    watch.type(b"\r")
    watch.await_line(lambda line: line["kind"] == "command" and line["command"] == "acknowledge")
    watch.await_line(is_alarm("signal-lost", "acknowledged"))
    command = next(line for line in watch.lines() if line["kind"] == "command")
    assert command["by"] == "terminal"


def test_notes_marks_and_skipping_are_typed_as_words(watch: WatchProcess) -> None:
    """What is not understood is answered with what would be."""
    watch.start(ON_A_TERMINAL, at_terminal=True)
    watch.send_frames(6)
    watch.await_line(lambda line: line["kind"] == "event" and line["event"] == "segment-started")
    watch.type("n gas to 0.04 bar · ok\rm lid-open\rhurry\r".encode())
    watch.await_shown(b"not understood")
    watch.type(b"skip\r")
    watch.await_shown(b"the reason is kept in the record")
    watch.type(b"skip the pot is hot\r")
    watch.await_line(lambda line: line["kind"] == "command" and line["command"] == "skip-segment")
    said = [(line["command"], line["text"]) for line in watch.lines() if line["kind"] == "command"]
    assert said == [("note", "gas to 0.04 bar · ok"), ("mark", "lid-open"), ("skip-segment", "the pot is hot")]


def test_ctrl_d_and_bytes_that_are_no_text_do_not_deafen_it(watch: WatchProcess) -> None:
    """A key pressed by mistake must not take the keyboard away for the rest of the heat."""
    watch.start(ON_A_TERMINAL, at_terminal=True)
    watch.await_shown(b"Ctrl-C ends")
    watch.type(b"\x04")
    watch.type(b"n caf\xe9 \xff\r")
    note = watch.await_line(lambda line: line["kind"] == "command")
    assert note["text"] == "caf\ufffd \ufffd"
    watch.end(signal.SIGTERM)


def test_in_the_background_it_goes_on_watching(watch: WatchProcess) -> None:
    """`rampwarden watch … &`: to listen to a keyboard that is not its own would halt it."""
    watch.start(IN_THE_BACKGROUND, at_terminal=True)
    watch.await_shown(b"Ctrl-C ends")
    watch.type(b"\r")
    watch.send_frames(6)
    watch.await_line(lambda line: line["kind"] == "reading")
    watch.await_line(is_alarm("signal-lost", "unacknowledged"))
    assert not [line for line in watch.lines() if line["kind"] == "command"], "the keyboard is another's"
    watch.end(signal.SIGTERM)


def test_a_terminal_that_does_not_read_holds_up_nothing(watch: WatchProcess) -> None:
    """Held with Ctrl-S, or a remote session that died: readings, alarms and the end go on as ever."""
    watch.start(ON_A_TERMINAL, at_terminal=True, unread=True)
    watch.send_frames(6)
    watch.await_line(lambda line: line["kind"] == "reading")
    watch.await_line(is_alarm("signal-lost", "unacknowledged"))
    watch.send_frames(100)
    watch.await_line(is_alarm("signal-lost", "returned-unacknowledged"))
    watch.end(signal.SIGTERM)
    assert watch.lines()[-1]["kind"] == "end"
