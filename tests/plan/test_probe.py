"""How hot, how wrong and how slow a thermocouple is, against the published tables."""

import math

import pytest

from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.plan.probe import Probe, Sheath, time_constant_s, uncertainty_c, use_limits

# ASTM E230, suggested upper limits of protected wire, °C, by AWG 8, 14, 20, 24, 28 and 30.
SIZES_MM = (3.25, 1.63, 0.81, 0.51, 0.33, 0.25)
PROTECTED_C = {
    "K": (1260, 1090, 980, 870, 870, 760),
    "N": (1260, 1090, 980, 870, 870, 760),
    "J": (760, 590, 480, 370, 370, 320),
    "E": (870, 650, 540, 430, 430, 370),
}


@pytest.mark.parametrize("letter", PROTECTED_C)
def test_a_wire_in_a_tube_is_good_for_what_the_table_says(letter: str) -> None:
    """Every printed cell."""
    for diameter_mm, limit_c in zip(SIZES_MM, PROTECTED_C[letter], strict=True):
        [limit] = use_limits(Probe(letter, 2, wire_mm=diameter_mm))
        assert (limit.limit_c, limit.because) == (limit_c, f"type {letter} wire of {diameter_mm:g} mm in a tube")


@pytest.mark.parametrize(
    ("letter", "wire_mm", "limit_c"),
    [
        ("K", 3.2, 1260.0),  # sold for 3.25
        ("K", 0.8, 980.0),  # sold for 0.81
        ("K", 2.5, 1090.0),  # between two sizes: the thinner one's
        ("K", 0.1, 760.0),  # thinner than all: the thinnest one's
        ("K", 6.0, 1260.0),
        ("T", 3.25, 370.0),
        ("S", 0.5, 1480.0),
        ("S", 0.3, 1480.0),
        ("B", 0.5, 1700.0),
    ],
)
def test_a_wire_that_is_not_in_the_table_takes_the_thinner_ones_limit(
    letter: str, wire_mm: float, limit_c: float
) -> None:
    """A wire lives no longer for being rounded up."""
    assert use_limits(Probe(letter, 2, wire_mm=wire_mm))[0].limit_c == limit_c


def test_a_wire_bare_in_the_flame_loses_150_degrees() -> None:
    """Common practice, no source: 100 to 150."""
    [limit] = use_limits(Probe("K", 2, wire_mm=3.25, sheath=Sheath.NONE))
    assert (limit.limit_c, limit.because) == (1110.0, "type K wire of 3.25 mm, bare in the flame")


@pytest.mark.parametrize(
    ("sheath_mm", "limit_c"),
    [(0.5, 700), (1.0, 700), (1.5, 920), (1.6, 920), (2.0, 1000), (3.0, 1070), (4.5, 1150), (8.0, 1150)],
)
def test_a_mineral_insulated_cable_is_good_for_what_its_diameter_allows(sheath_mm: float, limit_c: float) -> None:
    """ASTM E608, from memory."""
    assert [limit.limit_c for limit in use_limits(Probe("K", 2, sheath_mm=sheath_mm))] == [limit_c]


def test_the_weakest_part_comes_first() -> None:
    """Sheath of 304 at 900 °C before a cable of 6 mm at 1150; a ceramic tube has a limit of its own and no cable's."""
    steel = use_limits(Probe("K", 2, sheath_mm=6.0, sheath=Sheath.STEEL_304))
    assert [limit.limit_c for limit in steel] == [900.0, 1150.0]
    ceramic = use_limits(Probe("S", 2, wire_mm=0.5, sheath_mm=10.0, sheath=Sheath.MULLITE))
    assert [limit.limit_c for limit in ceramic] == [1480.0, 1700.0]
    assert use_limits(Probe("K", 2, sheath_mm=12.0, sheath=Sheath.SILICON_CARBIDE)) == []
    assert use_limits(Probe("K", 2)) == []


@pytest.mark.parametrize(
    ("tolerance_class", "temp_c", "tolerance_c"),
    [
        (1, 573.0, 2.3),
        (2, 573.0, 4.3),
        (1, 900.0, 3.6),
        (2, 900.0, 6.8),
        (1, 1000.0, 4.0),
        (2, 1000.0, 7.5),
        (2, 1200.0, 9.0),
    ],
)
def test_what_a_reading_is_worth_rests_on_the_printed_tolerance(
    tolerance_class: int, temp_c: float, tolerance_c: float
) -> None:
    """IEC 60584-1 for type K, and on top of it junction, gain and drift, evenly spread, at k = 2."""
    assert thermocouple("K").tolerance_c(temp_c, tolerance_class) == pytest.approx(tolerance_c, abs=0.051)
    drift_c = 4.0 if temp_c < 600.0 else 5.0
    bounds = (thermocouple("K").tolerance_c(temp_c, tolerance_class), 1.0, 0.001 * temp_c, drift_c)
    expected_c = 2.0 * math.sqrt(sum((bound / math.sqrt(3.0)) ** 2 for bound in bounds))
    assert uncertainty_c("K", tolerance_class, temp_c) == pytest.approx(expected_c)


def test_at_900_c_type_k_of_class_2_is_quoted_with_10_degrees() -> None:
    """6.8 of wire, 1 of junction, 0.9 of gain, up to 5 of drift: about ±10 °C before placement."""
    assert uncertainty_c("K", 2, 900.0) == pytest.approx(10.0, abs=0.5)


def test_only_type_k_is_said_to_drift_since_only_of_it_there_is_a_figure() -> None:
    """The same tolerances, less uncertainty."""
    assert uncertainty_c("N", 2, 900.0) < uncertainty_c("K", 2, 900.0)
    assert uncertainty_c("K", 2, 200.0) == uncertainty_c("N", 2, 200.0)


@pytest.mark.parametrize(
    ("sheath_mm", "t50_s", "t90_s"), [(1.5, 8, 25), (3.0, 23, 80), (4.5, 37, 120), (6.0, 60, 200), (8.0, 100, 360)]
)
def test_a_probe_follows_as_slowly_as_the_response_tables_say(sheath_mm: float, t50_s: float, t90_s: float) -> None:
    """In air, insulated junction: from t90 exactly, and from t50 within the tables' own disagreement."""
    slowness_s = time_constant_s(Probe("K", 2, sheath_mm=sheath_mm))
    assert slowness_s == pytest.approx(t90_s / 2.303, rel=1e-3)
    assert slowness_s == pytest.approx(t50_s / 0.693, rel=0.11)


def test_a_probe_between_two_sizes_is_as_slow_as_the_thicker_one() -> None:
    """And a wire no slower than a cable of its diameter; a ceramic tube has its own; unknown is unknown."""
    assert time_constant_s(Probe("K", 2, sheath_mm=3.2)) == time_constant_s(Probe("K", 2, sheath_mm=4.5))
    assert time_constant_s(Probe("K", 2, sheath_mm=20.0)) == time_constant_s(Probe("K", 2, sheath_mm=8.0))
    assert time_constant_s(Probe("K", 2, wire_mm=3.2, sheath=Sheath.NONE)) == time_constant_s(
        Probe("K", 2, sheath_mm=4.5)
    )
    assert time_constant_s(Probe("K", 2, wire_mm=0.5, sheath_mm=12.0, sheath=Sheath.ALUMINA)) == 120.0
    assert time_constant_s(Probe("K", 2)) is None
