"""A probe out of its place, told from a pot that cools."""

import math

import pytest

from rampwarden.core.heat.pulled_probe import PulledProbe


def pulled(from_c: float, to_c: float, tau_s: float, for_s: int = 200) -> bool:
    """Whether a fall with this time constant is taken for a pulled probe within so many seconds."""
    probe = PulledProbe()
    for second in range(30):
        probe.feed(float(second), from_c)
    return any(probe.feed(30.0 + second, to_c + (from_c - to_c) * math.exp(-second / tau_s)) for second in range(for_s))


@pytest.mark.parametrize("tau_s", [3.0, 6.0, 20.0])
@pytest.mark.parametrize("from_c", [200.0, 700.0, 1150.0])
def test_one_that_is_pulled_reads_the_room_within_a_minute(from_c: float, tau_s: float) -> None:
    """A bare wire and a thick sheath, from drying heat and from red heat."""
    assert pulled(from_c, 25.0, tau_s)


@pytest.mark.parametrize("tau_s", [600.0, 3600.0])
def test_a_pot_that_cools_is_not_pulled(tau_s: float) -> None:
    """Even one that stands in the open."""
    assert not pulled(900.0, 25.0, tau_s)


def test_a_lid_that_is_lifted_pulls_nothing() -> None:
    """112 °C in a minute and a half, as a bare probe under an open lid shows it."""
    assert not pulled(900.0, 770.0, 45.0)


def test_put_back_it_is_in_its_place_again() -> None:
    """As soon as it climbs well above where it had fallen to."""
    probe = PulledProbe()
    probe.feed(0.0, 800.0)
    assert probe.feed(10.0, 30.0)
    assert probe.feed(400.0, 28.0)
    assert probe.feed(410.0, 60.0)
    assert not probe.feed(415.0, 300.0)


def test_the_highest_of_the_last_moments_counts_and_nothing_older() -> None:
    """However they lie: a fall within the time is one, and the same fall drawn out over more is none."""
    for gone_s, is_pulled in ((19.0, True), (21.0, False)):
        probe = PulledProbe()
        for time_s, temp_c in ((0.0, 300.0), (1.0, 230.0), (2.0, 240.0), (3.0, 235.0)):
            probe.feed(time_s, temp_c)
        probe.feed(10.0, 239.0)
        assert probe.feed(gone_s, 200.0) is is_pulled
