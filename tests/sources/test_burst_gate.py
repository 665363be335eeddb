"""Lines without a board clock: which of them may be dated by their arrival."""

from rampwarden.core.instrument.framing import Frame
from rampwarden.sources.burst_gate import BurstGate

INTERVAL_S = 1.0


def frame(number: int) -> Frame:
    """Give a frame that can be told from others."""
    return Frame(temp_c=float(number))


def in_its_stride() -> BurstGate:
    """Give a gate that has seen a line each second up to 10 s."""
    gate = BurstGate(INTERVAL_S)
    for second in range(11):
        gate.take([frame(second)], float(second))
    return gate


def test_lines_in_their_turn_pass_at_once() -> None:
    """With the jitter of any real line."""
    gate = in_its_stride()
    for second, jitter_s in ((11, 0.1), (12, -0.2), (13, 0.3)):
        assert gate.take([frame(second)], second + jitter_s) == [(frame(second), second + jitter_s)]
    assert gate.dropped == 0


def test_the_very_first_line_waits_until_the_line_has_been_quiet() -> None:
    """It may be the first of a heap."""
    gate = BurstGate(INTERVAL_S)
    assert gate.take([frame(1)], 5.0) == []
    assert gate.is_holding
    assert gate.release(5.2) == []
    assert gate.release(5.25) == [(frame(1), 5.0)]
    assert not gate.is_holding


def test_of_a_heap_in_one_read_only_the_last_line_passes() -> None:
    """The others are up to fifteen seconds old, nobody knows how much."""
    gate = in_its_stride()
    assert gate.take([frame(n) for n in range(11, 26)], 25.0) == []
    assert gate.release(25.3) == [(frame(25), 25.0)]
    assert gate.dropped == 14


def test_of_two_lines_in_one_timely_read_the_last_passes_once_the_line_is_quiet() -> None:
    """The read is in its turn, but the first of the two was not measured when it arrived."""
    gate = in_its_stride()
    assert gate.take([frame(11), frame(12)], 11.0) == []
    assert gate.release(11.25) == [(frame(12), 11.0)]
    assert gate.dropped == 1


def test_of_a_heap_in_many_reads_only_the_last_line_passes() -> None:
    """A kernel hands a heap over in pieces, some of one line."""
    gate = in_its_stride()
    arrived_s, passed = 25.0, []
    for n in range(11, 26):
        passed += gate.take([frame(n)], arrived_s)
        passed += gate.release(arrived_s + 0.01)
        arrived_s += 0.02
    assert passed == []
    assert gate.take([frame(26)], 26.0) == [(frame(25), arrived_s - 0.02), (frame(26), 26.0)]
    assert gate.dropped == 14


def test_a_line_after_a_gap_is_late_and_so_the_heap_behind_it_replaces_it() -> None:
    """Its time would be right only if nothing followed."""
    gate = in_its_stride()
    assert gate.take([frame(11)], 25.0) == []
    assert gate.take([frame(12), frame(13)], 25.01) == []
    assert gate.release(25.4) == [(frame(13), 25.01)]


def test_a_board_faster_than_stated_still_gets_through() -> None:
    """Ten lines a second where one was stated: about one a second passes, each with its right time."""
    gate = in_its_stride()
    passed = []
    for tick in range(1, 101):
        passed += gate.take([frame(tick)], 10.0 + 0.1 * tick)
    assert 8 <= len(passed) <= 11
    assert all(
        abs(10.0 + 0.1 * held.temp_c - arrived_s) < 1e-9 for held, arrived_s in passed if held.temp_c is not None
    )
