"""What listening to a port keeps, and when it ends: on a clock of the test's own."""

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from rampwarden.sources import listening


class Line:
    """A line that gives what it has, half a second a look, and afterwards nothing."""

    speed = 1.0

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *pieces: bytes) -> None:
        self.looks = 0
        self.closed = 0
        self.ticks_s: list[float] = []
        self._pieces: Iterator[bytes] = iter(pieces)
        monkeypatch.setattr(listening, "open_port", lambda *_, **__: self)
        monkeypatch.setattr(listening, "read_port", lambda *_: self._look())
        monkeypatch.setattr(listening, "close_port", lambda _: self._close())

    def now_s(self) -> float:
        return 100.0 + 0.5 * self.looks

    def wall(self) -> datetime:
        return datetime(2026, 1, 1, tzinfo=UTC)

    def listen(self, seconds: float) -> list[listening.Chunk]:
        """Listen to it, but not for ever."""
        return listening.listen("port", 115_200, dtr=False, seconds=seconds, clock=self, tick=self.ticks_s.append)

    def _look(self) -> bytes:
        self.looks += 1
        assert self.looks < 1000, "it listens for ever"
        return next(self._pieces, b"")

    def _close(self) -> None:
        self.closed += 1


def test_time_counts_from_the_first_byte_and_every_piece_keeps_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """A board that takes three seconds to say its first word is heard as long as another."""
    line = Line(monkeypatch, *[b""] * 6, b"a", b"", b"b", *[b"c"] * 20)
    assert line.listen(2.0) == [(103.5, b"a"), (104.5, b"b"), (105.0, b"c"), (105.5, b"c")]
    assert line.ticks_s == [*[0.0] * 7, 0.5, 1.0, 1.5, 2.0]
    assert line.closed == 1


def test_a_line_that_says_nothing_is_given_up_after_the_longest_boot(monkeypatch: pytest.MonkeyPatch) -> None:
    """Eight seconds, and not a look sooner."""
    line = Line(monkeypatch)
    assert line.listen(2.0) == []
    assert line.now_s() - 100.0 == listening.BOOT_S + 0.5
    assert line.closed == 1


def test_what_floods_a_port_is_cut_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """However long it was to be listened to."""
    monkeypatch.setattr(listening, "_MOST_BYTES", 10)
    line = Line(monkeypatch, *[b"four"] * 100)
    assert len(line.listen(3600.0)) == 3
    assert line.closed == 1
