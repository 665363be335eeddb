"""Where the schedule lets the temperature be: the alarms' own rules, drawn as edges."""

import pytest

from rampwarden.core.limits.corridor import CorridorMeter, Edges
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

LIMIT = Rate(20.0, 100.0)
LEAST = Rate(10.0, 100.0)
UP = Segment("up", SegmentKind.RAMP, to_c=500.0, max_rates=(LIMIT,))
BRISK = Segment("brisk", SegmentKind.RAMP, to_c=500.0, max_rates=(LIMIT,), min_rate=LEAST)
HOLD = Segment("hold", SegmentKind.SOAK, at_c=500.0, band_c=(-10.0, 15.0), hold_s=600.0)
DOWN = Segment("down", SegmentKind.COOL, to_c=300.0, max_rates=(LIMIT,))
CARRY = Segment("carry", SegmentKind.TRANSFER, within_s=600.0)


def meter(*segments: Segment, index: int = 0) -> CorridorMeter:
    begun = CorridorMeter(Schedule("t", segments))
    begun.enter(index)
    return begun


def test_the_upper_edge_stands_a_whole_climb_above_the_lowest_of_the_window() -> None:
    """A furnace that stands still may climb the whole of it at once."""
    corridor = meter(UP)
    edges = [corridor.feed(float(second), 100.0) for second in range(50)]
    assert edges[-1] == Edges(None, 120.0)
    assert corridor.feed(60.0, 118.0) == Edges(None, 120.0)


def test_the_upper_edge_rises_once_the_low_has_left_the_window() -> None:
    """A second beyond it, the next lowest counts."""
    corridor = meter(UP)
    corridor.feed(0.0, 100.0)
    corridor.feed(50.0, 110.0)
    assert corridor.feed(99.0, 115.0).high_c == 120.0
    assert corridor.feed(101.0, 115.0).high_c == 130.0


def test_of_several_limits_the_tightest_holds() -> None:
    """A short window may forbid what a long one allows."""
    corridor = meter(Segment("up", SegmentKind.RAMP, to_c=500.0, max_rates=(LIMIT, Rate(5.0, 10.0))))
    assert corridor.feed(0.0, 100.0).high_c == 105.0


def test_a_least_rate_wants_a_climb_above_where_it_stood_a_window_ago() -> None:
    """In the first window as much of it as the time that has passed asks for."""
    corridor = meter(BRISK)
    assert corridor.feed(0.0, 100.0).low_c == 100.0
    assert corridor.feed(50.0, 100.0).low_c == pytest.approx(105.0)
    for second in range(51, 201):
        edges = corridor.feed(float(second), 100.0)
    assert edges.low_c == pytest.approx(110.0)


def test_a_soak_is_entered_from_below_and_then_has_its_band() -> None:
    """While it is still approached nothing is too low; the climb limit of the ramp before goes on."""
    corridor = meter(UP, HOLD)
    corridor.feed(0.0, 470.0)
    corridor.enter(1)
    assert corridor.feed(10.0, 480.0) == Edges(None, 490.0)
    corridor.feed(90.0, 491.0)
    assert corridor.feed(300.0, 500.0) == Edges(490.0, 515.0)


def test_cooling_is_bounded_from_below() -> None:
    """The highest of the window, less the fall that is allowed."""
    corridor = meter(DOWN)
    corridor.feed(0.0, 500.0)
    assert corridor.feed(50.0, 490.0) == Edges(480.0, None)


def test_a_ceiling_is_an_edge() -> None:
    """Whatever the climb limit would allow."""
    corridor = meter(Segment("hold", SegmentKind.SOAK, at_c=500.0, band_c=(-10.0, 90.0), hold_s=60.0, ceiling_c=540.0))
    assert corridor.feed(0.0, 500.0).high_c == 540.0


def test_a_transfer_and_the_end_have_no_edges() -> None:
    """The pot is in the air, or nothing is asked any more."""
    corridor = meter(CARRY)
    assert corridor.feed(0.0, 100.0) == Edges()
    corridor.enter(None)
    assert corridor.feed(1.0, 100.0) == Edges()


def test_nothing_is_reckoned_across_a_blind_time() -> None:
    """After it what may be climbed counts from where the furnace is found."""
    corridor = meter(UP)
    corridor.feed(0.0, 100.0)
    corridor.restart()
    assert corridor.feed(50.0, 115.0).high_c == 135.0


def test_long_windows_cost_no_memory() -> None:
    """A day's window is kept in a few hundred points."""
    corridor = meter(
        Segment("up", SegmentKind.RAMP, to_c=900.0, max_rates=(Rate(500.0, 86_400.0),), min_rate=Rate(1.0, 86_400.0))
    )
    for second in range(0, 90_000, 2):
        corridor.feed(float(second), 20.0 + second / 1000.0)
    kept = len(corridor._reach[0]._kept) + len(corridor._past._kept)  # type: ignore[union-attr]
    assert kept < 500
