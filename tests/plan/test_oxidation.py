"""The oxidation dose against the kinetics it comes from and the numbers worked out from them."""

import math

import pytest

from rampwarden.plan.oxidation import PRONE_C, line_dose_s, part_within, relative_rate


@pytest.mark.parametrize(
    ("temp_c", "printed"),
    [
        (315.0, "0.00002"),
        (400.0, "0.0015"),
        (450.0, "0.011"),
        (500.0, "0.059"),
        (550.0, "0.27"),
        (600.0, "1"),
        (650.0, "1.7"),
        (700.0, "2.8"),
        (750.0, "4.3"),
        (800.0, "6.4"),
    ],
)
def test_the_rate_is_that_of_the_published_kinetics(temp_c: float, printed: str) -> None:
    """Worked out from Luo, Robin and Yu (2004): 158.56 kJ/mol to 600 °C, 72.01 to 800; to the last digit."""
    digits = len(printed.partition(".")[2])
    assert relative_rate(temp_c) == pytest.approx(float(printed), abs=0.6 * 10.0**-digits)


def test_above_800_c_the_rate_hardly_depends_on_the_temperature() -> None:
    """The layer of air rules there; the law stands still."""
    assert relative_rate(801.0) == relative_rate(1200.0) == relative_rate(800.0)


def test_the_rate_is_continuous_where_its_law_changes() -> None:
    """At 600 and 800 °C, and as good as nothing where it is cut off."""
    for kink in (600.0, 800.0):
        assert relative_rate(kink - 1e-6) == pytest.approx(relative_rate(kink + 1e-6), rel=1e-6)
    assert relative_rate(249.9) == 0.0
    assert relative_rate(250.0) * 86_400.0 < 0.1


@pytest.mark.parametrize(
    ("temp_c", "minutes", "within"),
    [
        (200.0, 0.0, 1e-9),
        (260.0, 0.0001, 0.00005),
        (315.0, 0.002, 0.0005),
        (400.0, 0.09, 0.005),
        (500.0, 3.6, 0.05),
        (600.0, 60.0, 1e-9),
    ],
)
def test_an_hour_at_one_temperature_costs_so_many_minutes_at_600(temp_c: float, minutes: float, within: float) -> None:
    """Drying at 200 to 315 °C costs nothing; above about 500 it does."""
    assert line_dose_s(temp_c, temp_c, 3600.0) / 60.0 == pytest.approx(minutes, abs=within)


@pytest.mark.parametrize(("ramp_k_per_h", "minutes"), [(100.0, 62.0), (300.0, 21.0), (600.0, 10.0), (1200.0, 5.0)])
def test_crossing_the_prone_range_costs_the_less_the_faster(ramp_k_per_h: float, minutes: float) -> None:
    """From 315 to 650 °C, and the same on the way down."""
    seconds = (PRONE_C[1] - PRONE_C[0]) / ramp_k_per_h * 3600.0
    assert line_dose_s(*PRONE_C, seconds) / 60.0 == pytest.approx(minutes, abs=0.5)
    assert line_dose_s(PRONE_C[1], PRONE_C[0], seconds) == pytest.approx(line_dose_s(*PRONE_C, seconds))


@pytest.mark.parametrize(
    ("from_c", "to_c"), [(20.0, 1400.0), (240.0, 310.0), (595.0, 605.0), (790.0, 1100.0), (300.0, 801.0)]
)
def test_the_dose_of_a_line_is_the_integral_of_the_rate(from_c: float, to_c: float) -> None:
    """Against 20 000 small steps, within the 1 % that is stated."""
    count = 20_000
    steps = (from_c + (to_c - from_c) * (number + 0.5) / count for number in range(count))
    integral_s = math.fsum(relative_rate(temp_c) for temp_c in steps) / count * 3600.0
    assert line_dose_s(from_c, to_c, 3600.0) == pytest.approx(integral_s, rel=0.01)


@pytest.mark.parametrize(
    ("from_c", "to_c", "expected"),
    [
        (265.0, 365.0, (315.0, 365.0, 0.5)),
        (700.0, 600.0, (650.0, 600.0, 0.5)),
        (400.0, 500.0, (400.0, 500.0, 1.0)),
        (20.0, 300.0, (315.0, 315.0, 0.0)),
        (400.0, 400.0, (400.0, 400.0, 1.0)),
        (200.0, 200.0, (315.0, 315.0, 0.0)),
        (215.0, 1215.0, (315.0, 650.0, 0.335)),
    ],
)
def test_only_the_part_of_a_line_inside_a_range_counts(
    from_c: float, to_c: float, expected: tuple[float, float, float]
) -> None:
    """Its two ends, and its share of the time; either way, and standing still."""
    assert part_within(from_c, to_c, PRONE_C) == pytest.approx(expected)
