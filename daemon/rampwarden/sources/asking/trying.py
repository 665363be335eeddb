"""Finds out by asking what a silent board speaks. Asks only what reads: nothing it sends may change a setting.

A question of text may all the same be a command to some board, and a device that is no thermometer may take it for one:
so nothing is asked unless somebody allowed it.
"""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from serial import Serial

from rampwarden.formats import Ending, RegisterMap, Word
from rampwarden.sources.asking.bus_asker import BusAsker, bus_trouble
from rampwarden.sources.serial_port import ask_port, read_port

HARMLESS = ("*IDN?", "FETC?", "READ?", "MEAS:TEMP?")
"""Who are you (IEEE 488.2, 10.14), the last reading, a new one, a temperature (SCPI-99 volume 2, 3)."""
MOST_SLAVES = 8
# As many as a module on a bus usually has inputs, and then fewer.
_COUNTS = (16, 8, 4, 2, 1)
_WITHIN_S = 1.0
_BUS_WITHIN_S = 0.3
_TIMES = 3
# An opening may restart a board; its first words are no answer.
_SETTLE_S = 2.0


@dataclass(frozen=True, slots=True)
class TextFound:
    """A question that was answered, with what ended it and its answers."""

    question: str
    ending: Ending
    answers: tuple[bytes, ...]


@dataclass(frozen=True, slots=True)
class BusFound:
    """A slave that answered: by which function, and what its registers held, from `first` on."""

    slave: int
    function: int
    first: int
    counts: tuple[int, ...]


def try_questions(
    line: Serial, port: str, questions: tuple[str, ...], tell: Callable[[str], None]
) -> Iterator[TextFound]:
    """Ask each question, and give those that were answered by text; `tell` is told what is asked.

    Raises `PortError` if the port has gone.
    """
    _listen(line, port, _SETTLE_S, lambda _came: False)
    for question in questions:
        for ending in (Ending.LF, Ending.CR):
            tell(f"asking {question}")
            answers = []
            for _ in range(_TIMES):
                answer = _text_answer(line, port, question.encode("ascii") + ending.bytes)
                if answer is None:
                    break
                answers.append(answer)
            if answers:
                yield TextFound(question, ending, tuple(answers))
                break


def try_bus(line: Serial, port: str, tell: Callable[[str], None]) -> BusFound | None:
    """Look for a slave on a Modbus RTU bus, and read as many of its first registers as it has; None for none.

    Raises `PortError` if the port has gone.
    """
    if bus_trouble():
        return None
    for slave in range(1, MOST_SLAVES + 1):
        for function in (4, 3):
            tell(f"asking slave {slave}, function {function}")
            for first in (0, 1):
                counts, words = _registers(line, port, slave, function, first, 1)
                if counts is not None:
                    return _most_registers(line, port, BusFound(slave, function, first, counts))
                if not words.startswith("exception"):
                    break
    return None


def _most_registers(line: Serial, port: str, found: BusFound) -> BusFound:
    for count in _COUNTS:
        counts, _ = _registers(line, port, found.slave, found.function, found.first, count)
        if counts is not None:
            return BusFound(found.slave, found.function, found.first, counts)
    return found


def _registers(
    line: Serial, port: str, slave: int, function: int, first: int, count: int
) -> tuple[tuple[int, ...] | None, str]:
    wanted = tuple(range(first, first + count))
    asker = BusAsker(RegisterMap(wanted, slave, function, Word.UINT16, answer_within_s=_BUS_WITHIN_S), _WITHIN_S)
    ask_port(line, port, asker.question(0.0))

    def is_over(came: bytes) -> bool:
        asker.feed(came)
        return bool(asker.counts or asker.words)

    _listen(line, port, _BUS_WITHIN_S, is_over)
    return (tuple(asker.counts) or None), asker.words


def _text_answer(line: Serial, port: str, question: bytes) -> bytes | None:
    ask_port(line, port, question)
    text = b""

    def is_over(came: bytes) -> bool:
        nonlocal text
        text += came
        return _first_line(text, question) is not None

    _listen(line, port, _WITHIN_S, is_over)
    return _first_line(text, question)


def _first_line(text: bytes, question: bytes) -> bytes | None:
    *lines, _ = text.replace(b"\r", b"\n").split(b"\n")
    return next((each.strip() for each in lines if each.strip() not in (b"", question.strip())), None)


def _listen(line: Serial, port: str, seconds: float, is_over: Callable[[bytes], bool]) -> None:
    until_s = time.monotonic() + seconds
    while time.monotonic() < until_s:
        data = read_port(line, port)
        if data and is_over(data):
            return
