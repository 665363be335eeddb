"""The wall against worked numbers, a difference scheme of our own, and a textbook's answers."""

import pytest

from rampwarden.plan.wall import (
    Body,
    built_up,
    limit_cooling_k_per_h,
    limit_heating_k_per_h,
    mean_lag_k,
    settling_s,
    stress,
    sudden_difference_k,
    through_wall_k,
)

FIRECLAY_M2_PER_S = 5.11e-7
FIRECLAY = Body(5.13e-7, 1.05, 12.0, 5.5e-6, 6.0, 0.2, "worked number")
ZIRCONIA = Body(4.54e-7, 1.63, 25.0, 8.0e-6, 10.0, 0.25, "worked number")
GRAPHITE_WALL = Body(5.3e-6, 12.0, 12.0, 4.0e-6, 8.0, 0.15, "worked number")


def explicit_scheme_k(
    ramp_k_per_h: float, wall_m: float, diffusivity: float, seconds: float, cells: int = 48
) -> tuple[float, float]:
    """Give the difference through the wall and its mean lag by an explicit difference scheme, back insulated."""
    width_m = wall_m / cells
    step_s = 0.4 * width_m**2 / diffusivity
    temps_k = [0.0] * (cells + 1)
    for number in range(1, int(seconds / step_s) + 1):
        # The node beyond the insulated back mirrors the one before it.
        inner = [
            here + 0.4 * (before - 2.0 * here + after)
            for before, here, after in zip(temps_k, temps_k[1:], [*temps_k[2:], temps_k[-2]], strict=False)
        ]
        temps_k = [ramp_k_per_h / 3600.0 * number * step_s, *inner]
    mean_k = (sum(temps_k) - 0.5 * (temps_k[0] + temps_k[-1])) / cells
    return temps_k[0] - temps_k[-1], temps_k[0] - mean_k


def test_a_fireclay_wall_of_12_mm_at_300_k_per_h_has_11_75_k_through_it() -> None:
    """W1: by formula 11.74 with the diffusivity as printed, and a difference scheme agrees."""
    difference_k = through_wall_k(300.0, 0.012, FIRECLAY_M2_PER_S)
    assert difference_k == pytest.approx(11.75, abs=0.01)
    reckoned_k, lag_k = explicit_scheme_k(300.0, 0.012, FIRECLAY_M2_PER_S, 3.0 * settling_s(0.012, FIRECLAY_M2_PER_S))
    assert reckoned_k == pytest.approx(difference_k, abs=0.02)
    assert mean_lag_k(300.0, 0.012, FIRECLAY_M2_PER_S) == pytest.approx(7.83, abs=0.005)
    assert lag_k == pytest.approx(7.83, abs=0.02)


@pytest.mark.parametrize(
    ("ramp_k_per_h", "wall_m", "diffusivity", "printed_k"),
    [
        (600.0, 0.020, 1.762e-6, 18.9),  # W2: silicon carbide brick of 40 %
        (1200.0, 0.012, 5.28e-7, 45.5),  # W3: zirconia brick
    ],
)
def test_other_walls_have_the_difference_worked_out_for_them(
    ramp_k_per_h: float, wall_m: float, diffusivity: float, printed_k: float
) -> None:
    """W2 and W3, to half a unit of the last digit."""
    assert through_wall_k(ramp_k_per_h, wall_m, diffusivity) == pytest.approx(printed_k, abs=0.05)


def test_a_wall_heated_from_both_sides_counts_half() -> None:
    """W4: 24 mm from both sides is 12 mm from one; so r L²/(8a)."""
    both_k = 300.0 / 3600.0 * 0.024**2 / (8.0 * FIRECLAY_M2_PER_S)
    assert through_wall_k(300.0, 0.024 / 2.0, FIRECLAY_M2_PER_S) == pytest.approx(both_k)


@pytest.mark.parametrize(
    ("fourier", "share"),
    [(0.1, 0.198), (0.25, 0.443), (0.5, 0.699), (1.0, 0.912), (1.5, 0.975), (2.0, 0.993)],
)
def test_the_difference_builds_up_as_the_series_says(fourier: float, share: float) -> None:
    """Carslaw and Jaeger's series, to the digits worked out, and our difference scheme beside it."""
    seconds = fourier * settling_s(0.02, 1e-6)
    assert built_up(seconds, 0.02, 1e-6) == pytest.approx(share, abs=0.0005)
    reckoned_k, _ = explicit_scheme_k(600.0, 0.02, 1e-6, seconds)
    assert reckoned_k / through_wall_k(600.0, 0.02, 1e-6) == pytest.approx(share, abs=0.005)


def test_nothing_has_built_up_before_the_ramp_begins() -> None:
    """Zero, and never less."""
    assert built_up(0.0, 0.02, 1e-6) == built_up(-5.0, 0.02, 1e-6) == 0.0


def test_heating_presses_the_hot_face_twice_as_hard_as_it_pulls_the_cold_one() -> None:
    """W5: fireclay of W1 at 11.75 K."""
    heated = stress(FIRECLAY, 11.75)
    assert heated.hot_face_mpa == pytest.approx(-0.646, abs=0.0005)
    assert heated.cold_face_mpa == pytest.approx(0.323, abs=0.0005)


@pytest.mark.parametrize(
    ("body", "resistance_k", "wall_m", "factor", "heating", "cooling", "tolerance"),
    [
        (FIRECLAY, 72.7, 0.010, 1.0, 8060.0, 4030.0, 5.0),  # W6
        (FIRECLAY, 72.7, 0.020, 4.0, 504.0, 252.0, 0.5),  # W6
        (ZIRCONIA, 37.5, 0.020, 4.0, 230.0, 115.0, 0.5),  # W7
        # W8: printed 10 200 and 5 080, from a resistance rounded to 142 K.
        (GRAPHITE_WALL, 142.0, 0.020, 4.0, 10_200.0, 5_080.0, 70.0),
    ],
)
def test_the_ramp_a_wall_stands_is_the_one_worked_out(
    body: Body, resistance_k: float, wall_m: float, factor: float, heating: float, cooling: float, tolerance: float
) -> None:
    """W6, W7 and W8; cooling is half of heating, since the tension is twice."""
    assert body.shock_resistance_k == pytest.approx(resistance_k, abs=0.4)
    assert limit_heating_k_per_h(body, wall_m, factor) == pytest.approx(heating, abs=tolerance)
    assert limit_cooling_k_per_h(body, wall_m, factor) == pytest.approx(cooling, abs=tolerance)


def test_at_its_limit_without_a_factor_the_wall_carries_just_its_strength() -> None:
    """The limits and the stresses are one theory: at the limit the tension is the bending strength, both ways."""
    heating_k = through_wall_k(limit_heating_k_per_h(ZIRCONIA, 0.015, 1.0), 0.015, ZIRCONIA.diffusivity_m2_per_s)
    cooling_k = through_wall_k(limit_cooling_k_per_h(ZIRCONIA, 0.015, 1.0), 0.015, ZIRCONIA.diffusivity_m2_per_s)
    assert stress(ZIRCONIA, heating_k).cold_face_mpa == pytest.approx(10.0)
    assert -stress(ZIRCONIA, cooling_k).hot_face_mpa == pytest.approx(10.0)


def test_soda_lime_glass_breaks_at_the_textbooks_111_k() -> None:
    """W9: Callister, Materials Science and Engineering, problem 19.D4, printed 111.11."""
    assert sudden_difference_k(69.0, 69.0, 9.0e-6) == pytest.approx(111.11, abs=0.005)


@pytest.mark.parametrize(
    ("young_gpa", "strength_mpa", "expansion_per_k", "right_k", "exchanged_k"),
    [
        (70.0, 69.0, 3.3e-6, 298.7, 307.42),  # borosilicate glass
        (303.0, 358.0, 7.4e-6, 159.7, 114.37),  # 96 % alumina
    ],
)
def test_modulus_and_strength_are_not_exchanged(
    young_gpa: float, strength_mpa: float, expansion_per_k: float, right_k: float, exchanged_k: float
) -> None:
    """The trap: a solution in circulation prints the exchanged ones. Only soda-lime glass, where both are 69, hides it.

    Modulus and strength: the same book's tables, from memory; they give both printed numbers.
    """
    assert sudden_difference_k(young_gpa, strength_mpa, expansion_per_k) == pytest.approx(right_k, abs=0.1)
    assert sudden_difference_k(strength_mpa, young_gpa, expansion_per_k) == pytest.approx(exchanged_k, abs=0.1)


@pytest.mark.parametrize(
    ("young_gpa", "expansion_per_k", "difference_k", "furnace_c"),
    [(69.0, 9.0e-6, 80.5, 105.5), (70.0, 3.3e-6, 216.5, 241.5)],
)
def test_glass_dropped_into_water_of_25_c_stands_so_hot_a_furnace(
    young_gpa: float, expansion_per_k: float, difference_k: float, furnace_c: float
) -> None:
    """W10: the same equation with 50 MPa; the problem is published, its answers are ours."""
    stands_k = sudden_difference_k(young_gpa, 50.0, expansion_per_k)
    assert stands_k == pytest.approx(difference_k, abs=0.05)
    assert 25.0 + stands_k == pytest.approx(furnace_c, abs=0.05)
