"""Dating frames: the board's spacing, the host's zero, restarts, wraps, and frames that never came."""

import itertools
import math
import random
import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rampwarden.core.instrument.board_clock import BoardClock, Dating, SequenceCounter

WRAP = 2**32
MILLISECONDS = st.one_of(st.none(), st.integers(0, 20_000), st.integers(0, WRAP - 1))


def dated(clock: BoardClock, frames: list[tuple[int | None, float]]) -> list[float]:
    """Date frames given as (board_ms, arrived_s)."""
    return [clock.date(board_ms, arrived_s) for board_ms, arrived_s in frames]


def spacing_error_s(times_s: list[float]) -> float:
    """Give the rms deviation from a line every 0.1 s."""
    return math.sqrt(statistics.fmean((b - a - 0.1) ** 2 for a, b in itertools.pairwise(times_s)))


class TestSteered:
    def test_the_first_frame_is_dated_by_its_arrival(self) -> None:
        """The board may have been on for days."""
        assert BoardClock(Dating.STEERED).date(86_400_000, 12.25) == 12.25

    def test_lines_that_come_at_once_after_a_stall_keep_the_boards_spacing(self) -> None:
        """15 s of lines within 0.3 s: each is dated to within 0.2 s of when it was measured, spacing within 1 %."""
        clock = BoardClock(Dating.STEERED)
        dated(clock, [(1000 * n, 5.0 + n) for n in range(60)])
        stalled = [(1000 * n, 80.0 + 0.02 * (n - 60)) for n in range(60, 75)]
        times = dated(clock, stalled)
        assert times == pytest.approx([5.0 + n for n in range(60, 75)], abs=0.2)
        assert [b - a for a, b in itertools.pairwise(times)] == pytest.approx([1.0] * 14, rel=0.0101)

    def test_a_count_that_stands_still_leaves_time_to_the_host(self) -> None:
        """The lines come and the board's milliseconds do not move: once no time passed for the watch at all."""
        clock = BoardClock(Dating.STEERED)
        dated(clock, [(1000 * n, float(n)) for n in range(10)])
        times = dated(clock, [(9000, 9.0 + 0.1 * n) for n in range(600)])
        assert all(9.0 + 0.1 * n - time_s <= 1.1 for n, time_s in enumerate(times))

    def test_an_early_frame_snaps_the_offset(self) -> None:
        """Latency is never negative: the first frame was the late one."""
        clock = BoardClock(Dating.STEERED)
        clock.date(0, 0.4)
        assert clock.date(1000, 1.1) == 1.1
        assert clock.date(2000, 2.3) == pytest.approx(2.11, abs=0.001)

    @pytest.mark.parametrize("resonator", [0.995, 1.0, 1.005])
    def test_a_resonator_half_a_percent_off_stays_in_step_for_hours(self, resonator: float) -> None:
        """Ten hours with a line that is 1 to 30 ms late."""
        clock, late = BoardClock(Dating.STEERED), random.Random(7)
        for second in range(36_000):
            time_s = clock.date(round(second * 1000 * resonator), second + late.uniform(0.001, 0.030))
            assert abs(time_s - second) < 0.05

    def test_jitter_of_the_line_is_mostly_taken_out(self) -> None:
        """Arrivals scatter by the 16 ms of a USB adapter, the spacing of the dates by less than a third of that."""
        clock, late = BoardClock(Dating.STEERED), random.Random(11)
        frames = [(100 * n, 0.1 * n + late.uniform(0.0, 0.016)) for n in range(3000)]
        times = dated(clock, frames)
        assert spacing_error_s(times) < spacing_error_s([arrived_s for _, arrived_s in frames]) / 3

    def test_a_count_that_leaps_ahead_cannot_date_into_the_future(self) -> None:
        """A digit lost on a line without a checksum."""
        clock = BoardClock(Dating.STEERED)
        assert dated(clock, [(1000, 1.0), (9_002_000, 2.0)]) == [1.0, 2.0]


class TestBoardAlone:
    def test_the_milliseconds_are_the_time(self) -> None:
        """Board and host share one clock, so arrival says nothing."""
        clock = BoardClock(Dating.BOARD)
        assert dated(clock, [(0, 0.0), (1000, 7.0), (2005, 7.0)]) == [0.0, 1.0, 2.005]

    def test_the_first_frame_seen_need_not_be_the_first_sent(self) -> None:
        """The offset is nought all the same."""
        assert BoardClock(Dating.BOARD).date(5000, 61.0) == 5.0

    def test_after_a_restart_the_arrival_gives_the_new_zero(self) -> None:
        """3 s were lost; then the board's own spacing again."""
        clock = BoardClock(Dating.BOARD)
        assert dated(clock, [(9000, 9.0), (0, 12.0), (1000, 12.0), (2000, 15.0)]) == [9.0, 12.0, 13.0, 14.0]


class TestArrival:
    def test_the_host_alone_dates(self) -> None:
        """To the millisecond."""
        clock = BoardClock(Dating.ARRIVAL)
        assert dated(clock, [(0, 0.10049), (1000, 0.2)]) == [0.1, 0.2]

    def test_a_restart_is_noticed_all_the_same(self) -> None:
        """The board's clock is read even where it does not date."""
        clock = BoardClock(Dating.ARRIVAL)
        dated(clock, [(5000, 1.0), (100, 2.0)])
        assert clock.restarted


@pytest.mark.parametrize("dating", list(Dating))
class TestAnyDating:
    def test_a_frame_without_milliseconds_is_dated_by_arrival(self, dating: Dating) -> None:
        """There is nothing else to go by."""
        assert dated(BoardClock(dating), [(None, 3.0), (None, 4.5)]) == [3.0, 4.5]

    def test_a_jump_back_is_a_restart_and_told_once(self, dating: Dating) -> None:
        """The next frame is an ordinary one."""
        clock = BoardClock(dating)
        told = []
        for board_ms, arrived_s in [(60_000, 60.0), (61_000, 61.0), (200, 64.0), (1200, 65.0)]:
            clock.date(board_ms, arrived_s)
            told.append(clock.restarted)
        assert told == [False, False, True, False]

    def test_a_restart_after_a_month_is_no_wrap(self, dating: Dating) -> None:
        """Stepping forward from there to the end of the count would be weeks."""
        clock = BoardClock(dating)
        dated(clock, [(30 * 86_400_000, 10.0), (500, 13.0)])
        assert clock.restarted
        assert clock.date(1500, 14.0) == pytest.approx(clock.date(1500, 14.0))

    def test_the_wrap_of_the_count_is_no_restart(self, dating: Dating) -> None:
        """49.7 days after power-on a second is still a second."""
        clock = BoardClock(dating)
        times = dated(clock, [(WRAP - 1500 + 1000 * n, n) if n < 2 else (1000 * n - 1500, n) for n in range(4)])
        assert not clock.restarted
        assert [b - a for a, b in itertools.pairwise(times)] == pytest.approx([1.0, 1.0, 1.0])

    def test_a_late_frame_behind_one_dated_by_arrival_waits_for_it(self, dating: Dating) -> None:
        """Time stands still rather than running back."""
        times = dated(BoardClock(dating), [(0, 0.0), (1000, 1.0), (None, 9.0), (2000, 9.0)])
        assert times == [0.0, 1.0, 9.0, 9.0]

    @settings(max_examples=200, deadline=None)
    @given(steps=st.lists(st.tuples(MILLISECONDS, st.floats(0, 1e5)), max_size=20))
    def test_time_never_runs_back(self, dating: Dating, steps: list[tuple[int | None, float]]) -> None:
        """Whatever the board counts, or does not, and however late its lines are."""
        clock, arrived_s, last_s = BoardClock(dating), 0.0, float("-inf")
        for board_ms, waited_s in steps:
            arrived_s += waited_s
            time_s = clock.date(board_ms, arrived_s)
            assert time_s >= last_s
            assert time_s == round(time_s, 3)
            last_s = time_s


class TestSequence:
    def test_frames_in_order_lose_none(self) -> None:
        """The first number may be any."""
        counter = SequenceCounter()
        assert [counter.lost(seq) for seq in (17, 18, 19)] == [0, 0, 0]

    def test_a_gap_is_counted_across_the_wrap(self) -> None:
        """65534, then 3: four are missing."""
        counter = SequenceCounter()
        assert [counter.lost(seq) for seq in (65_533, 65_534, 3, 5)] == [0, 0, 4, 1]

    def test_a_number_that_stands_still_or_goes_back_loses_none(self) -> None:
        """It is a restart or an oddity, and no reason to claim 65535 lost frames."""
        counter = SequenceCounter()
        assert [counter.lost(seq) for seq in (100, 100, 99)] == [0, 0, 0]

    def test_after_a_restart_counting_begins_anew(self) -> None:
        """Else the jump from 65000 to 0 would be a loss."""
        counter = SequenceCounter()
        counter.lost(65_000)
        counter.restart()
        assert counter.lost(0) == 0
