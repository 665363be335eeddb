"""What is said to a board goes out between the readings, and a board that never reads costs none of them."""

import os
import time
from pathlib import Path

import pytest
from tests.sources.pty_board import PtyBoard, frame_line

from rampwarden.clock import HostClock
from rampwarden.core.instrument.buzzer_lines import Pattern, annunciation, heartbeat
from rampwarden.core.model import Notice, NoticeName, Reading
from rampwarden.sources.board import Board, BoardSettings
from rampwarden.sources.outgoing import MOST_WAITING, Outgoing

PATIENCE_S = 20.0


def heard(board: PtyBoard, enough: bytes, patience_s: float = PATIENCE_S) -> bytes:
    """Read at the board's side until `enough` has come."""
    until_s, data = time.monotonic() + patience_s, b""
    while enough not in data and time.monotonic() < until_s:
        try:
            data += os.read(board._master, 4096)
        except BlockingIOError:
            time.sleep(0.005)
    return data


def start_open(board: Board) -> None:
    """Start and wait until the port is open: what is sent before that is thrown away by the opening."""
    board.start()
    until_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < until_s:
        item = board.next(1.0)
        if isinstance(item, Notice) and item.notice is NoticeName.PORT_OPENED:
            return
    raise TimeoutError("the port was not opened")


def test_lines_reach_the_board_whole_and_in_order(tmp_path: Path) -> None:
    """And the farewell is the last of them."""
    port = PtyBoard(tmp_path / "port")
    board = Board(BoardSettings(str(port.path)), HostClock())
    board.outgoing.farewell = lambda: heartbeat(9, 0)
    start_open(board)
    try:
        lines = [heartbeat(1, 5000), annunciation(2, Pattern.HIGH), heartbeat(3, 5000)]
        for line in lines:
            board.outgoing.say(line)
        assert heard(port, lines[-1]) == b"".join(lines)
        board.stop()
        assert heard(port, heartbeat(9, 0)) == heartbeat(9, 0)
    finally:
        board.stop()
        port.unplug()
    assert board.outgoing.dropped == 0


def test_a_board_that_never_reads_costs_no_reading_and_the_lines_are_counted(tmp_path: Path) -> None:
    """Its line fills up, 4 kB of it; readings go on, and it can be stopped."""
    port = PtyBoard(tmp_path / "port")
    board = Board(BoardSettings(str(port.path)), HostClock())
    start_open(board)
    readings, seq = 0, 0
    try:
        until_s = time.monotonic() + PATIENCE_S
        # Until the line is full and the queue behind it too, and a hundred readings more.
        while (not board.outgoing.dropped or readings < 100) and time.monotonic() < until_s:
            for _ in range(MOST_WAITING):
                board.outgoing.say(annunciation(seq, Pattern.HIGH) * 8)
            port.send(frame_line(seq, seq))
            sent_s = time.monotonic()
            while not isinstance(item := board.next(1.0), Reading) and time.monotonic() < sent_s + 5.0:
                pass
            readings += isinstance(item, Reading)
            seq += 1
        assert board.outgoing.dropped > 0
        assert readings == seq >= 100
    finally:
        board.stop()
        port.unplug()
    assert not board.alive


def test_the_queue_keeps_the_newest(tmp_path: Path) -> None:
    """What is dropped is old news."""
    port = PtyBoard(tmp_path / "port")
    board = Board(BoardSettings(str(port.path)), HostClock())
    for number in range(MOST_WAITING + 5):
        board.outgoing.say(heartbeat(number, 5000))
    board.start()
    try:
        data = heard(port, heartbeat(MOST_WAITING + 4, 5000))
    finally:
        board.stop()
        port.unplug()
    assert data == b"".join(heartbeat(number, 5000) for number in range(5, MOST_WAITING + 5))
    assert board.outgoing.dropped == 5


@pytest.mark.parametrize("waiting", [0, 3])
def test_what_was_meant_for_a_lost_port_is_thrown_away(waiting: int) -> None:
    """It is counted, and not said to the next board."""
    outgoing = Outgoing()
    for number in range(waiting):
        outgoing.say(heartbeat(number, 5000))
    outgoing.forget()
    assert outgoing.dropped == waiting
