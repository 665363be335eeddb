"""Hostile bytes for every door: the line, the record, the control socket. Not a test itself.

Each function does as much as it is told, from a seed, and gives a tally; it raises where something broke that must
not. What is mutated is good to begin with, so that most of it comes past the first check.
"""

import math
import random
import time
import unicodedata
from collections import Counter
from pathlib import Path

import msgspec
from tests.faults.cut_records import write_heat
from tests.sources.pty_board import frame_line

from rampwarden.control.messages import FORMAT, LONGEST_TEXT, Request, encode, read_request
from rampwarden.control.orders import command_of
from rampwarden.core.instrument.framing import (
    LONGEST_LINE,
    Column,
    ColumnDecoder,
    ColumnFormat,
    FrameDecoder,
    LineDecoder,
)
from rampwarden.core.model import Command, CommandName, Event, Notice, NoticeName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.errors import ControlError, RampwardenError
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_lines import encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay, schedule_of

_LINES_A_RECORD = 2000
_LONGEST_PIECE = 400
_STRANGE = (
    b"-1",
    b"1e308",
    b"-1e308",
    b"1e-320",
    b"NaN",
    b"null",
    b"[]",
    b"{}",
    b'"\\u0000"',
    b"9" * 400,
    b"true",
    b"0",
)


def mutated(data: bytes, chance: random.Random) -> bytes:
    """Give the data with a few of its bytes changed, left out, doubled, or a number in it made strange."""
    changed = bytearray(data)
    for _ in range(chance.randrange(1, 4)):
        at = chance.randrange(len(changed) + 1)
        match chance.randrange(5):
            case 0 if at < len(changed):
                changed[at] = chance.randrange(256)
            case 1:
                del changed[at : at + chance.randrange(1, 12)]
            case 2:
                changed[at:at] = changed[max(0, at - chance.randrange(1, 40)) : at]
            case 3:
                changed[at:at] = chance.randbytes(chance.randrange(1, 6))
            case _:
                digits = [index for index, byte in enumerate(changed) if 48 <= byte <= 57]
                if digits:
                    start = chance.choice(digits)
                    changed[start : start + 1] = chance.choice(_STRANGE)
    return bytes(changed)


def fuzz_framing(size: int, seed: int) -> Counter[str]:
    """Send `size` bytes of spoilt lines, cut anywhere, through both decoders; no frame may come that nobody sent."""
    chance = random.Random(seed)
    tally: Counter[str] = Counter()
    columns = ColumnDecoder(ColumnFormat((Column.EMF_UV, Column.JUNCTION_C)))
    framed = FrameDecoder()
    number, waiting = 0, b""
    while tally["bytes"] < size:
        line = frame_line(number % 65_536, number, chance.randrange(-(10**7), 6 * 10**7))
        number += 1
        tally["lines"] += 1
        if chance.random() < 0.5:
            line = mutated(line, chance)
            tally["spoilt"] += 1
        waiting += line
        if len(waiting) < chance.randrange(_LONGEST_PIECE):
            continue
        tally["bytes"] += len(waiting)
        for frame in framed.feed(waiting):
            tally["frames"] += 1
            # A frame's own milliseconds are its number: any other was made of noise with a checksum that fits.
            if frame.seq is None or frame.board_ms is None or frame.seq != frame.board_ms % 65_536:
                tally["frames by chance"] += 1
        columns.feed(waiting)
        _see_bounds(framed)
        _see_bounds(columns)
        waiting = b""
    # One in 65 536 spoilt lines has a right checksum; few of those look like a frame besides.
    if tally["frames by chance"] > 3 + 5 * tally["spoilt"] / 65_536:
        raise AssertionError(f"frames out of nothing: {tally}")
    if tally["frames"] < tally["lines"] - tally["spoilt"] - 2 * (tally["spoilt"] // 10):
        raise AssertionError(f"whole frames lost: {tally}")
    return tally


def _see_bounds(decoder: LineDecoder) -> None:
    if len(decoder._tail) > LONGEST_LINE or len(decoder.sample) > LONGEST_LINE:
        raise AssertionError("a decoder keeps more than a line")


def fuzz_records(count: int, seed: int, folder: Path) -> Counter[str]:
    """Replay `count` spoilt lines, two thousand to a record; whatever is read must be told of in finite numbers."""
    chance = random.Random(seed)
    header, *lines = write_heat(folder / "good.jsonl").splitlines(keepends=True)
    lines += [encode_line(Command(5.0, name, "ramp-high", 5.0, "text"), 9) for name in CommandName]
    lines += [encode_line(Notice(5.0, name, 3, "text"), 9) for name in NoticeName]
    lines += [encode_line(Reading(5.0, 1000.0, 25.0), 9)] * 10
    tally: Counter[str] = Counter()
    path = folder / "spoilt.jsonl"
    while tally["lines"] < count:
        first = mutated(header, chance) if chance.random() < 0.2 else header
        path.write_bytes(first + b"".join(_line(lines, chance) for _ in range(_LINES_A_RECORD)))
        tally["lines"] += _LINES_A_RECORD
        try:
            tally.update(_replayed(path))
        except RampwardenError:
            tally["records refused"] += 1
    return tally


def _line(lines: list[bytes], chance: random.Random) -> bytes:
    line = chance.choice(lines)
    return mutated(line, chance) if chance.random() < 0.7 else line


def _replayed(path: Path) -> Counter[str]:
    tally: Counter[str] = Counter()
    with RecordReader(path) as reader:
        monitor = Monitor(schedule_of(reader.header, "fuzz"), parameters_of(reader.header, "fuzz"))
        began_s = time.monotonic()
        for event in Replay(monitor).events(reader):
            _see_event(event, monitor)
            tally["events"] += 1
        monitor.status()
    tally["foreign"] += reader.tally.foreign_lines
    if time.monotonic() - began_s > 60.0:
        raise AssertionError(f"{path} took more than a minute: something runs away with the clock")
    return tally


def _see_event(event: Event, monitor: Monitor) -> None:
    """An event must be able to go into a record and come back, and may not be of a time that has not come."""
    again = msgspec.json.decode(encode_line(event), type=Event)
    numbers = (event.time_s, event.value or 0.0, event.limit or 0.0)
    if again != event or not all(math.isfinite(number) for number in numbers):
        raise AssertionError(f"an event no record can hold: {event}")
    if monitor.time_s is None or event.time_s > monitor.time_s:
        raise AssertionError(f"an event of the future: {event}")


def fuzz_commands(count: int, seed: int) -> Counter[str]:
    """Say `count` spoilt requests at the control socket's door; what is taken must be a command the core can obey."""
    chance = random.Random(seed)
    good = [
        encode(Request(FORMAT, request, "ramp-high", 20.0, "the lid is open"))
        for request in ("status", *(str(name) for name in CommandName))
    ]
    tally: Counter[str] = Counter()
    for number in range(count):
        line = mutated(chance.choice(good), chance)
        tally["requests"] += 1
        try:
            command = command_of(read_request(line.partition(b"\n")[0]), "fuzz")
        except ControlError as refusal:
            tally["refused"] += 1
            if _steers(str(refusal)):
                raise AssertionError(f"a refusal that steers a terminal: {refusal!r}") from refusal
            continue
        tally["taken"] += 1
        if len(command.text) > LONGEST_TEXT or _steers(command.text):
            raise AssertionError(f"not fit for a terminal: {command}")
        msgspec.json.decode(encode_line(command, number), type=Command)
    return tally


def _steers(text: str) -> bool:
    return any(unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co") for letter in text)
