"""The C reference on this computer: commands and dead-man's handle, example loop, sizes, and hostile bytes."""

import os
import pty
import re
import shutil
import signal
import subprocess
import threading
import time
import tty
from collections.abc import Iterator
from contextlib import ExitStack
from functools import partial
from pathlib import Path

import pytest
from tests.board.building import REFERENCE, ROOT, SANITIZED, STRICT, build, compiler, fuzzed

from rampwarden.clock import HostClock
from rampwarden.core.instrument.buzzer_lines import Pattern, annunciation, heartbeat
from rampwarden.core.model import Reading
from rampwarden.sources.board import Board, BoardSettings
from running_watch import PATIENCE_S, running_watch, wait_for

HERE = Path(__file__).resolve().parent
NOTES = ROOT / "firmware_notes"
VECTORS = [
    line.split(" ", 1)
    for line in (NOTES / "command_vectors.txt").read_text().splitlines()
    if line and not line.startswith("#")
]
COMMANDS = [words.split(" ") for kind, words in VECTORS if kind in ("heartbeat", "annunciate")]
REFUSED = [words for kind, words in VECTORS if kind == "refuse"]
pytestmark = [pytest.mark.skipif(compiler() is None, reason="no C compiler (cc) on this machine"), pytest.mark.long]
PARSER = [REFERENCE / "tc_command.c", REFERENCE / "tc_frame.c"]


class Buzzer:
    """The C state machine, driven by a script."""

    def __init__(self, program: Path) -> None:
        self._program = program
        self._script: list[str] = []

    def hear(self, ms: int, data: bytes) -> None:
        """These bytes come."""
        self._script.append(f"b {ms % 2**32} {data.hex()}")

    def ask(self, *times_ms: int) -> None:
        """Ask whether it sounds at each time."""
        self._script += [f"s {ms % 2**32}" for ms in times_ms]

    def state(self) -> None:
        """Ask for patience, pattern, lines refused and whether it is alone."""
        self._script.append("p")

    def answers(self) -> list[str]:
        """Run it all; gives an answer for each question."""
        text = "\n".join(self._script) + "\n"
        done = subprocess.run([self._program], input=text, capture_output=True, text=True, check=True, timeout=30)
        return done.stdout.split("\n")[:-1]


@pytest.fixture(scope="module")
def parser(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The parser, compiled without a warning and with every sanitizer."""
    folder = tmp_path_factory.mktemp("parser")
    try:
        return build(folder, "parser", [HERE / "vectors_main.c", *PARSER], *SANITIZED)
    except AssertionError as error:
        if "asan" in str(error) or "ubsan" in str(error):
            return build(folder, "parser", [HERE / "vectors_main.c", *PARSER])
        raise


@pytest.fixture
def buzzer(parser: Path) -> Buzzer:
    """A board's buzzer that has just been switched on."""
    return Buzzer(parser)


@pytest.mark.parametrize("words", [each for each in VECTORS if each[0] != "refuse"], ids=lambda words: words[1])
def test_a_command_vector_is_obeyed_and_is_what_the_watch_sends(words: list[str], parser: Path) -> None:
    """To the byte on our side, by its effect on the board's."""
    kind, rest = words
    seq, number, line = rest.split(" ")
    made = heartbeat(int(seq), int(number)) if kind == "heartbeat" else annunciation(int(seq), Pattern(int(number)))
    assert made == line.encode() + b"\r\n"
    for end in (b"\r\n", b"\n"):
        board = Buzzer(parser)
        board.hear(0, line.encode() + end)
        board.state()
        patience, pattern = (number, 0) if kind == "heartbeat" else (0, number)
        assert board.answers() == [f"{patience} {pattern} 0 0"]


@pytest.mark.parametrize("line", REFUSED)
def test_a_line_that_is_no_command_does_nothing_and_is_counted(line: str, buzzer: Buzzer) -> None:
    """And the next good one is obeyed all the same."""
    buzzer.hear(0, line.encode() + b"\r\n")
    buzzer.state()
    buzzer.hear(0, heartbeat(1, 5000))
    buzzer.state()
    assert buzzer.answers() == ["0 0 1 0", "5000 0 1 0"]


def test_what_stands_outside_a_line_or_is_torn_costs_no_command(buzzer: Buzzer) -> None:
    """A new '$' begins a new line."""
    buzzer.hear(0, b"noise\r\n\x00\xff" + heartbeat(1, 5000)[:9] + heartbeat(2, 700) + b"$" + b"x" * 5000 + b"\n")
    buzzer.state()
    assert buzzer.answers() == ["700 0 1 0"]


def test_it_is_silent_until_a_watch_has_spoken(buzzer: Buzzer) -> None:
    """A board on the bench does not sound."""
    buzzer.ask(*range(0, 4_000_000, 50_000))
    assert set(buzzer.answers()) == {"0"}


@pytest.mark.parametrize("start_ms", [0, 2**32 - 3000])
def test_it_sounds_by_itself_when_heartbeats_stop_and_falls_silent_when_they_return(
    buzzer: Buzzer, start_ms: int
) -> None:
    """A second on, a second off, across the wrap of its clock too, and for as long as it takes."""
    buzzer.hear(start_ms, heartbeat(1, 5000))
    buzzer.ask(*(start_ms + ms for ms in range(0, 5001, 100)))
    buzzer.ask(*(start_ms + ms for ms in range(5001, 65_001, 100)))
    # It was asked all the time, so it knows itself alone even when the difference of the clocks has gone round.
    buzzer.ask(*(start_ms + 5000 + day * 86_400_000 + half for day in range(1, 60) for half in (1, 1001)))
    buzzer.hear(start_ms + 59 * 86_400_000, heartbeat(2, 5000))
    buzzer.ask(*(start_ms + 59 * 86_400_000 + ms for ms in (1, 501, 1001, 4999)))
    answers = buzzer.answers()
    assert set(answers[:51]) == {"0"}
    alone = answers[51 : 51 + 600]
    assert alone.count("1") == pytest.approx(300, abs=15)
    pairs = answers[51 + 600 : -4]
    assert all(set(pairs[index : index + 2]) == {"0", "1"} for index in range(0, len(pairs), 2))
    assert set(answers[-4:]) == {"0"}


def test_a_farewell_lets_it_wait_for_nothing(buzzer: Buzzer) -> None:
    """The watch was ended by somebody."""
    buzzer.hear(
        0, heartbeat(1, 5000) + annunciation(2, Pattern.HIGH) + annunciation(3, Pattern.SILENT) + heartbeat(4, 0)
    )
    buzzer.ask(*range(0, 100_000, 100))
    assert set(buzzer.answers()) == {"0"}


@pytest.mark.parametrize(
    ("pattern", "strokes_in_a_minute", "first"),
    [(Pattern.LOW, 1, [(0, 200)]), (Pattern.MEDIUM, 4, [(0, 200), (350, 550)]), (Pattern.HIGH, 36, [(0, 200)])],
)
def test_each_pattern_has_its_strokes(
    buzzer: Buzzer, pattern: Pattern, strokes_in_a_minute: int, first: list[tuple[int, int]]
) -> None:
    """One once, two every 30 s, three every 5 s; said again with every heartbeat it does not begin anew."""
    for ms in range(0, 60_000, 10):
        if ms % 1000 == 0:
            buzzer.hear(ms, heartbeat(1, 5000) + annunciation(2, pattern))
        buzzer.ask(ms)
    answers = [answer == "1" for answer in buzzer.answers()]
    begins = [index * 10 for index, on in enumerate(answers) if on and not (index and answers[index - 1])]
    assert len(begins) == strokes_in_a_minute
    for begin_ms, end_ms in first:
        assert begin_ms in begins
        assert all(answers[begin_ms // 10 : end_ms // 10])
        assert not answers[end_ms // 10]


def test_the_dead_mans_handle_outranks_a_pattern(buzzer: Buzzer) -> None:
    """That nobody watches any more is worse than any alarm."""
    buzzer.hear(0, annunciation(1, Pattern.HIGH) + heartbeat(2, 1000))
    buzzer.ask(2000 + 900, 2000 + 1100)
    assert buzzer.answers() == ["1", "0"]


def test_the_reference_needs_no_heap_no_library_and_no_floating_point(tmp_path: Path) -> None:
    """By what its objects ask of a linker, and by a compiler that is not allowed to use floating point."""
    asked: set[str] = set()
    for source in sorted(REFERENCE.glob("*.c")):
        target = tmp_path / f"{source.stem}.o"
        command = [compiler() or "cc", *STRICT, "-Os", f"-I{REFERENCE}", "-c", str(source), "-o", str(target)]
        general = subprocess.run([*command, "-mgeneral-regs-only"], capture_output=True, text=True, check=False)
        if general.returncode:
            assert "general-regs-only" in general.stderr, general.stderr  # a compiler that does not know it
            subprocess.run(command, check=True)
        names = subprocess.run(["nm", "-u", str(target)], capture_output=True, text=True, check=True).stdout
        asked |= {line.split()[-1] for line in names.splitlines() if line.strip()}
        assert not re.search(r"\b(float|double|malloc)\b", re.sub(r"/\*.*?\*/", "", source.read_text(), flags=re.S))
    ours = {"tc_frame_crc", "tc_frame_write", "tc_buzzer_init", "tc_buzzer_receive", "tc_buzzer_sounds"}
    given = {"board_ms", "board_read_emf", "board_read_junction", "board_send", "board_receive", "board_buzz"}
    assert asked <= ours | given | {"_GLOBAL_OFFSET_TABLE_", "__stack_chk_fail"}


def test_its_ram_is_what_the_notes_say(tmp_path: Path) -> None:
    """Data and BSS of all three by `size`."""
    if shutil.which("size") is None:
        pytest.skip("no size (binutils) on this machine")
    stated = re.search(r"(\d+) bytes of RAM", (NOTES / "reference" / "README.md").read_text())
    assert stated is not None
    total = 0
    for source in sorted(REFERENCE.glob("*.c")):
        target = tmp_path / f"{source.stem}.o"
        subprocess.run(
            [compiler() or "cc", "-std=c99", "-Os", f"-I{REFERENCE}", "-c", source, "-o", target], check=True
        )
        table = subprocess.run(["size", str(target)], capture_output=True, text=True, check=True).stdout
        _, data, bss = (int(number) for number in table.splitlines()[1].split()[:3])
        total += data + bss
    assert 0 < total <= int(stated[1]) <= 300


def test_two_hundred_thousand_hostile_bytes_break_nothing(tmp_path: Path) -> None:
    """Under address and undefined-behaviour sanitizers; `make fuzz` throws ten million."""
    try:
        said = fuzzed(tmp_path, 200_000, 7)
    except AssertionError as error:
        if "asan" in str(error) and "cannot find" in str(error):
            pytest.skip("no sanitizers on this machine")
        raise
    assert re.match(r"200\d{3} bytes, \d{3,} heartbeats obeyed", said)


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The whole example loop, as a program of this computer."""
    sources = [HERE / "host_board.c", REFERENCE / "example_loop.c", *PARSER]
    return build(tmp_path_factory.mktemp("example"), "board", sources, "-D_POSIX_C_SOURCE=200809L")


class ExampleBoard:
    """The example loop behind a pseudo-terminal, and what its buzzer did."""

    def __init__(self, program: Path, path: Path) -> None:
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        path.unlink(missing_ok=True)
        path.symlink_to(os.ttyname(self._slave))
        self.buzzed: list[str] = []
        self._process = subprocess.Popen(
            [program, "60000"], stdin=self._master, stdout=self._master, stderr=subprocess.PIPE, text=True
        )
        self._ear = threading.Thread(target=self._listen, daemon=True)
        self._ear.start()

    def _listen(self) -> None:
        if self._process.stderr is not None:
            self.buzzed += (line.strip() for line in self._process.stderr)

    def __enter__(self) -> "ExampleBoard":
        return self

    def __exit__(self, *_error: object) -> None:
        self._process.kill()
        self._process.wait()
        self._ear.join(5.0)
        if self._process.stderr is not None:
            self._process.stderr.close()
        os.close(self._master)
        os.close(self._slave)


@pytest.fixture
def example_board(example: Path, tmp_path: Path) -> Iterator[ExampleBoard]:
    """The example board, running."""
    with ExampleBoard(example, tmp_path / "port") as board:
        yield board


def test_the_watch_reads_the_example_loop(example_board: ExampleBoard, tmp_path: Path) -> None:
    """Ten readings a second in order, none lost, none garbled."""
    board = Board(BoardSettings(str(tmp_path / "port"), interval_s=0.1), HostClock())
    board.start()
    readings: list[Reading] = []
    until_s = time.monotonic() + PATIENCE_S
    try:
        while len(readings) < 15 and time.monotonic() < until_s:
            item = board.next(1.0)
            if isinstance(item, Reading):
                readings.append(item)
    finally:
        board.stop()
    assert len(readings) == 15
    assert (board.lost, board.garbled) == (0, 0)
    assert {reading.junction_c for reading in readings} == {23.0}
    first, last = readings[0], readings[-1]
    assert last.time_s - first.time_s == pytest.approx(1.4, abs=0.05)


def test_the_example_board_sounds_when_its_watch_dies_and_not_when_it_is_ended(example: Path, tmp_path: Path) -> None:
    """Two watches with `buzzer = true`: one is asked to end, then the other is killed."""
    with ExitStack() as ending:
        boards, watches = [], []
        for name in ("ended", "killed"):
            folder = tmp_path / name
            folder.mkdir()
            (folder / f"{name}.toml").write_text("[board]\nbuzzer = true\n", encoding="utf-8")
            boards.append(ending.enter_context(ExampleBoard(example, folder / "port")))
            options = ("--port", str(folder / "port"))
            watches.append(ending.enter_context(running_watch(name, folder=folder, options=options)))
        for watch in watches:
            wait_for(partial(_is_reading, watch.record), "no readings")
        assert [board.buzzed for board in boards] == [[], []]
        for watch, number in zip(watches, (signal.SIGTERM, signal.SIGKILL), strict=True):
            watch.send_signal(number)
            watch.process.wait(PATIENCE_S)
        wait_for(lambda: "on" in boards[1].buzzed, "the board did not sound by itself")
        # Its watch ended before the other's, so its patience would have been over by now.
        assert boards[0].buzzed == []


def _is_reading(record: Path) -> bool:
    return record.exists() and record.read_bytes().count(b'"kind":"reading"') > 15
