"""The serial board on real pseudo-terminals: plugged, unplugged, silent, noisy, stalled, shared."""

import itertools
import os
import random
import re
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from serial import Serial
from tests.sources.pty_board import PtyBoard, frame_line

from rampwarden.clock import HostClock
from rampwarden.core.instrument.board_clock import Dating
from rampwarden.core.instrument.framing import Column, ColumnFormat
from rampwarden.core.model import ClockMark, Notice, NoticeName, Reading
from rampwarden.sources.board import Board, BoardSettings
from rampwarden.sources.input_queue import BoardInput, InputQueue

PATIENCE_S = 20.0


class Listener:
    """A watch that only keeps what the board gave."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.inputs: list[BoardInput] = []

    def until(self, enough: Callable[["Listener"], bool]) -> None:
        """Take inputs until `enough`, or fail with what came."""
        deadline_s = time.monotonic() + PATIENCE_S
        while not enough(self):
            if time.monotonic() > deadline_s:
                raise TimeoutError(f"still waiting after {PATIENCE_S} s; got {self.inputs[-20:]}")
            item = self.board.next(0.2)
            if item is not None:
                self.inputs.append(item)

    @property
    def readings(self) -> list[Reading]:
        return [item for item in self.inputs if isinstance(item, Reading)]

    @property
    def marks(self) -> list[ClockMark]:
        return [item for item in self.inputs if isinstance(item, ClockMark)]

    def notices(self, name: NoticeName) -> list[Notice]:
        """Give the notices of one name that came so far."""
        return [item for item in self.inputs if isinstance(item, Notice) and item.notice is name]

    def opened(self) -> bool:
        """Whether the port was opened since it was last lost."""
        return len(self.notices(NoticeName.PORT_OPENED)) > 0


@pytest.fixture
def pty_board(tmp_path: Path) -> Iterator[PtyBoard]:
    """A plugged-in board behind a lasting name."""
    plugged = PtyBoard(tmp_path / "board")
    yield plugged
    plugged.unplug()


Watch = Callable[..., Listener]


@pytest.fixture
def watch(pty_board: PtyBoard) -> Iterator[Watch]:
    """Start watching the board; waits are short so that the tests are."""
    boards: list[Board] = []

    def start(**changes: object) -> Listener:
        usual: dict[str, object] = {
            "port": str(pty_board.path),
            "reopen_first_s": 0.02,
            "reopen_longest_s": 0.1,
            "silence_s": 60.0,
        }
        board = Board(BoardSettings(**(usual | changes)), HostClock())  # type: ignore[arg-type]
        boards.append(board)
        board.start()
        listener = Listener(board)
        if changes.get("port") is None:
            listener.until(Listener.opened)
        return listener

    yield start
    for board in boards:
        board.stop()
        assert not board.alive


class TestReading:
    def test_frames_become_readings_in_order(self, pty_board: PtyBoard, watch: Watch) -> None:
        """Each once, dated by the board's clock."""
        listener = watch(dating=Dating.BOARD)
        for seq in range(100):
            pty_board.send(frame_line(seq, 1000 * seq, 8_000_000 + 1000 * seq, 24_810))
        listener.until(lambda it: len(it.readings) == 100)
        assert listener.readings == [Reading(float(seq), 8000.0 + seq, 24.81) for seq in range(100)]

    def test_a_frame_sent_in_pieces_is_one_reading(self, pty_board: PtyBoard, watch: Watch) -> None:
        """Never half a number."""
        listener = watch()
        for byte in frame_line(7, 1000, 8_138_200, 24_810):
            pty_board.send(bytes([byte]))
        listener.until(lambda it: len(it.readings) == 1)
        assert listener.readings[0].emf_uv == 8138.2
        assert listener.board.garbled == 0

    def test_columns_become_readings(self, pty_board: PtyBoard, watch: Watch) -> None:
        """A hobby sketch that prints a temperature each interval; the first line after the opening is dropped."""
        listener = watch(columns=ColumnFormat((Column.TEMP_C,)), interval_s=0.1)
        pty_board.send(b"20.0\r\n21.0\r\n22.0\r\n")
        listener.until(lambda it: len(it.readings) == 1)
        assert listener.readings[0].temp_c == 22.0

    def test_a_line_that_hangs_is_told_by_marks_that_keep_the_order(self, pty_board: PtyBoard, watch: Watch) -> None:
        """Silence is an input: marks come several times a second, never run back, and never overtake a reading."""
        listener = watch()
        listener.until(lambda it: len(it.marks) >= 4)
        pty_board.send(frame_line(0, 0))
        listener.until(lambda it: len(it.readings) == 1 and isinstance(it.inputs[-1], ClockMark))
        times = [item.time_s for item in listener.inputs]
        assert times == sorted(times)
        gaps = [after.time_s - before.time_s for before, after in itertools.pairwise(listener.marks)]
        assert sorted(gaps)[len(gaps) // 2] < 0.5

    def test_no_mark_overtakes_a_frame_when_clock_and_frames_come_from_one_hand(self, pty_board: PtyBoard) -> None:
        """A rehearsal writes a frame and then moves the clock; at speed a mark must not pass what is still unread."""
        clock = HandClock()
        board = Board(BoardSettings(str(pty_board.path), dating=Dating.BOARD, silence_s=60.0), clock)
        board.start()
        listener = Listener(board)
        listener.until(Listener.opened)
        uneven = random.Random(3)
        for seq in range(400):
            pty_board.send(frame_line(seq, 1000 * seq))
            clock.time_s = float(seq)
            if seq % 40 == 0:
                time.sleep(uneven.uniform(0.0, 0.5))  # the furnace's own pauses, in which marks are due
        listener.until(lambda it: len(it.readings) == 400)
        board.stop()
        times = [item.time_s for item in listener.inputs]
        assert times == sorted(times)
        assert len(listener.marks) > 2

    def test_a_mark_does_not_run_back_behind_a_frame_that_is_ahead_of_the_clock(self, pty_board: PtyBoard) -> None:
        """The furnace has written the frame and not yet moved the clock."""
        board = Board(BoardSettings(str(pty_board.path), dating=Dating.BOARD, silence_s=60.0), HandClock())
        board.start()
        listener = Listener(board)
        listener.until(Listener.opened)
        pty_board.send(frame_line(0, 5000))
        listener.until(lambda it: len(it.readings) == 1)
        listener.until(lambda it: isinstance(it.inputs[-1], ClockMark))
        board.stop()
        assert listener.inputs[-1] == ClockMark(5.0)

    @settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(chunks=st.lists(st.binary(min_size=1, max_size=300), max_size=6))
    def test_random_bytes_never_stop_the_readings(self, pty_board: PtyBoard, watch: Watch, chunks: list[bytes]) -> None:
        """The frame after them comes through."""
        listener = watch()
        try:
            for chunk in chunks:
                pty_board.send(chunk)
            pty_board.send(b"\n" + frame_line(0, 0, 1_234_000))
            listener.until(lambda it: any(reading.emf_uv == 1234.0 for reading in it.readings))
        finally:
            listener.board.stop()


class HandClock:
    """A clock that the test moves."""

    speed = 1000.0
    time_s = 0.0

    def now_s(self) -> float:
        """Give the time it was moved to."""
        return self.time_s

    def wall(self) -> datetime:
        """Give some moment."""
        return datetime(2026, 1, 1, tzinfo=UTC)


class TestPlug:
    def test_a_board_that_is_pulled_and_put_back_is_read_again(self, pty_board: PtyBoard, watch: Watch) -> None:
        """Six times, each time under another number; nothing stays open."""
        listener = watch()
        before = len(list(Path("/proc/self/fd").iterdir()))
        for plug in range(6):
            pty_board.send(frame_line(plug, 1000 * plug))
            listener.until(lambda it, plug=plug: len(it.readings) == plug + 1)
            pty_board.unplug()
            listener.until(lambda it, plug=plug: len(it.notices(NoticeName.PORT_LOST)) >= 2 * plug + 2)
            pty_board.plug_in()
            listener.until(lambda it, plug=plug: len(it.notices(NoticeName.PORT_OPENED)) == plug + 2)
        causes = {notice.text.split(":")[0] for notice in listener.notices(NoticeName.PORT_LOST)}
        assert causes == {"gone", "absent"}
        assert len(list(Path("/proc/self/fd").iterdir())) == before

    def test_a_board_that_is_not_there_yet_is_waited_for(self, pty_board: PtyBoard, watch: Watch) -> None:
        """The cause is told once, not at every try."""
        pty_board.unplug()
        listener = watch(port=str(pty_board.path))
        listener.until(lambda it: len(it.marks) >= 4)
        told = [notice.text for notice in listener.notices(NoticeName.PORT_LOST)]
        assert told == [f"absent: no port {pty_board.path}"]
        pty_board.plug_in()
        listener.until(Listener.opened)

    def test_marks_go_on_while_there_is_no_port(self, pty_board: PtyBoard, watch: Watch) -> None:
        """A pulled plug must not stop the watch's clock."""
        listener = watch(reopen_first_s=1.0, reopen_longest_s=1.0)
        pty_board.unplug()
        listener.until(lambda it: len(it.notices(NoticeName.PORT_LOST)) >= 1)
        seen = len(listener.marks)
        listener.until(lambda it: len(it.marks) >= seen + 3)
        gaps = [after.time_s - before.time_s for before, after in itertools.pairwise(listener.marks[seen:])]
        assert max(gaps) < 1.0

    def test_a_board_that_lost_its_power_is_told_to_have_restarted(self, pty_board: PtyBoard, watch: Watch) -> None:
        """Its count begins again; no frame is claimed to be lost."""
        listener = watch()
        pty_board.send(frame_line(4000, 9_000_000))
        listener.until(lambda it: len(it.readings) == 1)
        pty_board.unplug()
        listener.until(lambda it: len(it.notices(NoticeName.PORT_LOST)) >= 1)
        pty_board.plug_in()
        listener.until(lambda it: len(it.notices(NoticeName.PORT_OPENED)) == 2)
        pty_board.send(frame_line(0, 120))
        listener.until(lambda it: len(it.readings) == 2)
        assert len(listener.notices(NoticeName.BOARD_RESTARTED)) == 1
        assert listener.notices(NoticeName.FRAMES_LOST) == []
        assert listener.readings[1].time_s > listener.readings[0].time_s

    def test_a_port_can_be_asked_to_open_anew(self, pty_board: PtyBoard, watch: Watch) -> None:
        """While it is open it is closed first, and said to be; what comes after is read."""
        listener = watch()
        listener.board.reopen()
        listener.until(lambda it: len(it.notices(NoticeName.PORT_OPENED)) == 2)
        assert [notice.text.split(":")[0] for notice in listener.notices(NoticeName.PORT_LOST)] == ["closed"]
        pty_board.send(frame_line(0, 0))
        listener.until(lambda it: len(it.readings) == 1)

    def test_a_port_that_is_waited_for_is_tried_at_once_when_asked(self, pty_board: PtyBoard, watch: Watch) -> None:
        """Who has just ended the program that had it need not wait out the pause."""
        first = watch()
        second = watch(port=str(pty_board.path), reopen_first_s=600.0)
        second.until(lambda it: len(it.notices(NoticeName.PORT_LOST)) == 1)
        first.board.stop()
        second.board.reopen()
        second.until(Listener.opened)

    def test_a_plug_that_is_put_back_ends_the_pause(self, pty_board: PtyBoard, watch: Watch) -> None:
        """However long nobody had put it back: each second more would be read by nobody."""
        pty_board.unplug()
        listener = watch(port=str(pty_board.path), reopen_first_s=600.0, reopen_longest_s=600.0)
        listener.until(lambda it: len(it.notices(NoticeName.PORT_LOST)) == 1)
        pty_board.plug_in()
        listener.until(Listener.opened)

    def test_a_second_watch_on_the_same_port_is_told_who_has_it(self, pty_board: PtyBoard, watch: Watch) -> None:
        """And the first loses nothing to it."""
        first = watch()
        second = watch(port=str(pty_board.path))
        second.until(lambda it: len(it.notices(NoticeName.PORT_LOST)) == 1)
        assert re.match(rf"busy: .* \(process {os.getpid()}\)", second.notices(NoticeName.PORT_LOST)[0].text)
        for seq in range(50):
            pty_board.send(frame_line(seq, 100 * seq))
        first.until(lambda it: len(it.readings) == 50)
        assert second.readings == []
        first.board.stop()
        second.until(Listener.opened)


class TestSilence:
    def test_a_silent_board_is_opened_again_and_told_of_once(self, pty_board: PtyBoard, watch: Watch) -> None:
        """Some adapters wake only that way; when it speaks again, that is told too."""
        listener = watch(silence_s=0.05, interval_s=0.01, boot_s=0.05, silent_hold_s=0.05)
        listener.until(lambda it: len(it.notices(NoticeName.PORT_LOST)) == 1)
        assert listener.notices(NoticeName.PORT_LOST)[0].text.startswith("silent: nothing comes")
        listener.until(lambda it: len(it.marks) >= 8)
        assert len(listener.notices(NoticeName.PORT_LOST)) == 1
        speaking = Speaker(pty_board)
        listener.until(lambda it: len(it.notices(NoticeName.PORT_OPENED)) == 2)
        listener.until(lambda it: len(it.readings) >= 3)
        speaking.stop()
        assert listener.notices(NoticeName.PORT_OPENED)[1].text == "the board speaks again"

    def test_after_three_openings_in_vain_the_port_is_left_alone(
        self, pty_board: PtyBoard, watch: Watch, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Each opening may restart the board, which would then never get to speak."""
        from rampwarden.sources import board as module

        opened: list[float] = []
        closed: list[float] = []
        open_really, close_really = module.open_port, module.close_port

        def open_and_note(port: str, baud: int, **how: object) -> object:
            opened.append(time.monotonic())
            return open_really(port, baud, **how)  # type: ignore[arg-type]

        def close_and_note(line: Serial) -> None:
            closed.append(time.monotonic())
            close_really(line)

        monkeypatch.setattr(module, "open_port", open_and_note)
        monkeypatch.setattr(module, "close_port", close_and_note)
        listener = watch(silence_s=0.05, interval_s=0.01, boot_s=0.05, silent_hold_s=60.0)
        listener.until(lambda it: len(opened) == 4)
        listener.until(lambda it: time.monotonic() > opened[-1] + 1.0)
        assert (len(opened), len(closed)) == (4, 3)
        pty_board.send(frame_line(0, 0))
        listener.until(lambda it: len(it.readings) == 1)

    @pytest.mark.parametrize("slowness", [2, 3, 12])
    def test_another_baud_rate_is_called_by_its_name(self, pty_board: PtyBoard, watch: Watch, slowness: int) -> None:
        """What 115200 baud looks like to a receiver set to 57600, 38400 or 9600, bit by bit."""
        listener = watch(silence_s=0.3, interval_s=0.01, boot_s=1.0)
        sent = b"".join(frame_line(seq, 1000 * seq, 8_138_200, 24_810) for seq in range(40))
        pty_board.send(misread(sent, slowness))
        listener.until(lambda it: len(it.notices(NoticeName.PORT_LOST)) == 1)
        told = listener.notices(NoticeName.GARBLED) + listener.notices(NoticeName.PORT_LOST)
        assert all("another baud rate?" in notice.text for notice in told)
        assert listener.readings == []

    def test_frames_of_another_channel_only_are_named(self, pty_board: PtyBoard, watch: Watch) -> None:
        """The port works, the setting does not."""
        listener = watch(channel=3, silence_s=0.3, interval_s=0.01, boot_s=1.0)
        pty_board.send(frame_line(0, 0, channel=1))
        listener.until(lambda it: len(it.notices(NoticeName.PORT_LOST)) == 1)
        assert "none of channel 3 (seen: 1)" in listener.notices(NoticeName.PORT_LOST)[0].text


class Speaker:
    """A board that goes on speaking in a thread of its own, since a port flushes what came before its opening."""

    def __init__(self, pty_board: PtyBoard) -> None:
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._speak, args=(pty_board,))
        self._thread.start()

    def stop(self) -> None:
        """Fall silent."""
        self._stopping.set()
        self._thread.join()

    def _speak(self, pty_board: PtyBoard) -> None:
        seq = 0
        while not self._stopping.wait(0.01):
            pty_board.send(frame_line(seq, 10 * seq))
            seq += 1


def misread(sent: bytes, slowness: int) -> bytes:
    """Give what a receiver sees that samples `slowness` times too slowly: start bit, eight bits, stop bit."""
    line = [1]
    for byte in sent:
        line += [0, *(byte >> bit & 1 for bit in range(8)), 1]
    line += [1] * 10 * slowness
    seen, at = bytearray(), 1
    while at + 10 * slowness < len(line):
        if line[at - 1] == 1 and line[at] == 0:
            middle = at + slowness // 2
            seen.append(sum(line[middle + slowness * (bit + 1)] << bit for bit in range(8)))
            at = middle + 9 * slowness
        at += 1
    return bytes(seen)


class TestNoise:
    def test_garbage_half_lines_nuls_and_wrong_checksums_are_counted_and_told_once(
        self, pty_board: PtyBoard, watch: Watch
    ) -> None:
        """The frames between them come through."""
        listener = watch()
        good = frame_line(0, 0)
        pty_board.send(good)
        damaged = good.replace(b"25000", b"25001")
        for seq, garbage in enumerate((b"\x00\x00\x00\n", b"hello\r\n", good[:12] + b"\n", damaged)):
            pty_board.send(garbage + frame_line(seq + 1, 1000 * seq))
        listener.until(lambda it: len(it.readings) == 5)
        listener.until(lambda it: it.board.garbled == 4 and len(it.notices(NoticeName.GARBLED)) == 1)
        pty_board.send(b"more\n" + frame_line(5, 5000))
        listener.until(lambda it: len(it.readings) == 6)
        listener.until(lambda it: isinstance(it.inputs[-1], ClockMark))
        assert len(listener.notices(NoticeName.GARBLED)) == 1
        assert listener.notices(NoticeName.FRAMES_LOST) == []

    def test_a_megabyte_without_a_newline_is_one_bad_line(self, pty_board: PtyBoard, watch: Watch) -> None:
        """And costs the watch nothing but the time to throw it away."""
        listener = watch()
        pty_board.send(b"\x55" * 1_000_000)
        pty_board.send(b"\n" + frame_line(0, 0))
        listener.until(lambda it: len(it.readings) == 1)
        assert listener.board.garbled == 1

    def test_lost_frames_are_counted(self, pty_board: PtyBoard, watch: Watch) -> None:
        """By their sequence numbers."""
        listener = watch()
        pty_board.send(frame_line(0, 0) + frame_line(5, 500))
        listener.until(lambda it: len(it.readings) == 2)
        assert [notice.count for notice in listener.notices(NoticeName.FRAMES_LOST)] == [4]
        assert listener.board.lost == 4


class TestStall:
    def test_lines_that_pile_up_while_the_reader_is_stalled_keep_the_boards_spacing(
        self, pty_board: PtyBoard, watch: Watch
    ) -> None:
        """A second and a half of the board's time comes within milliseconds, and stays a second and a half."""
        listener = watch()
        pty_board.send(frame_line(0, 0))
        listener.until(lambda it: len(it.readings) == 1)
        arrived_s = listener.readings[0].time_s
        listener.until(lambda it: it.inputs[-1].time_s > arrived_s + 1.7)
        pty_board.send(b"".join(frame_line(seq, 100 * seq) for seq in range(1, 16)))
        listener.until(lambda it: len(it.readings) == 16)
        times = [reading.time_s for reading in listener.readings]
        assert [b - a for a, b in itertools.pairwise(times)] == pytest.approx([0.1] * 15, abs=0.0021)

    def test_without_a_board_clock_only_the_last_line_of_a_heap_is_used(
        self, pty_board: PtyBoard, watch: Watch
    ) -> None:
        """The others cannot be dated, and a wrong date is a false ramp."""
        listener = watch(columns=ColumnFormat((Column.TEMP_C,)), interval_s=0.4)
        pty_board.send(b"0\n")
        pty_board.send(b"".join(b"%d.0\n" % n for n in range(20, 171)))
        listener.until(lambda it: len(it.readings) == 1)
        listener.until(lambda it: len(it.notices(NoticeName.FRAMES_LOST)) == 1)
        assert listener.readings[0].temp_c == 170.0
        assert listener.board.lost == 150


class TestThread:
    def test_a_defect_inside_is_told_and_the_thread_goes_on(
        self, pty_board: PtyBoard, watch: Watch, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The watch never loses its eyes quietly."""
        from rampwarden.sources.board_lines import BoardLines

        receive_really = BoardLines.receive
        failing = iter([True])

        def receive(self: BoardLines, data: bytes, arrived_s: float) -> object:
            if next(failing, False):
                raise ZeroDivisionError("a defect")
            return receive_really(self, data, arrived_s)

        monkeypatch.setattr(BoardLines, "receive", receive)
        listener = watch()
        pty_board.send(frame_line(0, 0))
        listener.until(lambda it: len(it.notices(NoticeName.PORT_LOST)) == 1)
        assert listener.notices(NoticeName.PORT_LOST)[0].text == "unexpected ZeroDivisionError: a defect"
        assert listener.board.alive
        listener.until(lambda it: len(it.notices(NoticeName.PORT_OPENED)) == 2)
        pty_board.send(frame_line(1, 1000))
        listener.until(lambda it: len(it.readings) == 1)

    def test_stopping_is_prompt_while_the_queue_is_full(
        self, pty_board: PtyBoard, watch: Watch, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Nobody takes the readings; the thread ends all the same, and not when the queue's hour is over."""
        monkeypatch.setattr("rampwarden.sources.board.InputQueue", lambda: InputQueue(capacity=4, patience_s=3600.0))
        listener = watch()
        pty_board.send(b"".join(frame_line(seq, seq) for seq in range(100)))
        listener.until(lambda it: len(it.readings) == 50)
        listener.board.stop()
        assert not listener.board.alive

    def test_readings_that_a_stuck_watch_did_not_take_are_counted_and_told(
        self, pty_board: PtyBoard, watch: Watch, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The newest are kept; the watch learns how many are missing once it takes again."""
        monkeypatch.setattr("rampwarden.sources.board.InputQueue", lambda: InputQueue(capacity=4, patience_s=0.01))
        listener = watch()
        pty_board.send(b"".join(frame_line(seq, seq) for seq in range(50)))
        deadline_s = time.monotonic() + PATIENCE_S
        while listener.board.lost < 40 and time.monotonic() < deadline_s:
            time.sleep(0.01)
        pty_board.send(b"".join(frame_line(seq, seq) for seq in range(50, 53)))
        listener.until(lambda it: len(it.notices(NoticeName.FRAMES_LOST)) >= 1)
        told = listener.notices(NoticeName.FRAMES_LOST)[0]
        assert told.count >= 40
        assert told.text == "dropped: the watch did not take them in time"
