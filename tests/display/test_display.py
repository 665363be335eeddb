"""The display on its worker: draws what changed, survives its own defects, keeps off a terminal not its own."""

import os
import pty
import re
import select
import termios
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from itertools import pairwise
from types import SimpleNamespace

import pytest

from pictured_heat import PicturedHeat
from rampwarden.core.model import CommandName, Notice, NoticeName
from rampwarden.display import display as display_module
from rampwarden.display.display import Display
from rampwarden.display.keys import WatchKeys
from rampwarden.display.screen import TerminalScreen, terminal_abilities
from rampwarden.display.terminal_style import Looks
from rampwarden.log_setup import RecentLines

PATIENCE_S = 15.0


class Bench:
    """A display on a pseudo-terminal within this process."""

    def __init__(self, master: int, slave: int) -> None:
        self.master, self.slave = master, slave
        self.heat = PicturedHeat().climb(188.0, 900.0)
        self.heard: list[Notice] = []
        self.recent = RecentLines()
        self.shown = b""
        abilities = terminal_abilities("xterm", slave)
        assert abilities is not None
        self.screen = TerminalScreen(slave, slave, abilities)
        keys = WatchKeys(lambda _command: None, lambda: None, list, lambda: False)
        self.display = Display(self.screen, self.heat.keeper, Looks(), keys, self.recent)

    def look(self) -> bytes:
        """Read what has been shown, and give all of it."""
        while select.select([self.master], [], [], 0)[0]:
            self.shown += os.read(self.master, 65_536)
        return self.shown

    def await_shown(self, wanted: Callable[[bytes], object]) -> None:
        """Wait until what has been shown is as wanted."""
        until_s = time.monotonic() + PATIENCE_S
        while not wanted(self.look()):
            assert time.monotonic() < until_s, self.shown[-2000:]
            time.sleep(0.02)


@pytest.fixture
def bench() -> Iterator[Bench]:
    """Give a display that has not been started yet."""
    with terminal() as (master, slave):
        made = Bench(master, slave)
        with closing(made.display):
            yield made


@contextmanager
def terminal() -> Iterator[tuple[int, int]]:
    master, slave = pty.openpty()
    try:
        yield master, slave
    finally:
        os.close(master)
        os.close(slave)


def test_it_draws_what_has_changed_and_nothing_else(bench: Bench) -> None:
    """A whole screen at first; then a note in the log costs a line or two, not a screen."""
    # Alarms take the log's last line; here there are none.
    bench.heat.say(CommandName.ACKNOWLEDGE)
    bench.heat.climb(188.0, 1200.0)
    bench.display.start(bench.heard.append)
    bench.await_shown(lambda shown: b"q" in shown and "°C".encode() in shown)
    whole = len(bench.look())
    bench.recent.lines.append("note · gas up")
    bench.recent.count += 1
    bench.await_shown(lambda shown: b"gas up" in shown)
    assert len(bench.look()) - whole < whole / 3


def test_a_defect_in_the_drawing_ends_nothing_and_is_told(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The worker is started again, says so, and draws once the defect is gone."""
    sound, failures = display_module.lay_out, iter([1, 1, 0])

    def broken(*arguments: object) -> object:
        if next(failures, 0):
            raise ZeroDivisionError("a defect of ours")
        return sound(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(display_module, "lay_out", broken)
    bench.display.start(bench.heard.append)
    bench.await_shown(lambda shown: b"soaked" in shown)
    assert [notice.notice for notice in bench.heard] == [NoticeName.OUTPUT_FAILING] * 2
    assert "the display had died (ZeroDivisionError: a defect of ours)" in bench.heard[0].text


def test_keys_come_one_by_one_and_unseen_and_the_terminal_is_given_back_as_it_was(bench: Bench) -> None:
    """Otherwise a key would wait for Enter, and stand in the picture."""
    before = termios.tcgetattr(bench.slave)
    bench.screen.enter()
    assert not termios.tcgetattr(bench.slave)[3] & (termios.ICANON | termios.ECHO)
    bench.screen.leave()
    assert termios.tcgetattr(bench.slave)[3] == before[3]
    assert before[3] & termios.ICANON
    assert before[3] & termios.ECHO


def test_while_it_draws_the_log_does_not_and_afterwards_it_does_again(bench: Bench) -> None:
    """Two that write on one screen would tear it."""
    bench.display.start(bench.heard.append)
    assert bench.recent.taken_over
    bench.display.close()
    assert not bench.recent.taken_over


def test_frames_come_at_most_four_times_a_second(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """However fast the heat changes: a hundred changes a second for two seconds, as the display's clock sees it."""
    now_s = 5000.0
    monkeypatch.setattr(display_module, "time", SimpleNamespace(monotonic=lambda: now_s))
    bench.screen.enter()
    frames = []
    for number in range(200):
        now_s = 5000.0 + number / 100.0
        bench.heat.climb(bench.heat.temp_c + 1.0, 1.0)
        before = bench.look().count(b"\x1b[?2026h")
        bench.display._draw_if_due()
        if bench.look().count(b"\x1b[?2026h") > before:
            frames.append(number)
    apart = [later - sooner for sooner, later in pairwise(frames)]
    # Waking a tenth early is no reason to wait once more.
    assert set(apart) <= {23, 24, 25}
    assert len(frames) >= 8


def test_a_halted_display_gives_the_terminal_back_and_returns(bench: Bench) -> None:
    """As the shell needs it in between."""
    bench.display.start(bench.heard.append)
    bench.await_shown(lambda shown: b"soaked" in shown)
    bench.display.pause()
    bench.await_shown(lambda shown: shown.rstrip().endswith(b"halted: nothing is watched until it goes on (fg)"))
    bench.display.resume()
    bench.await_shown(lambda shown: b"soaked" in shown.rpartition(b"(fg)")[2])


def test_every_line_ends_before_the_last_column(bench: Bench) -> None:
    """Some terminals move on to the next line when the last cell is written."""
    bench.display.start(bench.heard.append)
    bench.await_shown(lambda shown: b"quit" in shown)
    frame = bench.look().rpartition(b"\x1b[2J")[2].decode()
    for line in re.split(r"\x1b\[\d+;1H", frame)[1:]:
        assert len(re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", line)) < 80
