"""Conduction through a wall against the published series of a plate, and against an explicit scheme of our own."""

import math

import pytest

from rampwarden.core.physics.pot_wall import STEP_S, PotWall, WallConduction

FIRECLAY = PotWall(0.012, 5.11e-7, 1.05, 72.7)
SIC = PotWall(0.020, 1.76e-6, 4.2, 88.4)
GRAPHITE = PotWall(0.020, 5.3e-6, 12.0, 141.7)
walls = pytest.mark.parametrize("wall", [FIRECLAY, SIC, GRAPHITE], ids=["fireclay", "silicon carbide", "graphite"])


def sudden(wall: PotWall, seconds: float, depth: float) -> float:
    """Give the share of a sudden step of the outer face that has come to `depth` (0 inner face, 1 outer).

    Carslaw and Jaeger, Conduction of Heat in Solids, section 3.4: a plate with no flow at one face, the other at 1.
    """
    fourier = seconds / wall.settling_s
    roots = ((n, (2 * n + 1) * math.pi / 2.0) for n in range(60))
    return 1.0 - sum(
        (-1) ** n * 2.0 / root * math.exp(-root * root * fourier) * math.cos(root * depth) for n, root in roots
    )


def ramped(wall: PotWall, seconds: float, depth: float) -> float:
    """Give how far the plate lags behind an outer face that climbs at 1 K/s, K, from the same section's series."""
    fourier = seconds / wall.settling_s
    roots = ((n, (2 * n + 1) * math.pi / 2.0) for n in range(60))
    built = sum(
        (-1) ** n * 2.0 / root**3 * math.exp(-root * root * fourier) * math.cos(root * depth) for n, root in roots
    )
    return wall.settling_s * ((1.0 - depth**2) / 2.0 - built)


def ramped_mean(wall: PotWall, seconds: float) -> float:
    """Give the mean of that lag over the plate, K: each term integrated."""
    fourier = seconds / wall.settling_s
    roots = ((2 * n + 1) * math.pi / 2.0 for n in range(60))
    return wall.settling_s * (1.0 / 3.0 - sum(2.0 / root**4 * math.exp(-root * root * fourier) for root in roots))


@walls
@pytest.mark.parametrize("settlings", [0.25, 0.5, 1.0, 2.0])
def test_a_sudden_step_goes_through_as_the_series_says(wall: PotWall, settlings: float) -> None:
    """Within 2 % of the step at the inner face, in the steps the watch takes."""
    body = WallConduction(wall, 0.0)
    steps = round(settlings * wall.settling_s / STEP_S)
    for _ in range(steps):
        body.step(STEP_S, 1.0)
    assert body.inner_c == pytest.approx(sudden(wall, steps * STEP_S, 0.0), abs=0.02)
    assert body.outer_c == 1.0


@walls
@pytest.mark.parametrize("seconds", [30.0, 90.0, 300.0, 1200.0])
def test_a_ramp_lags_as_the_series_says(wall: PotWall, seconds: float) -> None:
    """Through the wall and at its mean, which pulls at the faces: within 2 % of what the difference comes to."""
    body = WallConduction(wall, 0.0)
    time_s = 0.0
    while time_s < seconds:
        time_s += STEP_S
        body.step(STEP_S, time_s)
    scale_k = wall.settling_s / 2.0
    assert body.outer_c - body.inner_c == pytest.approx(ramped(wall, time_s, 0.0), abs=0.02 * scale_k)
    assert body.outer_c - body.mean_c == pytest.approx(ramped_mean(wall, time_s), abs=0.02 * scale_k)


def test_an_even_ramp_comes_to_the_textbook_difference() -> None:
    """r L²/(2a), of which two thirds pull at the face that leads: 300 K/h on 12 mm of fireclay, 11.74 K."""
    body = WallConduction(FIRECLAY, 0.0)
    for step in range(1, 1500):
        body.step(STEP_S, step * STEP_S * 300.0 / 3600.0)
    assert body.outer_c - body.inner_c == pytest.approx(11.74, abs=0.03)
    assert body.outer_c - body.mean_c == pytest.approx(11.74 * 2.0 / 3.0, abs=0.02)


def in_chamber(wall: PotWall, chamber_c: float, start_c: float, seconds: float) -> tuple[float, float]:
    """Give outer and inner face by an explicit scheme of 120 nodes, with radiation and air at the outer face."""
    nodes, temps = 120, [start_c] * 121
    width_m = wall.thickness_m / nodes
    heat_j = wall.conductivity_w_per_m_k / wall.diffusivity_m2_per_s * width_m
    step_s = 0.2 * width_m**2 / wall.diffusivity_m2_per_s
    for _ in range(round(seconds / step_s)):
        flows = [wall.conductivity_w_per_m_k * (temps[n + 1] - temps[n]) / width_m for n in range(nodes)]
        face_k, chamber_k = temps[-1] + 273.15, chamber_c + 273.15
        given = 0.85 * 5.670374e-8 * (chamber_k**4 - face_k**4) + 10.0 * (chamber_k - face_k)
        changes = [2.0 * flows[0], *(flows[n] - flows[n - 1] for n in range(1, nodes)), 2.0 * (given - flows[-1])]
        temps = [temp + step_s * change / heat_j for temp, change in zip(temps, changes, strict=True)]
    return temps[-1], temps[0]


@pytest.mark.parametrize(("chamber_c", "start_c"), [(700.0, 900.0), (400.0, 100.0)])
def test_a_chamber_cools_and_heats_a_face_as_radiation_and_air_do(chamber_c: float, start_c: float) -> None:
    """Two minutes, both faces within 1.5 % of the step in the chamber."""
    body = WallConduction(SIC, start_c)
    for _ in range(60):
        body.step_in_chamber(STEP_S, chamber_c)
    outer_c, inner_c = in_chamber(SIC, chamber_c, start_c, 120.0)
    assert body.outer_c == pytest.approx(outer_c, abs=0.015 * abs(chamber_c - start_c))
    assert body.inner_c == pytest.approx(inner_c, abs=0.015 * abs(chamber_c - start_c))


def test_steps_of_another_length_are_worked_out_anew() -> None:
    """Two steps of one second come close to one of two: what depends on the length is not kept from before."""
    one, two = WallConduction(FIRECLAY, 0.0), WallConduction(FIRECLAY, 0.0)
    for _ in range(50):
        one.step(4.0, 1.0)
        two.step(2.0, 1.0)
        two.step(2.0, 1.0)
    assert one.inner_c == pytest.approx(two.inner_c, abs=0.01)
