"""The display at real terminals: what it leaves behind, what cannot hold it up, and how it looks in tmux."""

import re
import signal
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from display_terminal import TMUX, PtyTerminal, TmuxTerminal, recorded, rehearsal, wait_until

pytestmark = pytest.mark.long


needs_tmux = pytest.mark.skipif(TMUX is None, reason="no tmux on this computer: see .ci/need-packages")
ALTERNATE, BACK, TOGETHER = b"\x1b[?1049h", b"\x1b[?1049l", b"\x1b[?2026h"
COLOUR = re.compile(rb"\x1b\[[0-9;]*\b(3[0-7]|4[0-7]|9[0-7])\b[0-9;]*m")
# Two seconds are asked for; a machine that runs other tests beside may take longer to get round to it.
ENDING_S = 6.0


@contextmanager
def at_terminal(folder: Path, *options: str, **terminal: str | bool) -> Iterator[PtyTerminal]:
    """Rehearse the short heat at a pseudo-terminal."""
    with closing(PtyTerminal(folder, rehearsal(folder / "heat.jsonl", *options), **terminal)) as it:  # type: ignore[arg-type]
        yield it


def has_readings(record: Path, count: int) -> bool:
    return sum(line["kind"] == "reading" for line in recorded(record)) >= count


class TestTheTerminalIsGivenBack:
    """As it was, whatever ends the watch."""

    def is_given_back(self, terminal: PtyTerminal) -> None:
        shown = terminal.look()
        assert shown.count(ALTERNATE) == shown.count(BACK) == 1
        before, _, _ = shown.partition(ALTERNATE)
        assert b"controls no gas" in before
        assert b"\x1b[2J" not in before
        after = shown.rpartition(BACK)[2]
        assert b"record closed" in after
        assert b"\x1b[?25h" in shown[shown.rindex(ALTERNATE) :] or b"\x1b[?12l\x1b[?25h" in shown
        assert terminal.settings() == terminal.before

    @pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
    def test_after_a_signal(self, tmp_path: Path, number: signal.Signals) -> None:
        """With its record closed, and the closing words below what stood there before."""
        with at_terminal(tmp_path) as terminal:
            terminal.await_text("a acknowledge")
            assert terminal.settings() != terminal.before
            assert terminal.end(number) in (0, 1)
            self.is_given_back(terminal)
        assert recorded(tmp_path / "heat.jsonl")[-1]["kind"] == "end"

    def test_after_the_key_that_quits_and_after_a_bell_and_an_acknowledgement(self, tmp_path: Path) -> None:
        """An alarm comes with what to do, the bell rings through the display, one key acknowledges."""
        with at_terminal(tmp_path) as terminal:
            terminal.await_text("!!! HIGH ramp-high")
            terminal.await_text("lower the heat or open the lid")
            wait_until(lambda: b"\a" in terminal.look(), lambda: "the bell has not rung")
            terminal.press(b"a")
            wait_until(
                lambda: any(line.get("state") == "acknowledged" for line in recorded(tmp_path / "heat.jsonl")),
                lambda: "it was not acknowledged",
            )
            terminal.press(b"nden Brenner gedrosselt \xe2\x80\x93 \xc3\xb6\r")
            wait_until(
                lambda: any(
                    line.get("text") == "den Brenner gedrosselt – ö" for line in recorded(tmp_path / "heat.jsonl")
                ),
                lambda: "the note is not in the record",
            )
            terminal.press(b"q")
            assert terminal.end() == 1
            self.is_given_back(terminal)

    def test_after_a_defect_of_ours(self, tmp_path: Path) -> None:
        """The error is shown on the usual screen, with usual settings."""
        broken = "import rampwarden.service as s; s.Watch._see_to_disk = lambda self: 1 / (self._next_look_s < 1); "
        with closing(PtyTerminal(tmp_path, rehearsal(tmp_path / "heat.jsonl"), before=broken)) as terminal:
            assert terminal.end() != 0
            assert terminal.settings() == terminal.before
            assert terminal.look().count(ALTERNATE) == terminal.look().count(BACK)


class TestNothingHoldsItUp:
    """The watch never waits for a terminal."""

    def test_a_terminal_that_nobody_reads(self, tmp_path: Path) -> None:
        """Full from the beginning: frames are dropped, readings are recorded, it ends when it is told to."""
        with at_terminal(tmp_path, full=True) as terminal:
            wait_until(lambda: has_readings(tmp_path / "heat.jsonl", 600), lambda: "the watch stands still")
            assert terminal.end(signal.SIGTERM, unread=True, within_s=ENDING_S) in (0, 1)
            assert terminal.settings() == terminal.before
        assert recorded(tmp_path / "heat.jsonl")[-1]["kind"] == "end"

    def test_a_terminal_held_with_ctrl_s(self, tmp_path: Path) -> None:
        """It stands still, the watch does not, and afterwards the terminal flows again."""
        with at_terminal(tmp_path) as terminal:
            terminal.await_text("a acknowledge")
            terminal.press(b"\x13")
            readings = len(recorded(tmp_path / "heat.jsonl"))
            wait_until(lambda: has_readings(tmp_path / "heat.jsonl", readings + 600), lambda: "the watch stands still")
            assert terminal.end(signal.SIGTERM, unread=True, within_s=ENDING_S) in (0, 1)
            assert terminal.settings() == terminal.before
            terminal.await_text("record closed")


class TestWhatIsAsked:
    """Of terminals that can do less, or people who want less."""

    def test_plain_lines_on_a_terminal(self, tmp_path: Path) -> None:
        """No screen is taken over, and a line typed is a word."""
        with at_terminal(tmp_path, "--plain") as terminal:
            terminal.await_text("Enter acknowledges")
            terminal.await_text("drying · heat to 220 °C")
            assert ALTERNATE not in terminal.look()
            assert terminal.settings() == terminal.before
            assert terminal.end(signal.SIGTERM) in (0, 1)

    @pytest.mark.parametrize("term", ["dumb", "", "no-such-terminal"])
    def test_a_terminal_that_cannot_place_its_cursor_gets_lines(self, tmp_path: Path, term: str) -> None:
        """Unknown ones too: a mess on the screen is worse than no display."""
        with at_terminal(tmp_path, term=term) as terminal:
            terminal.await_text("Enter acknowledges")
            assert b"\x1b[2J" not in terminal.look()

    def test_no_color_means_none(self, tmp_path: Path) -> None:
        """Bold and reverse are no colours."""
        with at_terminal(tmp_path, NO_COLOR="1") as terminal:
            terminal.await_text("!!! HIGH ramp-high")
            assert not COLOUR.search(terminal.look())
            assert b"\x1b[1;7m" in terminal.look()

    def test_an_old_terminal_on_a_serial_line(self, tmp_path: Path) -> None:
        """No second screen, no colours, nothing but ASCII, and a clean screen at the end."""
        with at_terminal(tmp_path, term="vt100", LC_ALL="C") as terminal:
            terminal.await_text("a acknowledge")
            terminal.await_text("HIGH ramp-high")
            shown = terminal.look().partition(b"\x1b[2J")[2]
            assert max(shown) < 128
            assert not COLOUR.search(shown)
            for sequence in (ALTERNATE, TOGETHER, b"\x1b[?25l"):
                assert sequence not in shown
            terminal.press(b"q")
            assert terminal.end() == 1
            assert b"\x1b[2J\x1b[H" in terminal.look().rpartition(b"a acknowledge")[2]

    def test_a_window_that_is_resized(self, tmp_path: Path) -> None:
        """The keys move to the new last line, whatever its number."""
        with at_terminal(tmp_path) as terminal:
            for rows in (30, 44, 20):
                terminal.resize(90, rows)
                mark = len(terminal.look())
                wanted = b"\x1b[%d;1H" % rows
                wait_until(lambda: wanted in terminal.look()[mark:], lambda: "the size was not followed")  # noqa: B023


@pytest.fixture(scope="module")
def in_tmux(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[tuple[int, int], TmuxTerminal]]:
    """Rehearse at three sizes at once: they mostly wait."""
    terminals: dict[tuple[int, int], TmuxTerminal] = {}
    with TemporaryDirectory(prefix="rw") as short:
        try:
            for size in ((60, 20), (100, 30), (200, 60)):
                folder = Path(short) / str(size[0])
                folder.mkdir()
                terminals[size] = TmuxTerminal(folder, *size)
                terminals[size].run(rehearsal(folder / "heat.jsonl", speed=400))
            yield terminals
        finally:
            for terminal in terminals.values():
                terminal.close()


@needs_tmux
@pytest.mark.parametrize("size", [(60, 20), (100, 30), (200, 60)], ids=str)
def test_in_tmux_at_three_sizes(in_tmux: dict[tuple[int, int], TmuxTerminal], size: tuple[int, int]) -> None:
    """Everything in its place: the mode first, numerals, ramp, segment, alarm with its action, health, keys.

    While an alarm stands, its order in large letters has the room of the strip.
    """
    screen = in_tmux[size].await_screen(lambda screen: "HIGH ramp-high" in screen and "●" in screen)
    lines = screen.rstrip("\n").split("\n")
    assert lines[0].startswith(" REHEARSAL ×400 · no furnace")
    assert re.search(r"\d:\d\d:\d\d$", lines[0].rstrip())
    assert len(lines) == size[1]
    keys = " a acknowledge  w wrong  n note  t transfer  m mark  s skip  q quit"
    assert lines[-1] == (keys if size[0] > len(keys) else " a acknowledge w wrong n note t transfer m mark q quit")
    assert "board OK, read" in lines[-2]
    numerals = [line for line in lines[1:24] if re.search(r"[█▀▄]{2}", line)]
    assert len(numerals) >= {60: 5, 100: 10, 200: 20}[size[0]]
    assert "°C/h" in screen or "°C/min" in screen
    assert "1 of 2 · drying · heat to 220 °C" in screen or "2 of 2 · evening out" in screen
    assert "░" in screen
    # On the smallest, letters and alarms leave no row for it.
    assert size[0] == 60 or "Door ajar." in screen or "soaked" in screen


@needs_tmux
def test_in_tmux_it_is_halted_and_goes_on(in_tmux: dict[tuple[int, int], TmuxTerminal]) -> None:
    """Ctrl-Z gives the shell a usable terminal, fg brings the display back."""
    terminal = in_tmux[(100, 30)]
    terminal.await_screen(lambda screen: "q quit" in screen)
    terminal.press("C-z")
    terminal.await_screen(lambda screen: "halted: nothing is watched" in screen and "q quit" not in screen)
    terminal.type("stty -a")
    terminal.press("Enter")
    terminal.await_screen(lambda screen: re.search(r"(?<!-)icanon", screen) and re.search(r"(?<!-)echo\b", screen))
    terminal.type("fg")
    terminal.press("Enter")
    terminal.await_screen(lambda screen: "q quit" in screen and "REHEARSAL" in screen)


@needs_tmux
def test_in_tmux_it_follows_the_window_and_leaves_what_was_there() -> None:
    """From large to small without a trace of the large; at the end the shell's own screen with the closing words."""
    with TemporaryDirectory(prefix="rw") as short, closing(TmuxTerminal(Path(short), 150, 50)) as terminal:
        terminal.run(rehearsal(Path(short) / "heat.jsonl", speed=60))
        terminal.await_screen(lambda screen: "q quit" in screen)
        terminal.resize(60, 20)
        screen = terminal.await_screen(
            lambda screen: "q quit" in screen and len(screen.rstrip("\n").split("\n")) == 20 and "drying" in screen
        )
        assert screen.count("REHEARSAL") == screen.count("q quit") == 1
        terminal.press("q")
        screen = terminal.await_screen(lambda screen: "record closed" in screen.replace("\n", ""))
        assert "q quit" not in screen
        assert "drying" not in screen
        assert "crucible maker's sheet" in screen
