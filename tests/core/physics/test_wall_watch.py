"""The wall's difference followed through a heat: what is shown, what rings, and what is forgotten."""

from collections.abc import Callable, Iterator

import pytest

from rampwarden.core.physics.pot_wall import PotWall
from rampwarden.core.physics.wall_watch import WallWatch
from rampwarden.plan import CLASSES, CrucibleClass


def wall_of(crucible_class: CrucibleClass, wall_mm: float) -> PotWall:
    """Give the wall of a class as plan knows it."""
    body = CLASSES[crucible_class].body
    assert body is not None
    return PotWall(wall_mm / 1000.0, body.diffusivity_m2_per_s, body.conductivity_w_per_m_k, body.shock_resistance_k)


FIRECLAY = wall_of(CrucibleClass.FIRECLAY, 12.0)
SIC = wall_of(CrucibleClass.CERAMIC_BONDED_SIC, 20.0)
GRAPHITE = wall_of(CrucibleClass.CLAY_GRAPHITE, 20.0)


def lid_lifted(time_s: float) -> float:
    """Cool at 3 °C/min from 900 °C, and lose 112 °C in the 90 s from 600 s on: the lid is lifted."""
    lost_c = 112.0 * min(max(time_s - 600.0, 0.0), 90.0) / 90.0
    return 900.0 - 0.05 * time_s - lost_c


def run(watch: WallWatch, course: Callable[[float], float], to_s: float, from_s: float = 0.0) -> Iterator[float]:
    """Feed a reading a second; gives the times at which a caution would be found."""
    time_s = from_s
    while time_s <= to_s:
        watch.feed(time_s, course(time_s))
        if watch.finding(raised=False) is not None:
            yield time_s
        time_s += 1.0


@pytest.mark.parametrize(("wall", "from_s", "to_s"), [(FIRECLAY, 612, 618), (SIC, 618, 624)])
def test_a_lid_lifted_on_a_poor_conductor_is_found_within_half_a_minute(
    wall: PotWall, from_s: float, to_s: float
) -> None:
    """Worked out apart from this: 613 and 619 s."""
    assert from_s <= next(run(WallWatch(wall, on_pot=True), lid_lifted, 1200.0)) <= to_s


def test_the_same_lid_does_clay_graphite_no_harm() -> None:
    """1.7 of its 8 MPa at the worst: under a quarter."""
    watch = WallWatch(GRAPHITE, on_pot=True)
    assert list(run(watch, lid_lifted, 1200.0)) == []
    greatest = watch.greatest
    assert greatest is not None
    assert greatest.strength_share * 8.0 == pytest.approx(1.7, abs=0.1)


def test_a_caution_says_kelvin_first_and_that_it_is_an_estimate() -> None:
    """Whoever reads it must know what the figure is worth."""
    watch = WallWatch(FIRECLAY, on_pot=True)
    next(run(watch, lid_lifted, 1200.0))
    finding = watch.finding(raised=False)
    assert finding is not None
    assert finding.unit == "K"
    assert finding.limit == pytest.approx(FIRECLAY.stands_k / 4.0, abs=0.1)
    assert "K colder than the wall's mean" in finding.what
    assert finding.what.endswith("an estimate, good to a factor of two")


def test_a_raised_caution_has_a_deadband() -> None:
    """It hovers about its limit: not told again and again."""
    watch = WallWatch(FIRECLAY, on_pot=True)
    found = list(run(watch, lid_lifted, 1200.0))
    after_s = found[-1] + 1.0
    watch = WallWatch(FIRECLAY, on_pot=True)
    list(run(watch, lid_lifted, after_s))
    assert watch.finding(raised=False) is None
    assert watch.finding(raised=True) is not None


def test_a_chamber_that_cools_strains_the_wall_less() -> None:
    """The face follows a probe in the gap by exchange alone."""
    on_pot, beside = WallWatch(FIRECLAY, on_pot=True), WallWatch(FIRECLAY, on_pot=False)
    list(run(on_pot, lid_lifted, 700.0))
    list(run(beside, lid_lifted, 700.0))
    assert on_pot.greatest is not None
    assert beside.greatest is not None
    assert abs(beside.greatest.through_k) < 0.75 * abs(on_pot.greatest.through_k)


def test_a_cold_pot_is_known_at_once_and_a_hot_one_when_its_past_has_worn_off() -> None:
    """What a wall was before the first reading nobody knows, unless it stood cold."""
    cold, hot = WallWatch(FIRECLAY, on_pot=True), WallWatch(FIRECLAY, on_pot=True)
    list(run(cold, lambda time_s: 20.0 + 0.1 * time_s, 10.0))
    list(run(hot, lambda time_s: 800.0 + 0.1 * time_s, FIRECLAY.settling_s - 5.0))
    assert cold.state() is not None
    assert hot.state() is None
    list(run(hot, lambda time_s: 800.0, FIRECLAY.settling_s + 10.0, FIRECLAY.settling_s - 4.0))
    assert hot.state() is not None


def test_each_segment_has_its_greatest_and_the_heat_the_greatest_of_all() -> None:
    """Heating the outer face is hotter, cooling it is colder."""
    watch = WallWatch(FIRECLAY, on_pot=True)
    list(run(watch, lambda time_s: 20.0 + 0.5 * time_s, 1000.0))
    watch.enter(2)
    list(run(watch, lambda time_s: 520.0 - 0.2 * (time_s - 1000.0), 2000.0, 1001.0))
    first, second = watch.by_segment
    assert (first.segment, second.segment) == (1, 2)
    assert first.through_k == pytest.approx(0.5 * FIRECLAY.settling_s / 2.0, rel=0.02)
    # The wall's own lag from the climb lasts on into the second segment, until cooling has turned it round.
    assert watch.greatest == first
    state = watch.state()
    assert state is not None
    assert state.in_segment == second
    assert state.in_heat == first
    assert state.through_k == pytest.approx(-0.2 * FIRECLAY.settling_s / 2.0, rel=0.02)


def test_what_a_doubted_reading_showed_is_forgotten_and_no_more() -> None:
    """A value that leaps and is then found to have hung: its difference was none of the wall's."""
    watch = WallWatch(FIRECLAY, on_pot=True)
    list(run(watch, lambda time_s: 20.0 + 0.1 * time_s, 600.0))
    true = watch.greatest
    list(run(watch, lambda time_s: 180.0, 640.0, 601.0))
    assert watch.greatest != true
    watch.doubt(600.5)
    assert watch.greatest is not None
    assert true is not None
    assert watch.greatest.through_k == pytest.approx(true.through_k, abs=0.5)
    assert watch.state() is None


def test_a_minute_without_readings_is_bridged_and_more_is_not() -> None:
    """Along a straight line; across a longer silence nobody knows what the wall did."""
    bridged, broken = WallWatch(FIRECLAY, on_pot=True), WallWatch(FIRECLAY, on_pot=True)
    for watch, gap_s in ((bridged, 50.0), (broken, 90.0)):
        list(run(watch, lambda time_s: 20.0 + 0.2 * time_s, 800.0))
        list(run(watch, lambda time_s: 20.0 + 0.2 * time_s, 810.0 + gap_s, 800.0 + gap_s))
    state = bridged.state()
    assert state is not None
    assert state.through_k == pytest.approx(0.2 * FIRECLAY.settling_s / 2.0, rel=0.03)
    assert broken.state() is None


def test_a_slow_board_is_followed_along_its_line() -> None:
    """One reading each 30 s comes to the same difference under an even climb."""
    watch = WallWatch(FIRECLAY, on_pot=True, longest_gap_s=180.0)
    for number in range(60):
        watch.feed(30.0 * number, 20.0 + 0.2 * 30.0 * number)
    state = watch.state()
    assert state is not None
    assert state.through_k == pytest.approx(0.2 * FIRECLAY.settling_s / 2.0, rel=0.03)


def test_nothing_is_followed_while_the_probe_is_away() -> None:
    """Told to rest until a time, the wall begins anew with the first reading after it."""
    watch = WallWatch(FIRECLAY, on_pot=True)
    watch.rest(100.0)
    assert list(run(watch, lid_lifted, 99.0)) == []
    assert watch.state() is None
    assert not watch.feed(100.0, 50.0)
    assert watch.feed(102.0, 50.0)
    assert watch.state() is not None


def test_memory_does_not_grow_with_a_heat_that_climbs_for_days() -> None:
    """The peaks that could be gone back to are thinned, and each segment's greatest is kept."""
    watch = WallWatch(FIRECLAY, on_pot=True, longest_gap_s=60.0)
    first = None
    for number in range(4000):
        if number == 500:
            first = watch.greatest
            watch.enter(2)
        watch.feed(20.0 * number, 20.0 + 1e-5 * number**2)
    assert len(watch._peaks) <= 64
    assert watch.by_segment[0] == first
