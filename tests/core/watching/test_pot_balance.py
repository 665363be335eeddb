"""A drying pot with a probe on it and one in its oven: grams while they leave, dry when it is, and what comes of it."""

import dataclasses
import math
import random
from functools import cache

import pytest

from rampwarden.core.model import Event, EventName, ProbeReading, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters, OtherProbe
from rampwarden.core.physics import DryHeat
from rampwarden.core.pot import IN_USE, NEW_POT, ClaimName, ClaimShown, PotStanding
from rampwarden.core.quantities import parse_rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.outputs.status_line import physics_lines
from wet_pot import climbing_oven
from wet_wall import POT_J_PER_K, wet_wall

pytestmark = pytest.mark.long


SCHEDULE = Schedule(
    "drying",
    (
        Segment("drying", SegmentKind.RAMP, to_c=200.0, max_rates=(parse_rate("25 C / 15 min"),)),
        Segment("dry soak", SegmentKind.SOAK, at_c=200.0, hold_s=1800.0),
    ),
)
SECONDS = 11_000


@cache
def course(grams: float) -> list[tuple[float, float, float]]:
    """Give a wall's course in an oven at 90 K/h, a point each five seconds."""
    return wet_wall(grams, climbing_oven(90.0), SECONDS, every_s=5)[0]


def known(standing: PotStanding = NEW_POT, dry: DryHeat | None = None, place: str = "pot") -> MonitorParameters:
    """Give the parameters of a watch that knows its pot's mass and has a probe in the oven, or on the pot."""
    other = OtherProbe(name="second", place="chamber" if place == "pot" else "pot")
    return dataclasses.replace(
        MonitorParameters(), place=place, standing=standing, probes=(other,), pot_j_per_k=POT_J_PER_K, dry_heat=dry
    )


def watched(monitor: Monitor, grams: float, *, follows_pot: bool = True) -> list[Event]:
    """Watch such a drying by two probes."""
    dice, events = random.Random(f"balance {grams}"), []
    for at_s, pot_c, oven_c in course(grams):
        shown = [pot_c + dice.gauss(0.0, 0.15), oven_c + dice.gauss(0.0, 0.15)]
        if not follows_pot:
            shown.reverse()
        events += monitor.feed(Reading(at_s, temp_c=shown[0]))
        events += monitor.feed(ProbeReading(at_s + 0.5, "second", temp_c=shown[1]))
    return events


@cache
def dry_heat() -> DryHeat:
    """Give what a heat of the dry pot showed."""
    monitor = Monitor(SCHEDULE, known(IN_USE))
    watched(monitor, 0.0)
    dry = monitor.physics.dry_heat
    assert dry is not None
    return dry


@pytest.mark.parametrize("grams", [50.0, 150.0, 250.0])
def test_grams_are_told_and_dry_when_it_is_and_the_account_takes_it(grams: float) -> None:
    """By the dry heat of the register; whichever of the two probes is followed."""
    for place in ("pot", "chamber"):
        monitor = Monitor(SCHEDULE, known(dry=dry_heat(), place=place))
        events = watched(monitor, grams, follows_pot=place == "pot")
        water = monitor.status().water
        assert water is not None
        assert water.gone_g == pytest.approx(grams, abs=40.0)
        assert water.gone_range_g is not None
        assert water.gone_range_g[0] <= grams <= water.gone_range_g[1]
        assert water.is_dry
        said = [event for event in events if event.event is EventName.OBSERVED and "no water leaves" in event.text]
        assert len(said) == 1
        assert "by the heat balance of pot and oven" in said[0].text
        assert monitor.account().claim(ClaimName.DRIED).shown is ClaimShown.SHOWN
        assert "no water leaves the pot any more" in physics_lines(monitor.status())[0]
        assert "g of water gone by the heat balance" in physics_lines(monitor.status())[0]


def test_without_a_dry_heat_grams_are_told_and_no_dryness() -> None:
    """An assumed oven proves nothing: weigh it."""
    monitor = Monitor(SCHEDULE, known())
    events = watched(monitor, 150.0)
    water = monitor.status().water
    assert water is not None
    assert water.gone_range_g is not None
    assert water.gone_range_g[0] <= 150.0 <= water.gone_range_g[1]
    assert not water.is_dry
    assert any("not shown to be all of it: weigh the pot" in event.text for event in events)
    assert monitor.account().claim(ClaimName.DRIED).shown is not ClaimShown.SHOWN


def test_only_a_pot_that_was_dry_before_teaches() -> None:
    """What a pot of which nobody knows shows is water as well."""
    monitor = Monitor(SCHEDULE, known(NEW_POT))
    watched(monitor, 0.0)
    assert monitor.physics.dry_heat is None
    assert dry_heat().exchange_w_per_k == pytest.approx(2.85, abs=0.1)


def test_without_a_mass_or_a_second_probe_there_is_no_balance() -> None:
    """And events are as they were."""
    for parameters in (
        dataclasses.replace(known(), pot_j_per_k=None),
        dataclasses.replace(known(), probes=()),
    ):
        monitor = Monitor(SCHEDULE, parameters)
        watched(monitor, 150.0)
        water = monitor.status().water
        assert water is not None
        assert water.gone_g is None


def test_a_probe_that_slips_ends_the_balance() -> None:
    """What it shows from then on is no heat of the pot's."""
    monitor = Monitor(SCHEDULE, known(dry=dry_heat()))
    dice = random.Random("slips")
    slips_s = next(at_s for at_s, pot_c, _ in course(150.0) if pot_c > 85.0)
    told_g = None
    for at_s, pot_c, oven_c in course(150.0):
        # Whatever it touches now, a probe follows with its own eight seconds.
        off_c = -25.0 * (1.0 - math.exp(-max(0.0, at_s - slips_s) / 8.0))
        events = monitor.feed(Reading(at_s, temp_c=pot_c - off_c + dice.gauss(0.0, 0.15)))
        events += monitor.feed(ProbeReading(at_s + 0.5, "second", temp_c=oven_c + dice.gauss(0.0, 0.15)))
        if any(event.alarm == "probes-disagree" for event in events) and told_g is None:
            water = monitor.status().water
            assert water is not None
            told_g = water.gone_g
    water = monitor.status().water
    assert water is not None
    assert told_g is not None
    assert water.gone_g == told_g
    assert not water.is_dry
    assert monitor.account().claim(ClaimName.DRIED).shown is not ClaimShown.SHOWN
