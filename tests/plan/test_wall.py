"""The wall against worked numbers (own arithmetic), a difference scheme of our own, and a textbook's answers."""

import pytest

from rampwarden.core.quantities import Rate
from rampwarden.plan.wall import (
    Body,
    WallCourse,
    even_pull_k,
    settling_s,
    sudden_difference_k,
    tension_mpa,
    through_wall_k,
    worst_course,
    worst_pull_k,
)

FIRECLAY_M2_PER_S = 5.11e-7
FIRECLAY = Body(5.13e-7, 1.05, 12.0, 5.5e-6, 6.0, 0.2, "worked number")
ZIRCONIA = Body(4.54e-7, 1.63, 25.0, 8.0e-6, 10.0, 0.25, "worked number")
SIC_WALL = Body(1.76e-6, 4.2, 40.0, 4.75e-6, 20.0, 0.16, "worked number")
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
    mean_lag_k = even_pull_k(300.0 / 3600.0, 0.012, FIRECLAY_M2_PER_S, cooling=True)
    assert mean_lag_k == pytest.approx(7.83, abs=0.005)
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


def scheme_pulls_k(course: WallCourse, wall_m: float, diffusivity: float, cells: int = 40) -> tuple[float, float]:
    """Give the worst of mean to face and of back to mean, K, under a course, by the explicit scheme, back insulated."""
    width_m = wall_m / cells
    step_s = 0.4 * width_m**2 / diffusivity
    temps_k, worst_face_k, worst_back_k = [0.0] * (cells + 1), 0.0, 0.0
    for number in range(1, int(course.bursts * course.period_s / step_s) + 1):
        whole, rest_s = divmod(number * step_s, course.period_s)
        face_k = course.burst_k * (whole + min(1.0, rest_s / course.burst_s))
        inner = [
            here + 0.4 * (before - 2.0 * here + after)
            for before, here, after in zip(temps_k, temps_k[1:], [*temps_k[2:], temps_k[-2]], strict=False)
        ]
        temps_k = [face_k, *inner]
        mean_k = (sum(temps_k) - 0.5 * (temps_k[0] + temps_k[-1])) / cells
        worst_face_k = max(worst_face_k, face_k - mean_k)
        worst_back_k = max(worst_back_k, mean_k - temps_k[-1])
    return worst_face_k, worst_back_k


@pytest.mark.parametrize(
    ("course", "wall_m", "diffusivity"),
    [
        (WallCourse(120.0, 60.0, 600.0, 3), 0.020, 1.76e-6),
        (WallCourse(40.0, 60.0, 120.0, 8), 0.020, 5.3e-6),
        (WallCourse(25.0, 60.0, 900.0, 2), 0.020, FIRECLAY_M2_PER_S),
        (WallCourse(30.0, 60.0, 60.0, 10), 0.012, FIRECLAY_M2_PER_S),
    ],
)
def test_the_worst_pull_of_a_course_is_what_a_difference_scheme_finds(
    course: WallCourse, wall_m: float, diffusivity: float
) -> None:
    """The series added up over the bursts against our own scheme, which knows no series: within 3 %."""
    face_k, back_k = scheme_pulls_k(course, wall_m, diffusivity)
    assert worst_pull_k(course, wall_m, diffusivity, cooling=True) == pytest.approx(face_k, rel=0.03)
    assert worst_pull_k(course, wall_m, diffusivity, cooling=False) == pytest.approx(back_k, rel=0.03)


def test_a_budget_that_is_spent_at_once_takes_what_an_even_ramp_leaves() -> None:
    """120 °C in 10 min, ceramic-bonded silicon carbide of 20 mm: 5.8 times evenly, 1.2 at once (own arithmetic)."""
    stands_k = SIC_WALL.shock_resistance_k
    even_k = even_pull_k(0.2, 0.020, SIC_WALL.diffusivity_m2_per_s, cooling=True)
    course = worst_course((Rate(120.0, 600.0),), 850.0)
    worst_k = worst_pull_k(course, 0.020, SIC_WALL.diffusivity_m2_per_s, cooling=True)
    assert stands_k / even_k == pytest.approx(5.8, abs=0.05)
    assert stands_k / worst_k == pytest.approx(1.2, abs=0.05)


def test_a_shorter_limit_beside_it_bounds_the_burst_and_the_way_does_too() -> None:
    """30 °C in 2 min and 12 in 30 s leave 24 in a minute; a climb of 10 °C is no burst of 120."""
    both = worst_course((Rate(30.0, 120.0), Rate(12.0, 30.0)), 500.0)
    assert (both.burst_k, both.burst_s, both.period_s) == (24.0, 60.0, 96.0)
    assert worst_course((Rate(120.0, 600.0),), 10.0) == WallCourse(10.0, 60.0, 60.0, 1)
    # A limit shorter than a burst is an even ramp while it lasts.
    assert worst_course((Rate(10.0, 30.0),), 200.0) == WallCourse(20.0, 60.0, 60.0, 10)


def test_long_bursts_without_a_rest_become_the_even_ramp() -> None:
    """Then the difference is the closed form's, both ways."""
    course = WallCourse(30.0, 60.0, 60.0, 40)
    for cooling in (True, False):
        even_k = even_pull_k(0.5, 0.012, FIRECLAY_M2_PER_S, cooling=cooling)
        assert worst_pull_k(course, 0.012, FIRECLAY_M2_PER_S, cooling=cooling) == pytest.approx(even_k, rel=0.001)


def test_heating_presses_the_hot_face_twice_as_hard_as_it_pulls_the_cold_one() -> None:
    """W5: fireclay of W1 at 11.75 K, 0.646 and 0.323 MPa (own arithmetic)."""
    hot_k, cold_k = (
        even_pull_k(300.0 / 3600.0, 0.012, FIRECLAY_M2_PER_S, cooling=cooling) for cooling in (True, False)
    )
    assert tension_mpa(FIRECLAY, hot_k) == pytest.approx(0.646, abs=0.0005)
    assert tension_mpa(FIRECLAY, cold_k) == pytest.approx(0.323, abs=0.0005)


@pytest.mark.parametrize(("body", "resistance_k"), [(FIRECLAY, 72.7), (ZIRCONIA, 37.5), (GRAPHITE_WALL, 142.0)])
def test_a_wall_pulled_by_its_resistance_carries_just_its_strength(body: Body, resistance_k: float) -> None:
    """W6 to W8 (own arithmetic): resistance and tension are one theory."""
    assert body.shock_resistance_k == pytest.approx(resistance_k, abs=0.4)
    assert tension_mpa(body, body.shock_resistance_k) == pytest.approx(body.strength_mpa)


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
