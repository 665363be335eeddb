"""How hot, how wrong and how slow a thermocouple is, against ASTM E230 and E608, and an energy balance of our own."""

import pytest

from rampwarden.plan.probe import Probe, Sheath, time_constant_s, use_limits

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
    """Sheath of 304 at 800 °C before a cable of 6 mm at 1150; a ceramic tube has a limit of its own and no cable's."""
    steel = use_limits(Probe("K", 2, sheath_mm=6.0, sheath=Sheath.STEEL_304))
    assert [limit.limit_c for limit in steel] == [800.0, 1150.0]
    ceramic = use_limits(Probe("S", 2, wire_mm=0.5, sheath_mm=10.0, sheath=Sheath.MULLITE))
    assert [limit.limit_c for limit in ceramic] == [1480.0, 1700.0]
    assert use_limits(Probe("K", 2, sheath_mm=12.0, sheath=Sheath.SILICON_CARBIDE)) == []
    assert use_limits(Probe("K", 2)) == []


@pytest.mark.parametrize(("temp_c", "seconds"), [(100, 75), (300, 55), (600, 29), (900, 15), (1100, 10)])
def test_towards_red_heat_radiation_makes_a_probe_follow_faster(temp_c: float, seconds: float) -> None:
    """6 mm, by an energy balance of our own: emissivity 0.8 and 3.54 MJ/(m³ K). Within a second."""
    assert time_constant_s(Probe("K", 2, sheath_mm=6.0), temp_c) == pytest.approx(seconds, abs=1.0)


@pytest.mark.parametrize(
    ("sheath_mm", "t50_s", "t90_s"), [(1.5, 8, 25), (3.0, 23, 80), (4.5, 37, 120), (6.0, 60, 200), (8.0, 100, 360)]
)
def test_where_nothing_radiates_a_probe_follows_as_slowly_as_in_tables(
    sheath_mm: float, t50_s: float, t90_s: float
) -> None:
    """In air, insulated junction, common practice, no source: by t90, and by t50 within the tables' disagreement."""
    slowness_s = time_constant_s(Probe("K", 2, sheath_mm=sheath_mm), -273.15)
    assert slowness_s == pytest.approx(t90_s / 2.303, rel=1e-3)
    assert slowness_s == pytest.approx(t50_s / 0.693, rel=0.11)


def test_a_probe_between_two_sizes_is_as_slow_as_the_thicker_one() -> None:
    """In cool air; a wire is no slower than a cable of its diameter; a ceramic tube has its own; unknown is unknown."""
    cold_c = -273.15
    assert time_constant_s(Probe("K", 2, sheath_mm=3.2), cold_c) == time_constant_s(
        Probe("K", 2, sheath_mm=4.5), cold_c
    )
    assert time_constant_s(Probe("K", 2, sheath_mm=20.0), cold_c) == time_constant_s(
        Probe("K", 2, sheath_mm=8.0), cold_c
    )
    bare = Probe("K", 2, wire_mm=3.2, sheath=Sheath.NONE)
    assert time_constant_s(bare, cold_c) == time_constant_s(Probe("K", 2, sheath_mm=4.5), cold_c)
    tube = Probe("K", 2, wire_mm=0.5, sheath_mm=12.0, sheath=Sheath.ALUMINA)
    assert time_constant_s(tube, cold_c) == pytest.approx(120.0)
    assert time_constant_s(Probe("K", 2), 20.0) is None
