"""Log lines on their way out: in order, and never a burden to whoever writes them."""

import contextlib
import os
import pty
import re
import select
import threading
import time
from collections.abc import Iterator

import pytest

from full_terminal import fill_terminal
from rampwarden import log_lines
from rampwarden.log_lines import LogLines


@pytest.fixture
def pipe() -> Iterator[tuple[int, int]]:
    """Give both ends of a pipe."""
    reading, writing = os.pipe()
    yield reading, writing
    for descriptor in (reading, writing):
        with contextlib.suppress(OSError):
            os.close(descriptor)


def read_all(descriptor: int) -> str:
    """Give all that waits to be read."""
    os.set_blocking(descriptor, False)
    data = b""
    with contextlib.suppress(BlockingIOError):
        while chunk := os.read(descriptor, 65_536):
            data += chunk
    return data.decode()


def test_lines_come_out_in_order_and_all_of_them_before_close_returns(pipe: tuple[int, int]) -> None:
    """Whatever the level: the words of structlog's levels all write."""
    reading, writing = pipe
    lines = LogLines(writing)
    for number in range(100):
        (lines.info, lines.warning, lines.error, lines.debug)[number % 4](f"line {number}")
    lines.close()
    assert read_all(reading) == "".join(f"line {number}\n" for number in range(100))


def test_a_letter_the_encoding_lacks_is_written_as_its_code(pipe: tuple[int, int]) -> None:
    """A terminal of another alphabet, and bytes in a file's name that are no text."""
    reading, writing = pipe
    lines = LogLines(writing, "ascii")
    lines.info("25 °C · \udcff")
    lines.close()
    assert read_all(reading) == "25 \\xb0C \\xb7 \\udcff\n"


def test_a_terminal_that_stopped_reading_holds_up_nobody_and_later_hears_what_it_missed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Lines wait up to a bound, the oldest go, and how many is said when somebody reads again."""
    monkeypatch.setattr(log_lines, "_MOST_WAITING", 50)
    master, slave = pty.openpty()
    fill_terminal(slave)
    lines = LogLines(slave)
    assert lines.on_terminal
    # Nobody reads yet: if this waited for the terminal, it would wait for ever.
    for number in range(1000):
        lines.info(f"line {number}")
    os.set_blocking(master, False)
    heard = b""
    until_s = time.monotonic() + 10.0
    while b"line 999\n" not in heard or b"could not be written" not in heard:
        assert time.monotonic() < until_s
        with contextlib.suppress(BlockingIOError):
            heard += os.read(master, 65_536)
        time.sleep(0.001)
    lines.close()
    os.close(slave)
    os.close(master)
    numbers = [int(number) for number in re.findall(rb"line (\d+)\n", heard)]
    assert numbers == sorted(set(numbers))
    assert numbers[-49:] == list(range(951, 1000)), "the newest are what a person wants to read"
    said = [int(number) for number in re.findall(rb"(\d+) log lines could not be written here\n", heard)]
    assert sum(said) == 1000 - len(numbers)


def test_close_does_not_wait_long_for_a_terminal_that_stopped_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    """The watch ends although nobody reads its last words."""
    monkeypatch.setattr(log_lines, "_CLOSE_S", 0.1)
    reading, writing = os.pipe()
    lines = LogLines(writing)
    lines.info("x" * 200_000)
    lines.close()
    workers = [thread for thread in threading.enumerate() if thread.name == "log lines"]
    assert workers, "it is still writing to a terminal that takes nothing, and was left behind"
    os.set_blocking(reading, False)
    for worker in workers:
        while worker.is_alive():
            with contextlib.suppress(BlockingIOError):
                os.read(reading, 65_536)
            worker.join(0.01)
    os.close(reading)
    os.close(writing)


def test_a_reader_that_went_away_ends_nothing_and_the_next_one_hears_what_was_lost(pipe: tuple[int, int]) -> None:
    """A pipe closed at the other end, then another in its place."""
    reading, writing = pipe
    os.close(reading)
    lines = LogLines(writing)
    for number in range(3):
        lines.info(f"to nobody {number}")
    again, other = os.pipe()
    until_s = time.monotonic() + 10.0
    while lines._waiting:
        assert time.monotonic() < until_s
        time.sleep(0.001)
    os.dup2(other, writing)
    lines.info("to somebody")
    lines.info("and again")
    lines.close()
    assert read_all(again) == "to somebody\n3 log lines could not be written here\nand again\n"
    os.close(again)
    os.close(other)


def test_a_descriptor_that_does_not_block_gets_every_line_all_the_same(pipe: tuple[int, int]) -> None:
    """Another program on the same terminal may have made it so."""
    reading, writing = pipe
    os.set_blocking(writing, False)
    lines = LogLines(writing)
    for number in range(300):
        lines.info(f"{number:03d}" + "x" * 997)
    heard = ""
    try:
        while "299" not in heard:
            # Not by asking again and again: that takes the interpreter's lock from the very worker that is to write.
            readable, _, _ = select.select([reading], [], [], 10.0)
            assert readable, heard[-20:]
            heard += read_all(reading)
    finally:
        # A worker left behind would write into whatever gets this descriptor's number next.
        lines.close()
    heard += read_all(reading)
    assert [int(line[:3]) for line in heard.splitlines()] == list(range(300))
