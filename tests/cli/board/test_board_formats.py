"""`rampwarden board` finds out what kind of board is at a real pseudo-terminal, and the block that it writes works."""

import contextlib
import json
import threading
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.sources.bus import AskedBoard, BusServer
from tests.sources.pty_board import PtyBoard

from command_line import CommandLine

pytestmark = pytest.mark.long


Line = Callable[[int], bytes]


@pytest.fixture
def speaking(tmp_path: Path) -> Iterator[Callable[[Line], Path]]:
    """Plug in a board that says a line twenty times a second."""
    board, stop, senders = PtyBoard(tmp_path / "port"), threading.Event(), list[threading.Thread]()

    def start(line: Line) -> Path:
        def send() -> None:
            count = 0
            while not stop.wait(0.05):
                count += 1
                with contextlib.suppress(TimeoutError):
                    board.send(line(count) + b"\r\n", patience_s=1.0)

        senders.append(threading.Thread(target=send))
        senders[-1].start()
        return board.path

    yield start
    stop.set()
    for sender in senders:
        sender.join()
    board.unplug()


def found(rampwarden: CommandLine, port: Path, *arguments: str) -> dict[str, Any]:
    """Give what is found at a port."""
    outcome = rampwarden("board", "--json", "--seconds", "3", "--port", str(port), *arguments)
    assert outcome.errors == ""
    report: dict[str, Any] = json.loads(outcome.output)
    report["board"] = tomllib.loads(report["settings"])["board"] if report["settings"] else {}
    return report


def paste(tmp_path: Path, report: dict[str, Any]) -> str:
    """Put the block into a settings file, as a person does."""
    file = tmp_path / "rampwarden.toml"
    file.write_text(report["settings"], encoding="utf-8")
    return str(file)


def first_words(rampwarden: CommandLine, config: str, part: str) -> str:
    """Give what `board` says of a part with these settings."""
    outcome = rampwarden("board", "--json", "--seconds", "3", "--config", config)
    report = json.loads(outcome.output)
    (finding,) = [each for each in report["findings"] if each["part"] == part]
    return f"{finding['verdict']}: {finding['words']}"


def checked(rampwarden: CommandLine, config: str) -> list[str]:
    """Give what `check` says of port and probe with these settings."""
    outcome = rampwarden("check", "--no-questions", "--config", config)
    return [
        line for line in outcome.output.splitlines() if line.split()[-1:] and ("port  " in line or "probe  " in line)
    ]


@pytest.mark.parametrize(
    ("line", "board"),
    [
        (lambda n: b"hot %.2f degC" % (24.25 + n % 3 / 4), {"format": "labels", "values": ["hot"]}),
        (
            lambda n: b"T1: %.1f C  RJ: 22.3 C  ok" % (23.9 + n % 3 / 10),
            {"format": "labels", "values": ["T1"], "junction": ["RJ"]},
        ),
        (
            lambda n: b'{"t":%d,"tc":%.1f,"cj":22.3}' % (8000 + 50 * n, 24.1 + n % 3 / 10),
            {"format": "json", "values": ["tc"], "junction": ["cj"], "ms": "t"},
        ),
        (
            lambda n: b"T1=%.1f,T2=1102.5,T3=open" % (23.9 + n % 3 / 10),
            {"format": "labels", "values": ["T1", "T2"]},
        ),
    ],
    ids=["one-label", "labels", "json", "several"],
)
def test_named_values_are_recognised_and_the_block_works(
    rampwarden: CommandLine, speaking: Callable[[Line], Path], tmp_path: Path, line: Line, board: dict[str, Any]
) -> None:
    """The issue's own three, and several values a line; then `board` and `check` are content with what was pasted."""
    port = speaking(line)
    report = found(rampwarden, port)
    assert {key: report["board"].get(key) for key in board} == board
    assert report["board"]["port"] == str(port)
    config = paste(tmp_path, report)
    assert first_words(rampwarden, config, "format").startswith("fine: ")
    words = checked(rampwarden, config)
    assert [line.split()[0] for line in words] == ["fine", "fine"]


def test_an_unknown_label_is_said_with_those_that_come(
    rampwarden: CommandLine, speaking: Callable[[Line], Path], tmp_path: Path
) -> None:
    """In one line, by `board` and by `check`."""
    port = speaking(lambda n: b"T1: %.1f C  RJ: 22.3 C  ok" % (23.9 + n % 3 / 10))
    config = paste(tmp_path, {"settings": f'[board]\nport = "{port}"\nformat = "labels"\nvalues = ["T9"]\n'})
    said = "lines come, but without the label 'T9' (they have: 'T1', 'RJ')"
    assert first_words(rampwarden, config, "format") == f"will not work: {said}"
    outcome = rampwarden("check", "--no-questions", "--config", config)
    assert said in outcome.output


def test_an_instrument_is_found_by_the_questions_that_are_allowed(rampwarden: CommandLine, tmp_path: Path) -> None:
    """It says nothing by itself; asked who it is it answers, asked for a temperature it gives one."""
    answers = {b"*IDN?": b"bench,meter,0,1.0", b"MEAS:TEMP?": b"+2.39100000E+01"}

    def answer(question: bytes) -> bytes | None:
        return answers[question] + b"\n" if question in answers else None

    board = AskedBoard(tmp_path / "port", answer)
    try:
        report = found(rampwarden, board.path, "--try-questions")
        assert report["board"]["ask"] == ["MEAS:TEMP?"]
        assert (report["board"]["format"], report["board"]["columns"]) == ("columns", ["temp_c"])
        assert board.asked[:3] == [b"*IDN?"] * 3
        config = paste(tmp_path, report)
        assert first_words(rampwarden, config, "answers").startswith("fine: ")
        assert [line.split()[0] for line in checked(rampwarden, config)] == ["fine", "fine"]
    finally:
        board.stop()


def test_nothing_is_asked_unless_it_is_allowed(rampwarden: CommandLine, tmp_path: Path) -> None:
    """A letter may be a command to some board."""
    board = AskedBoard(tmp_path / "port", lambda _question: b"1\n")
    try:
        report = found(rampwarden, board.path)
        assert (report["findings"][0]["words"], board.asked, report["settings"]) == ("nothing comes", [], "")
    finally:
        board.stop()


def test_ones_own_question_is_asked_alone(rampwarden: CommandLine, tmp_path: Path) -> None:
    """And its answer recognised, here by its labels."""
    board = AskedBoard(tmp_path / "port", lambda _question: b"T1: 23.9 C  RJ: 22.3 C\r\n")
    try:
        report = found(rampwarden, board.path, "--ask", "m")
        assert set(board.asked) == {b"m"}
        assert report["board"]["values"] == ["T1"]
        assert report["board"]["ask"] == ["m"]
    finally:
        board.stop()


def test_a_slave_on_a_bus_is_found_and_read(rampwarden: CommandLine, tmp_path: Path) -> None:
    """The third slave on it, with tenths of a degree and an open input; pymodbus' own server answers."""
    bus = BusServer(tmp_path / "port", 3, [239, 241, 0x7FFF, 238])
    try:
        report = found(rampwarden, bus.path, "--try-questions")
        board = report["board"]
        assert {key: board.get(key) for key in ("format", "slave", "registers", "scale", "open_values")} == {
            "format": "modbus",
            "slave": 3,
            "registers": [0, 1, 2, 3],
            "scale": 0.1,
            "open_values": [32767],
        }
        config = paste(tmp_path, report)
        assert first_words(rampwarden, config, "answers").startswith("fine: ")
        assert [line.split()[0] for line in checked(rampwarden, config)] == ["fine", "fine"]
        assert "24 °C" in checked(rampwarden, config)[1]
    finally:
        bus.stop()
