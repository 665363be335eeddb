"""Boards that must be asked, on real pseudo-terminals: a scripted instrument, and a Modbus server that is not ours."""

import contextlib
import logging
import socket
import struct
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.sources.bus import AskedBoard, BusServer
from tests.sources.test_board import Listener

from rampwarden.clock import HostClock
from rampwarden.core.instrument import Column, ColumnFormat
from rampwarden.core.model import Fault, NoticeName, Reading
from rampwarden.formats import Ending, NamedFormat, Naming, QuestionRound, RegisterMap, Unit, Word
from rampwarden.sources.asking import BusAsker, TextAsker
from rampwarden.sources.board import Board, BoardSettings

TEMPERATURES = ColumnFormat((Column.TEMP_C, Column.TEMP_C, Column.JUNCTION_C))
BROKEN_CRC = b"\x01\x04\x02\x00\xf5\x12\x34"


class Instrument:
    """Answers as SCPI has it: numbers with exponents, 9.9E37 for an open input, nothing to what it does not know."""

    def __init__(self) -> None:
        self.values = {b"MEAS:TEMP? (@101)": b"+2.39000000E+01", b"MEAS:TEMP? (@102)": b"+1.15000000E+03"}
        self.silent = False

    def __call__(self, question: bytes) -> bytes | None:
        answer = self.values.get(question.upper())
        return None if self.silent or answer is None else answer + b"\n"


Watching = Callable[[BoardSettings], Listener]


@pytest.fixture
def watching() -> Iterator[Watching]:
    """Watch boards, and end that afterwards."""
    boards: list[Board] = []

    def start(settings: BoardSettings) -> Listener:
        board = Board(settings, HostClock())
        boards.append(board)
        board.start()
        return Listener(board)

    yield start
    for board in boards:
        board.stop()
        assert not board.alive


Asked = Callable[..., AskedBoard]


@pytest.fixture
def asked(tmp_path: Path) -> Iterator[Asked]:
    """Plug in a board that answers questions."""
    boards: list[AskedBoard] = []

    def start(answer: Callable[[bytes], bytes | None], **how: bytes) -> AskedBoard:
        boards.append(AskedBoard(tmp_path / "board", answer, **how))
        return boards[-1]

    yield start
    for board in boards:
        board.stop()


Bus = Callable[..., BusServer]


@pytest.fixture
def bus(tmp_path: Path) -> Iterator[Bus]:
    """Plug in a bus with a slave on it."""
    buses: list[BusServer] = []

    def start(registers: list[int], slave: int = 1, **how: bool) -> BusServer:
        buses.append(BusServer(tmp_path / "bus", slave, registers, **how))
        return buses[-1]

    yield start
    for each in buses:
        each.stop()


def asking(board: AskedBoard, *questions: str, answers: ColumnFormat | NamedFormat, **changes: object) -> BoardSettings:
    """Give the settings that ask a board each tenth of a second."""
    how = {"ending": Ending.LF, "answer_within_s": 0.3} | {
        key: changes.pop(key) for key in ("ending",) if key in changes
    }
    usual = {"interval_s": 0.1, "reopen_first_s": 0.02, "reopen_longest_s": 0.1, "silence_s": 60.0} | changes
    return BoardSettings(
        str(board.path),
        columns=answers,
        asking=QuestionRound(questions, **how),  # type: ignore[arg-type]
        **usual,  # type: ignore[arg-type]
    )


def on_bus(server: BusServer, registers: RegisterMap, **changes: object) -> BoardSettings:
    """Give the settings that ask a slave each tenth of a second."""
    usual = {"baud": 9600, "interval_s": 0.1, "silence_s": 60.0} | changes
    return BoardSettings(str(server.path), registers=registers, **usual)  # type: ignore[arg-type]


def garbled(listener: Listener) -> list[str]:
    """Give what was told of spoiled answers."""
    return [notice.text for notice in listener.notices(NoticeName.GARBLED)]


class TestInstrument:
    def test_each_round_is_a_reading_of_each_column(self, asked: Asked, watching: Watching) -> None:
        """One question a column; both probes with the junction that was asked for beside them."""
        instrument = Instrument()
        instrument.values[b"SYST:TERM?"] = b"22.5"
        board = asked(instrument)
        questions = ("MEAS:TEMP? (@101)", "MEAS:TEMP? (@102)", "SYST:TERM?")
        listener = watching(asking(board, *questions, answers=TEMPERATURES, also=(1,)))
        listener.until(lambda it: len(it.readings) >= 6)
        first, second = listener.readings[0], listener.readings[1]
        assert (first.channel, first.temp_c, first.junction_c) == (0, 23.9, 22.5)
        assert (second.channel, second.temp_c, second.time_s) == (1, 1150.0, first.time_s)
        assert listener.board.garbled == 0
        assert [question.decode() for question in board.asked[:3]] == list(questions)

    def test_an_overload_is_an_open_thermocouple(self, asked: Asked, watching: Watching) -> None:
        """SCPI-99 volume 1, 7.2: 9.9E37 stands for infinity, 9.91E37 for no number."""
        instrument = Instrument()
        board = asked(instrument)
        listener = watching(asking(board, "MEAS:TEMP? (@101)", answers=ColumnFormat((Column.TEMP_C,))))
        listener.until(lambda it: len(it.readings) >= 1)
        instrument.values[b"MEAS:TEMP? (@101)"] = b"+9.90000000E+37"
        listener.until(lambda it: it.readings[-1].faults == (Fault.OPEN,))
        instrument.values[b"MEAS:TEMP? (@101)"] = b"9.91E37"
        listener.until(lambda it: it.readings[-1].faults == (Fault.CONVERTER,))

    def test_a_question_that_is_not_answered_costs_its_channel_alone(self, asked: Asked, watching: Watching) -> None:
        """The other probe is read on; what is missing is counted and told."""
        instrument = Instrument()
        board = asked(instrument)
        two = ColumnFormat((Column.TEMP_C, Column.TEMP_C))
        listener = watching(asking(board, "MEAS:TEMP? (@101)", "MEAS:TEMP? (@102)", answers=two, also=(1,)))
        listener.until(lambda it: len(it.readings) >= 2)
        del instrument.values[b"MEAS:TEMP? (@102)"]
        listener.until(lambda it: bool(garbled(it)))
        before = len(listener.readings)
        listener.until(lambda it: len(it.readings) >= before + 3)
        assert {reading.channel for reading in listener.readings[before:]} == {0}
        assert garbled(listener) == ["no answer within 0.3 s"]
        assert listener.board.garbled >= 3

    def test_a_late_answer_is_not_taken_for_the_next(self, asked: Asked, watching: Watching) -> None:
        """It comes while nothing is asked, and is thrown away and counted."""
        instrument = Instrument()
        board = asked(instrument)
        listener = watching(asking(board, "MEAS:TEMP? (@101)", answers=ColumnFormat((Column.TEMP_C,))))
        listener.until(lambda it: len(it.readings) >= 1)
        instrument.silent = True
        listener.until(lambda it: bool(garbled(it)))
        spoiled = listener.board.garbled
        board.say(b"666.0\n")
        listener.until(lambda it: it.board.garbled > spoiled)
        instrument.silent = False
        count = len(listener.readings)
        listener.until(lambda it: len(it.readings) > count)
        assert 666.0 not in [reading.temp_c for reading in listener.readings]

    def test_it_may_answer_in_words_and_echo_what_it_is_asked(self, asked: Asked, watching: Watching) -> None:
        """A sketch that waits for a letter, with a terminal's manners: echo, return and newline."""
        board = asked(lambda question: question + b"\r\nT1: 75.2 F  RJ: 22.3 C  ok\r\n")
        named = NamedFormat(Naming.LABELS, ("T1",), junction=("RJ",))
        listener = watching(asking(board, "m", answers=named, ending=Ending.CR))
        listener.until(lambda it: len(it.readings) >= 3)
        assert listener.readings[0].temp_c == pytest.approx(24.0)
        assert listener.readings[0].junction_c == 22.3
        assert listener.board.garbled == 0

    def test_a_board_that_says_nothing_is_silent_in_words(self, asked: Asked, watching: Watching) -> None:
        """With the question that nobody answered."""
        board = asked(lambda _question: None)
        settings = asking(board, "MEAS?", answers=ColumnFormat((Column.TEMP_C,)), silence_s=0.5, boot_s=0.5)
        listener = watching(settings)
        listener.until(lambda it: bool(it.notices(NoticeName.PORT_LOST)))
        assert listener.notices(NoticeName.PORT_LOST)[0].text == "silent: no answer within 0.3 s to 'MEAS?'"


class TestBus:
    def test_registers_become_readings_of_their_channels(self, bus: Bus, watching: Watching) -> None:
        """Tenths of a degree in the server's registers, one of them the count for an open input."""
        server = bus([239, 11_500, 0x7FFF, 0xFFFB])
        registers = RegisterMap((0, 1, 2, 3), scale=0.1, open_values=(32_767,), answer_within_s=0.5)
        listener = watching(on_bus(server, registers, also=(1, 2, 3)))
        listener.until(lambda it: len(it.readings) >= 8)
        read = [(each.channel, each.temp_c, each.faults) for each in listener.readings[:4]]
        assert read[0] == (0, pytest.approx(23.9), ())
        assert read[1] == (1, pytest.approx(1150.0), ())
        assert read[2] == (2, None, (Fault.OPEN,))
        assert read[3] == (3, pytest.approx(-0.5), ())
        assert (listener.board.garbled, server.path.exists()) == (0, True)

    @pytest.mark.parametrize(("function", "is_echoing"), [(3, False), (4, True)])
    def test_long_words_come_in_either_order(
        self, bus: Bus, watching: Watching, function: int, is_echoing: bool
    ) -> None:
        """A float's low half first, as some makers have it; on an adapter that hears itself, too."""
        high, low = struct.unpack(">HH", struct.pack(">f", 1150.25))
        server = bus([7, low, high], is_echoing=is_echoing)
        registers = RegisterMap((1,), word=Word.FLOAT32, low_word_first=True, function=function, answer_within_s=0.5)
        listener = watching(on_bus(server, registers))
        listener.until(lambda it: len(it.readings) >= 3)
        assert {each.temp_c for each in listener.readings} == {1150.25}
        assert listener.board.garbled == 0

    @pytest.mark.parametrize(
        ("spoil", "words"),
        [
            (lambda data: data[:-1] + bytes([data[-1] ^ 1]), "an answer with a broken checksum"),
            (lambda data: reframed(9, data[1:-2]), "an answer of slave 9, not of 1"),
            (lambda data: reframed(1, b"\x84\x02"), "exception 2 (illegal data address: no such register)"),
            (lambda data: reframed(1, b"\x04\x04\x00\x01\x00\x02"), "2 registers where 1 were asked for"),
            (lambda data: reframed(1, b"\x03" + data[2:-2]), "an answer to function 3, not to 4"),
            (lambda data: b"", "no answer within 0.3 s"),
            (lambda data: data[:4], "only 4 bytes of an answer came within 0.3 s"),
        ],
        ids=["checksum", "slave", "exception", "count", "function", "nothing", "torn"],
    )
    def test_a_spoiled_answer_costs_its_reading_and_is_counted(
        self, bus: Bus, watching: Watching, spoil: Callable[[bytes], bytes], words: str
    ) -> None:
        """Once it is over the readings come again, and none was made of it."""
        server = bus([245])
        listener = watching(on_bus(server, RegisterMap((0,), scale=0.1, answer_within_s=0.3)))
        listener.until(lambda it: len(it.readings) >= 2)
        server.spoil = spoil
        listener.until(lambda it: it.board.garbled >= 2)
        server.spoil = bytes
        count = len(listener.readings)
        listener.until(lambda it: len(it.readings) >= count + 2)
        assert garbled(listener)[0] == words
        assert {each.temp_c for each in listener.readings} == {24.5}

    def test_a_server_refuses_registers_that_it_has_not(self, bus: Bus, watching: Watching) -> None:
        """Its own exception, told in words."""
        server = bus([245])
        listener = watching(on_bus(server, RegisterMap((5_000,), answer_within_s=0.5)))
        listener.until(lambda it: bool(garbled(it)))
        assert garbled(listener) == ["exception 2 (illegal data address: no such register)"]

    def test_voltages_take_the_junction_beside_them(self, bus: Bus, watching: Watching) -> None:
        """Hundredths of a millivolt, and of a degree at the terminals."""
        server = bus([813, 2231])
        registers = RegisterMap((0,), scale=0.01, unit=Unit.MV, junction_registers=(1,), answer_within_s=0.5)
        listener = watching(on_bus(server, registers))
        listener.until(lambda it: len(it.readings) >= 1)
        assert listener.readings[0] == Reading(listener.readings[0].time_s, pytest.approx(8130.0), pytest.approx(22.31))


def reframed(slave: int, answer: bytes) -> bytes:
    """Give a frame with a right checksum, worked out bit by bit from the standard (over serial line V1.02, 6.2.2)."""
    frame = bytes([slave]) + answer
    crc = 0xFFFF
    for byte in frame:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return frame + crc.to_bytes(2, "little")


def test_the_checksum_of_the_tests_is_the_standards() -> None:
    """The check value of CRC-16/MODBUS over 123456789 is 4B37 (its published one)."""
    assert reframed(ord("1"), b"23456789")[-2:] == b"\x37\x4b"


@given(st.binary(max_size=40), st.booleans())
def test_no_bytes_on_the_bus_break_out_or_reach_a_log(data: bytes, is_whole: bool) -> None:
    """With a right checksum or without: one reading lost at most, and the next answer is read."""
    asker = BusAsker(RegisterMap((0, 1)), 1.0)
    asker.question(0.0)
    with LogCapture() as said:
        asker.feed(reframed(1, data) if is_whole else data)
    assert said.records == []
    asker.resynchronise()
    asker.question(5.0)
    frames = asker.feed(reframed(1, b"\x04\x04\x00\x18\x00\x19"))
    assert [frame.temp_c for frame in frames] == [24.0, 25.0]


class LogCapture(logging.Handler):
    """Keeps what anything logs as a warning or worse."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.records: list[logging.LogRecord] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.records.append(record)

    def __enter__(self) -> "LogCapture":
        logging.getLogger().addHandler(self)
        return self

    def __exit__(self, *_: object) -> None:
        logging.getLogger().removeHandler(self)


def test_a_question_goes_out_on_its_grid_and_waits_out_a_late_answer() -> None:
    """Told the time: asked at 0, 1, 2; not answered at 2, so nothing is asked before 2.8."""
    asker = TextAsker(QuestionRound(("T?",), answer_within_s=0.4), ColumnFormat((Column.TEMP_C,)), 1.0)
    sent = []
    for tenth in range(45):
        if question := asker.question(tenth / 10.0):
            sent.append(tenth)
            assert question == b"T?\n"
            if tenth != 20:
                assert [frame.temp_c for frame in asker.feed(b"24.5\n")] == [24.5]
        if tenth == 26:
            assert asker.feed(b"24.5\n") == []
    assert sent == [0, 10, 20, 30, 40]
    assert asker.garbled == 2  # the answer that did not come, and the one that came too late


def test_until_the_first_answer_a_booting_board_is_not_blamed() -> None:
    """Opening the port restarts many boards."""
    asker = TextAsker(QuestionRound(("T?",), answer_within_s=0.5), ColumnFormat((Column.TEMP_C,)), 0.5)
    for tenth in range(25):
        asker.question(tenth / 10.0)
    assert asker.garbled == 0
    for tenth in range(25, 60):
        asker.question(tenth / 10.0)
    assert asker.garbled > 0


def test_a_board_behind_a_network_address_is_asked_too(watching: Watching) -> None:
    """As a serial server has it: what is sent goes through the URL."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            line, _ = server.accept()
            with line, contextlib.suppress(OSError):
                while question := line.recv(100):
                    line.sendall(b"24.5\n" if question == b"T?\n" else b"what?\n")

        serving = threading.Thread(target=serve)
        serving.start()
        listener = watching(
            BoardSettings(
                f"socket://127.0.0.1:{server.getsockname()[1]}",
                columns=ColumnFormat((Column.TEMP_C,)),
                asking=QuestionRound(("T?",), answer_within_s=2.0),
                interval_s=0.1,
            )
        )
        listener.until(lambda it: len(it.readings) >= 3)
        listener.board.stop()
        serving.join(20.0)
    assert {each.temp_c for each in listener.readings} == {24.5}
