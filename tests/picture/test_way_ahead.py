"""Where the temperature is expected to go, and the edges it may not cross there."""

import pytest

from rampwarden.core.heat.legs import legs_ahead
from rampwarden.core.limits.edges import Edges
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.picture.way_ahead import way_ahead

LIMIT = Rate(20.0, 100.0)
UP = Segment("up", SegmentKind.RAMP, to_c=500.0, max_rates=(LIMIT,))
HOLD = Segment("hold", SegmentKind.SOAK, at_c=500.0, band_c=(-10.0, 15.0), hold_s=600.0)
DOWN = Segment("down", SegmentKind.COOL, to_c=300.0, max_rates=(LIMIT,))
CARRY = Segment("carry", SegmentKind.TRANSFER, within_s=600.0)


def test_the_way_ahead_leads_through_every_segment_to_the_end_of_the_outlook() -> None:
    """Ramp, band of the soak, then down, each as long as it is guessed to take."""
    schedule = Schedule("t", (UP, HOLD, DOWN))
    legs = legs_ahead(schedule, 0, 400.0, 450.0, (600.0, 1000.0))
    points = way_ahead(schedule, legs, 1000.0, Edges(None, 410.0))
    assert (points[0].time_s, points[0].way_c, points[0].high_c) == (1000.0, 400.0, 410.0)
    assert points[-1].time_s == pytest.approx(1000.0 + legs[-1].ends_s, abs=0.1)
    assert points[-1].way_c == 300.0
    soaking = [point for point in points if point.low_c == 490.0]
    assert soaking
    assert all(point.high_c == 515.0 for point in soaking)
    assert [point.time_s for point in points] == sorted(point.time_s for point in points)


def test_the_present_edge_leads_on_to_a_whole_climb_above_the_present() -> None:
    """A window from now the low of today has left it."""
    schedule = Schedule("t", (Segment("up", SegmentKind.RAMP, to_c=900.0, max_rates=(LIMIT,)),))
    points = way_ahead(schedule, legs_ahead(schedule, 0, 400.0, 800.0, ()), 0.0, Edges(None, 405.0))
    assert points[0].high_c == 405.0
    assert points[1].time_s == 100.0
    assert points[1].high_c == pytest.approx(420.0)


def test_the_lowest_that_is_allowed_leads_on_past_a_heat_that_trails_and_ends_where_the_ramp_does() -> None:
    """At 0.2 °C/s from its present edge, while the heat goes on at 0.125: an edge above the way is still the edge."""
    up = Segment("up", SegmentKind.RAMP, to_c=500.0, min_rate=LIMIT)
    schedule = Schedule("t", (up,))
    points = way_ahead(schedule, legs_ahead(schedule, 0, 400.0, 800.0, ()), 0.0, Edges(405.0, None))
    assert (points[0].way_c, points[0].low_c) == (400.0, 405.0)
    lows_c = [point.low_c for point in points if point.low_c is not None]
    assert len(lows_c) == len(points)
    assert lows_c == sorted(lows_c)
    assert lows_c[-1] == 500.0


def test_what_cannot_be_guessed_has_no_way() -> None:
    """A transfer ends when somebody has done it."""
    schedule = Schedule("t", (CARRY, UP))
    assert way_ahead(schedule, legs_ahead(schedule, 0, 100.0, None, ()), 0.0, Edges()) == []
