"""`rampwarden board` at a real pseudo-terminal: it finds what is wrong with a model board, and nothing else."""

import contextlib
import json
import random
import threading
from pathlib import Path
from typing import Any

import pytest
from tests.sources.pty_board import PtyBoard

from command_line import CommandLine
from rampwarden.control.places import make_folder
from rampwarden.records.locks import PortLock
from rampwarden.sources.bench_board import BenchFault


def heard(rampwarden: CommandLine, *arguments: str) -> tuple[int, dict[str, Any]]:
    """Give exit status and what was found."""
    outcome = rampwarden("board", "--json", *arguments)
    assert outcome.errors == ""
    return outcome.status, json.loads(outcome.output)


@pytest.mark.parametrize(
    ("fault", "part", "words"),
    [
        (BenchFault.WRONG_GAIN, "scaling", "wrong by a factor of 1/2"),
        (BenchFault.SWAPPED_COLUMNS, "scaling", "exchanged"),
        (BenchFault.MAINS_PICKUP, "mains pickup", "50 or 60 Hz mains"),
        (BenchFault.DROPPED_FRAMES, "lost frames", "never came"),
        (BenchFault.REVERSED_LEADS, "polarity", "reversed"),
    ],
)
def test_each_mishap_of_the_model_board_is_found_and_said(
    rampwarden: CommandLine, fault: BenchFault, part: str, words: str
) -> None:
    """In thirty seconds of its lines, with the tip in boiling water."""
    status, report = heard(rampwarden, "--rehearse", fault)
    wrong = [finding for finding in report["findings"] if finding["verdict"] != "fine"]
    assert status == 1
    assert not report["healthy"]
    assert [finding["part"] for finding in wrong] == [part]
    assert words in wrong[0]["words"]
    assert wrong[0]["do"]


@pytest.mark.parametrize("seed", range(1, 21))
def test_a_healthy_board_is_called_healthy(rampwarden: CommandLine, seed: int) -> None:
    """Twenty of them, and not one false finding."""
    status, report = heard(rampwarden, "--rehearse", "none", "--seed", str(seed), "--seconds", "15")
    assert [finding for finding in report["findings"] if finding["verdict"] != "fine"] == []
    assert (status, report["healthy"]) == (0, True)


def test_it_reads_like_a_sentence_on_a_terminal(rampwarden: CommandLine) -> None:
    """One line a question, what to do after an arrow, and what to look at first."""
    outcome = rampwarden("board", "--rehearse", "dropped-frames")
    assert outcome.status == 1
    assert "→ cable, hub or supply" in outcome.output
    assert outcome.output.endswith("Look at this first: lost frames.\n")


def test_a_real_port_is_listened_to_for_as_long_as_is_asked(rampwarden: CommandLine, tmp_path: Path) -> None:
    """Plain columns that nobody has set: said as a guess, with what to set."""
    board, stop, chance = PtyBoard(tmp_path / "port"), threading.Event(), random.Random(1)

    def send() -> None:
        while not stop.wait(0.05):
            with contextlib.suppress(TimeoutError):
                board.send(f"23.25;{chance.gauss(0.0, 4.0):.2f}\r\n".encode(), patience_s=1.0)

    sender = threading.Thread(target=send)
    sender.start()
    try:
        status, report = heard(rampwarden, "--port", str(board.path), "--seconds", "3")
    finally:
        stop.set()
        sender.join()
        board.unplug()
    (format_found,) = [finding for finding in report["findings"] if finding["part"] == "format"]
    assert status == 1
    assert 'columns = ["junction_c", "emf_uv"]' in format_found["do"]
    assert format_found["sureness"] == "likely"


def test_the_port_of_a_watch_is_left_alone(rampwarden: CommandLine, tmp_path: Path) -> None:
    """With the name of the process that has it, and what to do."""
    board = PtyBoard(tmp_path / "port")
    lock = PortLock(make_folder({"RUNTIME_DIRECTORY": str(tmp_path)}), str(board.path))
    try:
        refusal = rampwarden.refusal("board", "--port", str(board.path))
    finally:
        lock.close()
        board.unplug()
    assert "is being watched already by process" in refusal
    assert "rampwarden status" in refusal


def test_a_port_must_be_named(rampwarden: CommandLine) -> None:
    """None is guessed."""
    assert "no port to listen to" in rampwarden.refusal("board")
