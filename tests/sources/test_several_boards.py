"""Several probes on one board and on two, on real pseudo-terminals: named, and none hurt by another's cable."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.sources.pty_board import PtyBoard, frame_line

from rampwarden.clock import HostClock
from rampwarden.core.model import ClockMark, Notice, NoticeName, ProbeReading, Reading
from rampwarden.sources import BoardSettings, SeveralBoards
from rampwarden.sources.input_queue import BoardInput

PATIENCE_S = 20.0


@pytest.fixture
def ports(tmp_path: Path) -> Iterator[tuple[PtyBoard, PtyBoard]]:
    plugged = PtyBoard(tmp_path / "first"), PtyBoard(tmp_path / "second")
    yield plugged
    for board in plugged:
        board.unplug()


@pytest.fixture
def several(ports: tuple[PtyBoard, PtyBoard]) -> Iterator[SeveralBoards]:
    first, second = (BoardSettings(str(port.path), interval_s=0.1, reopen_first_s=0.05) for port in ports)
    boards = SeveralBoards(
        BoardSettings(first.port, interval_s=0.1, reopen_first_s=0.05, also=(1,)),
        HostClock(),
        {1: "chamber"},
        {"second": (second, {0: "bottle"})},
    )
    boards.start()
    yield boards
    boards.stop()


def take(
    boards: SeveralBoards, enough: Callable[[list[BoardInput]], bool], say: Callable[[int], None]
) -> list[BoardInput]:
    """Have the boards speak and take what comes until it is enough."""
    inputs: list[BoardInput] = []
    deadline_s = time.monotonic() + PATIENCE_S
    seq = 0
    while not enough(inputs):
        if time.monotonic() > deadline_s:
            raise TimeoutError(f"still waiting; got {inputs[-20:]}")
        say(seq)
        seq += 1
        item = boards.next(0.05)
        while item is not None:
            inputs.append(item)
            item = boards.next(0.01)
    return inputs


def named(inputs: list[BoardInput]) -> set[str]:
    return {item.probe for item in inputs if isinstance(item, ProbeReading)}


def test_each_reading_carries_its_probe_and_the_followed_one_s_none(
    ports: tuple[PtyBoard, PtyBoard], several: SeveralBoards
) -> None:
    """Two channels of one board and one of another; what is on channel 7 nobody asked for."""
    first, second = ports

    def say(seq: int) -> None:
        for channel in (0, 1, 7):
            first.send(frame_line(seq, 100 * seq, emf_nv=1_000_000 * (channel + 1), channel=channel))
        second.send(frame_line(seq, 100 * seq, emf_nv=9_000_000))

    inputs = take(several, lambda so_far: named(so_far) == {"chamber", "bottle"} and has_reading(so_far), say)
    assert {item.emf_uv for item in inputs if isinstance(item, Reading)} == {1000.0}
    assert {(item.probe, item.emf_uv) for item in inputs if isinstance(item, ProbeReading)} == {
        ("chamber", 2000.0),
        ("bottle", 9000.0),
    }


def test_pulled_out_the_second_board_costs_its_own_probe_only(
    ports: tuple[PtyBoard, PtyBoard], several: SeveralBoards
) -> None:
    """Its loss is told with its name, the first board goes on, and plugged in again it is back."""
    first, second = ports

    def both(seq: int) -> None:
        first.send(frame_line(seq, 100 * seq))
        second.send(frame_line(seq, 100 * seq))

    def one(seq: int) -> None:
        first.send(frame_line(1000 + seq, 100_000 + 100 * seq))

    take(several, lambda so_far: "bottle" in named(so_far) and has_reading(so_far), both)
    second.unplug()
    inputs = take(several, lambda so_far: lost_ports(so_far) == ["second"] and has_reading(so_far), one)
    assert named(inputs[-1:]) == set()
    second.plug_in()

    def again(seq: int) -> None:
        first.send(frame_line(2000 + seq, 200_000 + 100 * seq))
        second.send(frame_line(2000 + seq, 200_000 + 100 * seq))

    take(several, lambda so_far: "bottle" in named(so_far), again)


def test_a_board_that_never_comes_says_nothing_of_how_time_passes(tmp_path: Path) -> None:
    """Clock marks are the followed board's: another's would let the clock run past readings on their way."""
    first = PtyBoard(tmp_path / "first")
    boards = SeveralBoards(
        BoardSettings(str(first.path), interval_s=0.1),
        HostClock(),
        {},
        {"second": (BoardSettings(str(tmp_path / "nowhere")), {0: "bottle"})},
    )
    boards.start()
    try:
        inputs = take(boards, lambda so_far: "second" in lost_ports(so_far), lambda seq: None)
        # The second's own thread has nothing to put but its notice; what marks there are came of the first.
        boards._further[0].stop()
        inputs += take(boards, lambda so_far: any(isinstance(item, ClockMark) for item in so_far), lambda seq: None)
    finally:
        boards.stop()
        first.unplug()
    assert [item.board for item in inputs if isinstance(item, Notice) and item.notice is NoticeName.PORT_OPENED] == [""]


def has_reading(inputs: list[BoardInput]) -> bool:
    return any(isinstance(item, Reading) for item in inputs)


def lost_ports(inputs: list[BoardInput]) -> list[str]:
    return [item.board for item in inputs if isinstance(item, Notice) and item.notice is NoticeName.PORT_LOST]
