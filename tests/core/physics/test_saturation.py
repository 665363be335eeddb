"""Propane and steam against an independent equation of state, and against pressures worked out by it."""

import pytest
from CoolProp.CoolProp import PropsSI

from rampwarden.core.physics.saturation import (
    ATMOSPHERE_BAR,
    PROPANE,
    WATER,
    Saturation,
    propane_heat_of_boiling_j_per_kg,
)

ZERO_C_IN_K = 273.15


@pytest.mark.parametrize("temp_c", range(-60, 61, 5))
def test_propane_boils_at_the_pressure_of_its_equation_of_state(temp_c: int) -> None:
    """Within 0.01 %."""
    expected_bar = PropsSI("P", "T", temp_c + ZERO_C_IN_K, "Q", 0, "Propane") / 1e5
    assert PROPANE.bar(float(temp_c)) == pytest.approx(expected_bar, rel=1e-4)


@pytest.mark.parametrize("temp_c", [1, 20, 75, 100, 120, 150, 170, 180, 200, 250, 300, 350])
def test_water_boils_at_the_pressure_of_its_equation_of_state(temp_c: int) -> None:
    """Within 0.01 %, from cold to near the critical point."""
    expected_bar = PropsSI("P", "T", temp_c + ZERO_C_IN_K, "Q", 0, "Water") / 1e5
    assert WATER.bar(float(temp_c)) == pytest.approx(expected_bar, rel=1e-4)


@pytest.mark.parametrize(
    ("temp_c", "bar"),
    [(100, 1.014), (120, 1.99), (150, 4.76), (170, 7.92), (180, 10.0), (200, 15.5), (250, 39.8), (300, 85.9)],
)
def test_steam_pushes_as_hard_as_the_tables_say(temp_c: int, bar: float) -> None:
    """IAPWS, to half a unit of the last digit: why drying ends below 200 °C."""
    assert WATER.bar(float(temp_c)) == pytest.approx(bar, abs=0.06)


@pytest.mark.parametrize(
    ("temp_c", "gauge_bar"),
    [(-40, 0.10), (-30, 0.67), (-20, 1.43), (-10, 2.44), (0, 3.73), (10, 5.35), (20, 7.35), (30, 9.78), (40, 12.7)],
)
def test_a_gauge_on_propane_shows_the_pressure_of_its_temperature(temp_c: int, gauge_bar: float) -> None:
    """Pure propane by its equation of state; commercial mixtures lie somewhat higher."""
    assert PROPANE.bar(float(temp_c)) - ATMOSPHERE_BAR == pytest.approx(gauge_bar, abs=0.02)


@pytest.mark.parametrize("temp_c", range(-50, 51, 5))
def test_boiling_propane_takes_the_heat_of_its_equation_of_state(temp_c: int) -> None:
    """Watson's rule, within the 2 % that is stated."""
    enthalpies = [PropsSI("H", "T", temp_c + ZERO_C_IN_K, "Q", share, "Propane") for share in (1, 0)]
    assert propane_heat_of_boiling_j_per_kg(float(temp_c)) == pytest.approx(enthalpies[0] - enthalpies[1], rel=0.02)


@pytest.mark.parametrize("fluid", [PROPANE, WATER])
@pytest.mark.parametrize("bar", [0.5, 1.01325, 2.01325, 20.0])
def test_the_boiling_point_is_the_way_back_from_the_pressure(fluid: Saturation, bar: float) -> None:
    """There and back; propane at one atmosphere is at -42.1 °C."""
    assert fluid.bar(fluid.temp_c(bar)) == pytest.approx(bar, rel=1e-6)
    assert PROPANE.temp_c(ATMOSPHERE_BAR) == pytest.approx(-42.1, abs=0.05)


def test_nothing_boils_outside_its_curve() -> None:
    """Frozen, supercritical, or under more than the critical pressure."""
    with pytest.raises(ValueError, match=r"water boils between 0\.01 and 373\.9 °C, not at -5 °C"):
        WATER.bar(-5.0)
    with pytest.raises(ValueError, match="propane boils between -100 and 96"):
        PROPANE.bar(97.0)
    with pytest.raises(ValueError, match="propane does not boil at 50 bar absolute"):
        PROPANE.temp_c(50.0)
