"""One limit, one judge: where a dot stands to its edge and whether there is a finding is the same question."""

import math
import random
from collections.abc import Iterator

import pytest

from rampwarden.core.limits.edges import Edge, Edges, tightest
from rampwarden.core.limits.segment_limits import SegmentLimits
from rampwarden.core.model import Finding, Noise
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

CALM = Noise(white_c=0.02, flicker_c=0.02, flicker_s=5.0, interval_s=1.0)
LIMIT = Rate(20.0, 100.0)
LEAST = Rate(10.0, 100.0)
UP = Segment("up", SegmentKind.RAMP, to_c=500.0, max_rates=(LIMIT,))
BRISK = Segment("brisk", SegmentKind.RAMP, to_c=500.0, max_rates=(LIMIT,), min_rate=LEAST)
HOLD = Segment("hold", SegmentKind.SOAK, at_c=500.0, band_c=(-10.0, 15.0), hold_s=600.0)
DOWN = Segment("down", SegmentKind.COOL, to_c=300.0, max_rates=(LIMIT,))
CARRY = Segment("carry", SegmentKind.TRANSFER, within_s=600.0)


class Furnace:
    """Judges readings written by hand, a second apart."""

    def __init__(self, *segments: Segment, noise: Noise = CALM) -> None:
        self.schedule = Schedule("t", segments)
        self.noise = noise
        self.limits = SegmentLimits(self.schedule, 0, 0.0, None)
        self.time_s = 0.0

    def read(self, temp_c: float, *, approaching: bool = False, seconds: float = 1.0) -> dict[str, Finding]:
        self.time_s += seconds
        return self.limits.feed(self.time_s, temp_c, self.noise, approaching=approaching, raised=())

    def enter(self, index: int, slope_c_per_s: float = 0.0) -> None:
        self.limits = SegmentLimits(self.schedule, index, self.time_s, self.limits, slope_c_per_s)

    @property
    def corridor(self) -> Edges:
        return tightest(self.limits.edges())


def test_the_upper_edge_is_one_climb_above_where_the_window_began() -> None:
    """20 °C in 100 s: on a steady ramp the edge lies 20 °C above where it was a hundred seconds ago."""
    furnace = Furnace(UP)
    for second in range(400):
        furnace.read(100.0 + 0.1 * second)
    assert furnace.corridor.high_c == pytest.approx(139.9 - 10.0 + 20.0, abs=0.05)
    assert furnace.corridor.low_c is None


def test_a_cooling_has_its_edge_below() -> None:
    """What may fall within the window."""
    furnace = Furnace(DOWN)
    for second in range(400):
        furnace.read(500.0 - 0.1 * second)
    assert furnace.corridor.low_c == pytest.approx(460.1 + 10.0 - 20.0, abs=0.05)


def test_the_lower_edge_of_a_least_rate_leads_on_from_a_window_ago() -> None:
    """10 °C in 100 s wanted, 5 climbed: the edge lies 5 °C above. Before the window has been seen there is none."""
    furnace = Furnace(BRISK)
    furnace.read(100.0)
    assert furnace.corridor.low_c is None
    for second in range(1, 400):
        furnace.read(100.0 + 0.05 * second)
    assert furnace.corridor.low_c == pytest.approx(119.95 + 5.0, abs=0.1)


def test_a_soak_has_its_band_once_it_has_been_reached() -> None:
    """Until then the lower edge is where it is going, not where it must be."""
    furnace = Furnace(UP, HOLD)
    furnace.read(480.0)
    furnace.enter(1)
    furnace.read(481.0, approaching=True)
    assert furnace.corridor.low_c is None
    furnace.read(495.0)
    assert furnace.corridor.low_c == 490.0


def test_before_the_first_reading_there_is_no_edge() -> None:
    """And a transfer has none at all."""
    assert Furnace(UP).corridor == Edges()
    carried = Furnace(CARRY)
    carried.read(100.0)
    assert carried.corridor == Edges()


def test_long_windows_cost_no_memory() -> None:
    """A day's window is kept in a few hundred points."""
    day = Segment("up", SegmentKind.RAMP, to_c=900.0, max_rates=(Rate(500.0, 86_400.0),))
    after = Segment("on", SegmentKind.RAMP, to_c=950.0, max_rates=(Rate(900.0, 2 * 86_400.0),))
    furnace = Furnace(day, after)
    for second in range(0, 90_000, 2):
        furnace.read(20.0 + second / 1000.0, seconds=2.0)
    budget, (course,) = furnace.limits._rates._budgets[0], furnace.limits._rates._recent
    assert len(budget._calm._lows) + len(course._points) < 500


# The property: a dot outside by more than the margin, and a finding, are one thing.


def drawn_course(dice: random.Random, seconds: int, from_c: float, rate: Rate) -> Iterator[float]:
    """A course in straight pieces about what is allowed, with lids, notches, sags and jumps."""
    temp_c, second = from_c, 0
    flicker_c = 0.0
    while second < seconds:
        piece = dice.choice(("ramp", "ramp", "hold", "fall", "notch", "lid"))
        lasts = int(rate.window_s * dice.uniform(0.05, 1.5)) + 1
        slope = {"ramp": dice.uniform(0.3, 3.0), "fall": -dice.uniform(0.3, 3.0)}.get(piece, 0.0) * rate.c_per_s
        depth_c = dice.uniform(0.5, 3.0) * rate.climb_c if piece == "lid" else 0.0
        if piece == "notch":
            temp_c += dice.uniform(0.3, 1.3) * rate.climb_c * dice.choice((1.0, -1.0))
        for passed in range(lasts):
            temp_c += slope
            flicker_c = 0.9 * flicker_c + dice.gauss(0.0, 0.05)
            lid_c = depth_c * (1.0 - math.exp(-min(passed, 30) / 10.0)) * math.exp(-max(0, passed - 30) / 10.0)
            yield temp_c - lid_c + flicker_c + dice.gauss(0.0, 0.05)
        second += lasts


def drawn_segments(dice: random.Random) -> tuple[Segment, ...]:
    """Two to four segments, climbing or cooling, with one or two limits each."""

    def rates() -> tuple[Rate, ...]:
        window_s = dice.choice((60.0, 120.0, 300.0, 900.0))
        slow = Rate(dice.uniform(5.0, 60.0), window_s)
        return (slow, Rate(0.6 * slow.climb_c, 0.2 * window_s)) if dice.random() < 0.3 else (slow,)

    def one(number: int) -> Segment:
        name = f"{number}"
        if cooling:
            return Segment(name, SegmentKind.COOL, to_c=20.0, max_rates=rates())
        if dice.random() < 0.25:
            limits = rates() if dice.random() < 0.5 else ()
            return Segment(name, SegmentKind.SOAK, at_c=500.0, band_c=(-15.0, 15.0), hold_s=600.0, max_rates=limits)
        ceiling_c = dice.choice((None, 480.0, 520.0))
        limits = rates()
        least = Rate(0.3 * limits[0].climb_c, limits[0].window_s) if dice.random() < 0.4 else None
        return Segment(name, SegmentKind.RAMP, to_c=900.0, max_rates=limits, min_rate=least, ceiling_c=ceiling_c)

    cooling = dice.random() < 0.3
    return tuple(one(number) for number in range(dice.randint(2, 4)))


def check_agreement(edges: list[Edge], temp_c: float, found: set[str], found_before: set[str]) -> set[str]:
    """Hold every edge against the findings; gives the alarms beyond whose edge the dot stands."""
    crossed = {edge.alarm for edge in edges if edge.crossed_by(temp_c)}
    assert crossed <= found, "the dot stands outside, and nothing is found"
    judged = {edge.alarm for edge in edges}
    # A finding begins beyond its edge; a budget keeps one until its deadband is made good.
    assert (found & judged) - found_before <= crossed, "something is found, and the dot stands inside"
    return crossed


@pytest.mark.parametrize("seed", range(40))
def test_the_dot_is_outside_exactly_where_there_is_a_finding(seed: int) -> None:
    """Over drawn courses through drawn segments, at every reading, for every edge."""
    dice = random.Random(f"edges {seed}")
    furnace = Furnace(*drawn_segments(dice))
    before: set[str] = set()
    for index, segment in enumerate(furnace.schedule.segments):
        if index:
            furnace.enter(index, dice.uniform(-0.5, 0.5))
        rate = furnace.schedule.limits_in_force(index)[:1] or (LIMIT,)
        for temp_c in drawn_course(dice, 700, dice.choice((450.0, 480.0)), rate[0]):
            found = set(furnace.read(temp_c, approaching=segment.kind is SegmentKind.SOAK and dice.random() < 0.1))
            check_agreement(furnace.limits.edges(), temp_c, found, before)
            before = found


def test_the_drawn_courses_reach_every_edge() -> None:
    """Else the property would hold for want of trying."""
    crossed: set[str] = set()
    for seed in range(40):
        dice = random.Random(f"edges {seed}")
        furnace = Furnace(*drawn_segments(dice))
        rate = furnace.schedule.limits_in_force(0)[:1] or (LIMIT,)
        for temp_c in drawn_course(dice, 1200, 480.0, rate[0]):
            furnace.read(temp_c)
            crossed |= {edge.alarm for edge in furnace.limits.edges() if edge.crossed_by(temp_c)}
    assert crossed == {"ramp-high", "ramp-low", "cooling-fast", "temperature-high", "soak-deviation"}
