"""From bytes to dated readings and the news of the line, without a port."""

import pytest
from tests.sources.pty_board import frame_line

from rampwarden.core.instrument.board_clock import Dating
from rampwarden.core.instrument.framing import Column, ColumnFormat
from rampwarden.core.model import Fault, Notice, NoticeName, Reading
from rampwarden.formats import line_decoder
from rampwarden.sources.board_lines import BoardLines, what_it_looks_like

TEMPERATURES = ColumnFormat((Column.TEMP_C,))


def framed(dating: Dating = Dating.STEERED, channel: int = 0) -> BoardLines:
    """Give the lines of a board that speaks our format once a second."""
    return BoardLines(line_decoder(None), dating, (channel,), 1.0)


def notices(inputs: list[Reading | Notice]) -> list[NoticeName]:
    """Give the names of the notices among `inputs`."""
    return [item.notice for item in inputs if isinstance(item, Notice)]


def times(inputs: list[Reading | Notice]) -> list[float]:
    """Give the times of the readings among `inputs`."""
    return [item.time_s for item in inputs if isinstance(item, Reading)]


def test_a_frame_becomes_a_reading() -> None:
    """With its faults and its channel."""
    lines = framed(channel=2)
    assert lines.receive(frame_line(0, 500, 8138200, 24810, flags=1, channel=2), 3.25) == [
        Reading(3.25, 8138.2, 24.81, None, (Fault.OPEN,), 2)
    ]


def test_other_channels_are_not_ours() -> None:
    """Their frames are neither readings nor valid lines, and their numbers do not disturb the count."""
    lines = framed(channel=1)
    got = lines.receive(
        frame_line(0, 0, channel=1) + frame_line(77, 500, channel=0) + frame_line(1, 1000, channel=1), 1.0
    )
    assert len(times(got)) == 2
    assert notices(got) == []
    assert lines.valid == 2


def test_a_silent_channel_is_explained_by_those_that_speak() -> None:
    """The commonest mistake in the settings."""
    lines = framed(channel=1)
    lines.receive(frame_line(0, 0, channel=0) + frame_line(0, 0, channel=3), 1.0)
    assert lines.why_silent() == "frames come, but none of channel 1 (seen: 0, 3)"


def test_a_stall_of_fifteen_seconds_keeps_the_true_spacing() -> None:
    """The lines come within 0.3 s; a ramp taken from their dates is 1 % off at most."""
    lines = framed()
    for second in range(30):
        lines.receive(frame_line(second, 1000 * second), 100.0 + second)
    got = []
    for second in range(30, 45):
        got += lines.receive(frame_line(second, 1000 * second), 145.0 + 0.02 * (second - 30))
    assert times(got) == pytest.approx([100.0 + second for second in range(30, 45)], abs=0.2)
    assert notices(got) == []


def test_a_heap_without_a_board_clock_gives_its_last_line_and_says_so() -> None:
    """Fourteen of fifteen are left out and counted."""
    lines = BoardLines(line_decoder(TEMPERATURES), Dating.STEERED, (0,), 1.0)
    lines.receive(b"20.0\n", 0.0)
    assert times(lines.receive(b"20.1\n", 1.0)) == [0.0, 1.0]  # the first had waited for quiet
    (notice,) = lines.receive(b"".join(b"%d.5\n" % n for n in range(15)), 16.0)
    assert isinstance(notice, Notice)
    assert (notice.notice, notice.count, lines.lost) == (NoticeName.FRAMES_LOST, 14, 14)
    assert lines.is_holding
    assert lines.release(16.5) == [Reading(16.0, temp_c=14.5)]


def test_two_lines_without_a_clock_in_one_timely_read_are_not_two_readings_of_one_moment() -> None:
    """The older one is left out and counted; the newer is believed once nothing follows it."""
    lines = BoardLines(line_decoder(TEMPERATURES), Dating.STEERED, (0,), 1.0)
    for second in range(5):
        lines.receive(b"20.0\n", float(second))
    (notice,) = lines.receive(b"20.5\n21.0\n", 5.0)
    assert isinstance(notice, Notice)
    assert (notice.notice, notice.count, lines.lost) == (NoticeName.FRAMES_LOST, 1, 1)
    assert lines.release(5.25) == [Reading(5.0, temp_c=21.0)]


def test_two_frames_with_a_clock_in_one_timely_read_are_a_second_apart() -> None:
    """Their own milliseconds say so, whenever they arrived."""
    lines = framed()
    for second in range(5):
        lines.receive(frame_line(second, 1000 * second), 100.0 + second)
    got = times(lines.receive(frame_line(5, 5000) + frame_line(6, 6000), 106.0))
    assert got == pytest.approx([105.0, 106.0], abs=0.02)


def test_arrival_dating_treats_frames_with_a_clock_like_lines_without() -> None:
    """Who chooses the host's clock has no spacing either."""
    lines = framed(Dating.ARRIVAL)
    lines.receive(frame_line(0, 0) + frame_line(1, 1000), 5.0)
    assert times(lines.release(5.5)) == [5.0]


def test_lost_frames_are_counted_and_told_once_a_burst() -> None:
    """A count that was not told is added to the next."""
    lines = framed()
    told = []
    for seq in (0, 1, 4, 6, 8, *range(9, 25), 27):
        got = lines.receive(frame_line(seq, 1000 * seq), float(seq))
        told += [(item.time_s, item.count) for item in got if isinstance(item, Notice)]
    assert told == [(4.0, 2), (27.0, 4)]
    assert lines.lost == 6


def test_a_restart_is_told_before_its_first_reading_and_loses_no_frames() -> None:
    """Sequence and milliseconds start again together."""
    lines = framed()
    lines.receive(frame_line(60_000, 9_000_000), 10.0)
    got = lines.receive(frame_line(0, 150), 13.0)
    assert [type(item) for item in got] == [Notice, Reading]
    assert notices(got) == [NoticeName.BOARD_RESTARTED]
    assert {item.time_s for item in got} == {13.0}


def test_garbage_is_told_once_a_burst_and_a_burst_ends_after_ten_clean_seconds() -> None:
    """Nine seconds of good lines are not enough; the next notice carries what was not told."""
    lines = framed()
    told = []
    for second in range(60):
        data = frame_line(second, 1000 * second)
        if second in {5, 6, 15, 30}:
            data = b"noise\n" + b"more\n" + data
        got = lines.receive(data, float(second))
        told += [(item.time_s, item.count) for item in got if isinstance(item, Notice)]
    assert told == [(5.0, 2), (30.0, 6)]
    assert lines.garbled == 8


def test_silence_does_not_end_a_burst_of_garbage() -> None:
    """A wrong baud rate would else be told again every ten seconds."""
    lines = framed()
    told = [notices(lines.receive(b"\xfe\xa0\x80\n", at_s)) for at_s in (0.0, 20.0, 40.0)]
    assert told == [[NoticeName.GARBLED], [], []]


def test_no_notice_is_dated_before_the_last_reading() -> None:
    """Rounding could have put a reading after its arrival."""
    lines = framed()
    lines.receive(frame_line(0, 0), 5.0004999)
    assert lines.notice(NoticeName.PORT_LOST, 4.0).time_s == lines.last_s


def test_under_the_boards_clock_news_of_the_line_is_dated_where_the_line_is() -> None:
    """At speed the host's clock is far ahead of what is still in the buffer; the watch must not be told to be there."""
    lines = framed(Dating.BOARD)
    got = lines.receive(frame_line(0, 7000) + b"noise\n", 95.0)
    assert [item.time_s for item in got] == [7.0, 7.0]


def test_an_opening_forgives_half_a_line_and_forgets_what_was_seen() -> None:
    """The port is another, perhaps."""
    lines = framed(channel=1)
    lines.receive(frame_line(0, 0, channel=0) + b"$TC,0", 1.0)
    lines.opened()
    assert lines.receive(b",12\r\n", 2.0) == []
    assert lines.garbled == 0
    assert "channel" not in lines.why_silent()


@pytest.mark.parametrize(
    ("sample", "said"),
    [
        (b"\xfe\x80\x9a\x00A\xe1", "another baud rate"),
        (b"$TC,0,7,1200,81", "checksum"),
        (b"nan,24.5", "open thermocouple"),
        (b"temp=24.5", "format and columns"),
    ],
)
def test_garbage_is_described_by_what_it_looks_like(sample: bytes, said: str) -> None:
    """So that a person knows where to look."""
    assert said in what_it_looks_like(sample)


@pytest.mark.parametrize("sample", [bytes(range(256)), b"\x1b[2J\x07'\"\\", b"\xc2\x9b31m"])
def test_no_control_character_of_the_board_reaches_a_person(sample: bytes) -> None:
    """A terminal would obey it."""
    shown = what_it_looks_like(sample)
    assert shown.isprintable()
    assert shown.isascii()
    assert len(shown) < 250
