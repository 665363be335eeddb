"""The conversion against what is printed: tables, error bands, worked examples, tolerances, another implementation."""

from pathlib import Path

import numpy as np
import pytest
import thermocouple_its90

from rampwarden.core.instrument.coefficients import THERMOCOUPLE_DATA, InverseRange
from rampwarden.core.instrument.thermocouple import thermocouple

TABLES = Path(__file__).parent / "data" / "its90_tables.csv"
LETTERS = tuple(THERMOCOUPLE_DATA)


def printed_cells(letter: str) -> tuple[np.ndarray, np.ndarray]:
    """Give every whole degree of the printed table with its EMF in µV."""
    temps_c: list[int] = []
    emfs_uv: list[int] = []
    for line in TABLES.read_text(encoding="utf-8").splitlines():
        row = line.split(",")
        if row[0] == letter:
            first_c, *cells = map(int, row[1:])
            temps_c.extend(range(first_c, first_c + len(cells)))
            emfs_uv.extend(cells)
    return np.array(temps_c, dtype=float), np.array(emfs_uv, dtype=float)


def published_inverse_c(inverse: InverseRange, emf_uv: np.ndarray) -> np.ndarray:
    """Evaluate a published inverse polynomial alone."""
    return np.polynomial.polynomial.polyval(emf_uv / 1000.0, inverse.coefficients)


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) * 5.0 / 9.0


# The printed tables: NIST ITS-90 Thermocouple Database (SRD 60); tolerance half a unit of the last printed digit.


def test_the_tables_hold_every_whole_degree_that_is_printed() -> None:
    """Else a lost row of the data file would pass unseen."""
    counts = {letter: len(printed_cells(letter)[0]) for letter in LETTERS}
    assert counts == {"B": 1821, "E": 1271, "J": 1411, "K": 1643, "N": 1571, "R": 1819, "S": 1819, "T": 671}


@pytest.mark.parametrize("letter", LETTERS)
def test_every_printed_cell_is_reproduced_to_its_rounding(letter: str) -> None:
    """12 026 cells of 1 µV."""
    temps_c, emfs_uv = printed_cells(letter)
    assert np.abs(thermocouple(letter).emf_uv(temps_c) - emfs_uv).max() <= 0.5


@pytest.mark.parametrize("letter", LETTERS)
def test_every_printed_emf_gives_its_temperature_back(letter: str) -> None:
    """To half a µV of rounding, which near -270 °C is more than a degree; compared in µV therefore."""
    tc = thermocouple(letter)
    _, emfs_uv = printed_cells(letter)
    usable_uv = emfs_uv[(emfs_uv >= tc.emf_range_uv[0]) & (emfs_uv <= tc.emf_range_uv[1])]
    assert usable_uv.size > 0.85 * emfs_uv.size
    assert np.abs(tc.emf_uv(tc.temp_c(usable_uv)) - usable_uv).max() < 1e-5


# Digits printed in the same database for the approximate inverses: ranges and bands of error.


@pytest.mark.parametrize(
    ("letter", "inverse"), [(letter, inverse) for letter in LETTERS for inverse in THERMOCOUPLE_DATA[letter].inverse]
)
def test_each_published_inverse_stays_within_its_published_band(letter: str, inverse: InverseRange) -> None:
    """A wrong digit in an inverse would only cost Newton steps, so it is looked for here. Bands are rounded figures."""
    temps_c = np.linspace(inverse.low_c, inverse.high_c, 5001)
    error_c = published_inverse_c(inverse, thermocouple(letter).emf_uv(temps_c)) - temps_c
    low_c, high_c = inverse.error_c
    unit_c = min(10.0 ** -len(f"{abs(bound):f}".rstrip("0").split(".")[1]) for bound in inverse.error_c)
    assert low_c - 0.5 * unit_c <= error_c.min()
    assert error_c.max() <= high_c + 0.5 * unit_c
    assert max(-error_c.min() / -low_c, error_c.max() / high_c) > 0.5


def test_the_published_inverse_of_type_k_steps_at_500_c_and_the_conversion_does_not() -> None:
    """The step is 0.033 °C at 20.644 mV: at one reading a second a false ramp of 119 °C/h."""
    below, above = THERMOCOUPLE_DATA["K"].inverse[1:]
    joint_uv = np.array([20644.0])
    step_c = published_inverse_c(above, joint_uv)[0] - published_inverse_c(below, joint_uv)[0]
    assert abs(step_c) == pytest.approx(0.033, abs=0.0005)
    tc = thermocouple("K")
    joint = tc.emf_uv(500.0)
    for hair_uv in (1e-6, 0.01, 1.0):
        rise_c = tc.temp_c(joint + hair_uv) - tc.temp_c(joint - hair_uv)
        assert rise_c == pytest.approx(2.0 * hair_uv / tc.sensitivity_uv_per_c(500.0), abs=1e-7)


def test_type_k_without_its_exponential_would_be_wrong_where_a_test_at_1000_c_does_not_look() -> None:
    """The term left out costs 2.9 °C at 127 °C and nothing from 400 °C up."""
    tc = thermocouple("K")
    polynomial = np.polynomial.Polynomial(THERMOCOUPLE_DATA["K"].reference[1].coefficients)

    def left_out_c(temp_c: float) -> float:
        return (tc.emf_uv(temp_c) - 1000.0 * float(polynomial(temp_c))) / tc.sensitivity_uv_per_c(temp_c)

    assert left_out_c(127.0) == pytest.approx(2.9, abs=0.05)
    assert left_out_c(100.0) == pytest.approx(2.6, abs=0.05)
    assert left_out_c(300.0) == pytest.approx(0.1, abs=0.05)
    assert left_out_c(1000.0) == pytest.approx(0.0, abs=1e-6)


# Another implementation of the same source (test dependency thermocouple-its90).


@pytest.mark.parametrize("letter", LETTERS)
def test_an_independent_implementation_agrees_on_a_dense_grid(letter: str) -> None:
    """EMF to 1e-6 µV, sensitivity to 1e-7 µV/°C, temperature to 1e-6 °C where both define it."""
    tc, other = thermocouple(letter), thermocouple_its90.get(letter)
    temps_c = np.linspace(*tc.range_c, 3001)
    theirs_uv = np.array([1000.0 * other.emf(t) for t in temps_c.tolist()])
    theirs_slope = np.array([1000.0 * other.seebeck(t) for t in temps_c.tolist()])
    np.testing.assert_allclose(tc.emf_uv(temps_c), theirs_uv, rtol=0, atol=1e-6)
    np.testing.assert_allclose(tc.sensitivity_uv_per_c(temps_c), theirs_slope, rtol=0, atol=1e-7)
    lowest_mv, highest_mv = other.invertible_emf_range
    emfs_mv = np.linspace(lowest_mv, highest_mv, 1501)[1:-1]
    theirs_c = np.array([other.temperature(e, reference=25.0) for e in (emfs_mv - other.emf(25.0)).tolist()])
    ours_c = tc.temp_c(1000.0 * (emfs_mv - other.emf(25.0)), junction_c=25.0)
    np.testing.assert_allclose(ours_c, theirs_c, rtol=0, atol=1e-6)


# Worked examples of reference-junction compensation. Types K and J: "Calculate the Thermocouple's Measurement Junction
# Temperature", instrumentationtools.com, author and year not named. Type B: a page of the same kind, from memory.


@pytest.mark.parametrize(("measured_mv", "printed_f"), [(2.55, 195), (6.21, 357), (10.93, 567), (18.83, 904)])
def test_the_worked_examples_of_type_k_come_out(measured_mv: float, printed_f: float) -> None:
    """Terminals at 84 °F; printed to the whole °F."""
    temp_c = thermocouple("K").temp_c(1000.0 * measured_mv, junction_c=celsius(84.0))
    assert temp_c == pytest.approx(celsius(printed_f), abs=0.5 * 5.0 / 9.0)


@pytest.mark.parametrize(("measured_mv", "printed_c"), [(5.05, 112), (31.44, 586), (40.29, 732)])
def test_the_worked_examples_of_type_j_come_out(measured_mv: float, printed_c: float) -> None:
    """Terminals at 17 °C; printed to the whole °C."""
    assert thermocouple("J").temp_c(1000.0 * measured_mv, junction_c=17.0) == pytest.approx(printed_c, abs=0.5)


def test_the_misprinted_example_of_type_j_is_not_followed() -> None:
    """17.82 mV at 17 °C is printed as 346 °C: a misprint, for the printed table itself gives 342.65 °C."""
    tc = thermocouple("J")
    temp_c = tc.temp_c(17820.0, junction_c=17.0)
    assert temp_c == pytest.approx(342.65, abs=0.005)
    temps_c, emfs_uv = printed_cells("J")
    by_table_uv = 17820.0 + np.interp(17.0, temps_c, emfs_uv)
    assert np.interp(by_table_uv, emfs_uv, temps_c) == pytest.approx(342.65, abs=0.02)


@pytest.mark.parametrize(
    ("hot_f", "terminals_f", "printed_mv"),
    [(589, 70, 0.463), (821, 73, 0.953), (1524, 105, 3.378), (1922, 135, 5.294)],
)
def test_the_worked_examples_of_type_b_come_out(hot_f: float, terminals_f: float, printed_mv: float) -> None:
    """Worked with table cells, each rounded to 1 µV; so 1 µV and a half."""
    tc = thermocouple("B")
    measured_uv = tc.emf_uv(celsius(hot_f)) - tc.emf_uv(celsius(terminals_f))
    assert measured_uv == pytest.approx(1000.0 * printed_mv, abs=1.5)
    assert tc.temp_c(measured_uv, junction_c=celsius(terminals_f)) == pytest.approx(celsius(hot_f), abs=1e-6)


@pytest.mark.parametrize(
    ("measured_mv", "junction_c", "printed_c", "within_c"),
    [
        (4.096, 25.0, 124.3, 0.05),
        (1.0, 23.0, 47.48175880786998, 1e-9),
        (1.1, 23.0, 49.907928030075773, 1e-9),
    ],
)
def test_the_examples_in_the_documentation_of_conversion_libraries_come_out(
    measured_mv: float, junction_c: float, printed_c: float, within_c: float
) -> None:
    """Type K; from the documentation of general-purpose libraries, from memory."""
    assert thermocouple("K").temp_c(1000.0 * measured_mv, junction_c) == pytest.approx(printed_c, abs=within_c)


def test_reversed_leads_read_low_by_twice_what_is_between_head_and_instrument() -> None:
    """Type E, head at 40 °C, instrument at 20: 2420 and 1192 µV (Monograph 175); the rest is own arithmetic."""
    tc = thermocouple("E")
    assert [round(tc.emf_uv(temp_c)) for temp_c in (40.0, 20.0)] == [2420, 1192]
    missing_uv = 2.0 * (tc.emf_uv(40.0) - tc.emf_uv(20.0))
    assert missing_uv == pytest.approx(2456.0, abs=1.0)
    assert tc.temp_c(tc.emf_uv(500.0) - missing_uv) - 500.0 == pytest.approx(-30.4, abs=0.05)


@pytest.mark.parametrize(("temp_c", "error_c"), [(100.0, 0.9), (500.0, 1.5), (1000.0, -0.6)])
def test_adding_degrees_instead_of_emfs_would_be_off_by_as_much_as_known(temp_c: float, error_c: float) -> None:
    """Type K over terminals at 25 °C; computed figures, and the conversion has no such error."""
    tc = thermocouple("K")
    measured_uv = tc.emf_uv(temp_c) - tc.emf_uv(25.0)
    assert tc.temp_c(measured_uv) + 25.0 - temp_c == pytest.approx(error_c, abs=0.05)
    assert tc.temp_c(measured_uv, junction_c=25.0) == pytest.approx(temp_c, abs=1e-6)


# Tolerances of IEC 60584-1:2013, classes 1 and 2.


@pytest.mark.parametrize(
    ("letter", "tolerance_class", "temp_c", "expected_c"),
    [
        ("K", 1, -40.0, 1.5),
        ("K", 1, 375.0, 1.5),
        ("K", 1, 573.0, 2.292),
        ("K", 1, 900.0, 3.6),
        ("K", 1, 1000.0, 4.0),
        ("K", 2, 333.0, 2.5),
        ("K", 2, 573.0, 4.2975),
        ("K", 2, 900.0, 6.75),
        ("K", 2, 1000.0, 7.5),
        ("K", 2, 1200.0, 9.0),
        ("N", 1, 1000.0, 4.0),
        ("N", 2, 1200.0, 9.0),
        ("E", 1, 800.0, 3.2),
        ("E", 2, 900.0, 6.75),
        ("J", 1, 750.0, 3.0),
        ("J", 2, 750.0, 5.625),
        ("T", 1, -40.0, 0.5),
        ("T", 1, 350.0, 1.4),
        ("T", 2, 350.0, 2.625),
        ("R", 1, 1100.0, 1.0),
        ("R", 1, 1600.0, 2.5),
        ("R", 2, 600.0, 1.5),
        ("R", 2, 1600.0, 4.0),
        ("S", 1, 0.0, 1.0),
        ("S", 1, 1200.0, 1.3),
        ("S", 2, 1200.0, 3.0),
        ("B", 2, 600.0, 1.5),
        ("B", 2, 1700.0, 4.25),
    ],
)
def test_tolerances_are_those_of_the_standard(
    letter: str, tolerance_class: int, temp_c: float, expected_c: float
) -> None:
    """IEC 60584-1:2013: the greater of a fixed value and a fraction of the temperature."""
    assert thermocouple(letter).tolerance_c(temp_c, tolerance_class) == pytest.approx(expected_c, abs=1e-9)


@pytest.mark.parametrize(
    ("letter", "tolerance_class", "low_c", "high_c"),
    [
        ("B", 2, 600, 1700),
        ("E", 1, -40, 800),
        ("E", 2, -40, 900),
        ("J", 1, -40, 750),
        ("J", 2, -40, 750),
        ("K", 1, -40, 1000),
        ("K", 2, -40, 1200),
        ("N", 1, -40, 1000),
        ("N", 2, -40, 1200),
        ("R", 1, 0, 1600),
        ("R", 2, 0, 1600),
        ("S", 1, 0, 1600),
        ("S", 2, 0, 1600),
        ("T", 1, -40, 350),
        ("T", 2, -40, 350),
    ],
)
def test_a_tolerance_is_given_only_where_the_class_covers_it(
    letter: str, tolerance_class: int, low_c: float, high_c: float
) -> None:
    """Both ends count as covered; a degree outside is refused with the range in the sentence."""
    tc = thermocouple(letter)
    assert tc.tolerance_c(low_c, tolerance_class) > 0.0
    assert tc.tolerance_c(high_c, tolerance_class) > 0.0
    for outside_c in (low_c - 1.0, high_c + 1.0, float("nan")):
        with pytest.raises(ValueError, match=f"covers {low_c} to {high_c} °C"):
            tc.tolerance_c(outside_c, tolerance_class)


def test_a_class_that_does_not_exist_is_refused_with_those_that_do() -> None:
    """Type B has no class 1, and class 3 is for low temperatures."""
    with pytest.raises(ValueError, match="type B has no tolerance class 1; use 2"):
        thermocouple("B").tolerance_c(1000.0, 1)
    with pytest.raises(ValueError, match="type K has no tolerance class 3; use 1 or 2"):
        thermocouple("K").tolerance_c(0.0, 3)
