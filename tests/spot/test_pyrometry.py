"""Spot thermometers: the emissivity table, reflected walls, cavities, and readings that cannot be."""

import math

import pytest

from rampwarden.errors import QuantityError
from rampwarden.spot.pyrometry import (
    Band,
    cavity_emissivity,
    corrected_c,
    implied_emissivity,
    parse_band,
    radiance,
    shown_c,
    temperature_c,
)

LONG = parse_band("8-14um")
BANDS = ("1um", "10um", "8-14um", "total")

# Calculated from Planck's law and Stefan's: what is shown for 1000 °C, set to 1.0, in a room of 20 °C. Own arithmetic,
# to 1 °C.
SHOWN_OF_1000 = [
    (0.9, {"1um": 988, "total": 967, "10um": 924}),
    (0.8, {"1um": 975, "total": 931, "10um": 848}),
    (0.6, {"1um": 945, "total": 848, "10um": 690}),
]


@pytest.mark.parametrize(
    ("emissivity", "band", "shown"), [(e, band, shown) for e, row in SHOWN_OF_1000 for band, shown in row.items()]
)
def test_the_emissivity_table_is_reproduced_both_ways(emissivity: float, band: str, shown: int) -> None:
    """To half a degree, and one more where 10 µm were reckoned by Wien's law."""
    seen = parse_band(band)
    assert shown_c(1000.0, seen, 1.0, emissivity, 20.0) == pytest.approx(shown, abs=0.6)
    back_c = corrected_c(float(shown), seen, 1.0, emissivity, 20.0)
    assert back_c == pytest.approx(1000.0, abs=1.0)


@pytest.mark.parametrize(("true_c", "shown"), [(1000.0, 880), (900.0, 794), (600.0, 533)])
def test_a_cheap_thermometer_fixed_at_0_95_reads_far_too_low_on_a_wall_of_0_8(true_c: float, shown: int) -> None:
    """Own arithmetic, apart from the program and at one wavelength; averaged over 8 to 14 µm it is 2 °C more."""
    assert shown_c(true_c, LONG, 0.95, 0.8, 20.0) == pytest.approx(shown, abs=2.0)
    assert corrected_c(shown, LONG, 0.95, 0.8, 20.0) == pytest.approx(true_c, abs=3.0)


@pytest.mark.parametrize(
    ("band", "set_to", "shown"), [("10um", 1.0, 930), ("10um", 0.85, 1053), ("1um", 1.0, 956), ("1um", 0.85, 973)]
)
def test_a_hot_wall_reflected_makes_it_read_high_and_is_taken_off_again(band: str, set_to: float, shown: int) -> None:
    """Wall 1100, pot 900, emissivity 0.85."""
    seen = parse_band(band)
    assert shown_c(900.0, seen, set_to, 0.85, 1100.0) == pytest.approx(shown, abs=0.6)
    assert corrected_c(shown, seen, set_to, 0.85, 1100.0) == pytest.approx(900.0, abs=1.0)


def test_total_radiation_follows_the_fourth_power() -> None:
    """T⁴ = (Ta⁴ − (1 − e) Tamb⁴) / e, in kelvin."""
    kelvin = ((1100.0**4 - 0.3 * 293.15**4) / 0.7) ** 0.25
    assert corrected_c(1100.0 - 273.15, parse_band("total"), 1.0, 0.7, 20.0) == pytest.approx(kelvin - 273.15, abs=1e-6)


def test_at_one_micrometre_wiens_law_holds() -> None:
    """1/T = 1/Ta + (λ/c2) ln e, where surroundings send nothing."""
    shown_k = 1200.0
    wien_k = 1.0 / (1.0 / shown_k + 1e-6 / 0.014387769 * math.log(0.6))
    assert corrected_c(shown_k - 273.15, parse_band("1um"), 1.0, 0.6, 20.0) == pytest.approx(wien_k - 273.15, abs=0.05)


@pytest.mark.parametrize(("depth", "emissivity", "expected"), [(2.0, 0.8, 0.973), (0.0, 0.8, 0.8), (1.0, 0.5, 0.833)])
def test_a_cavity_is_blacker_than_its_wall(depth: float, emissivity: float, expected: float) -> None:
    """e' = e / (e + (1 − e) A_hole/A_wall); two diameters deep and 0.8 give about 0.97."""
    assert cavity_emissivity(emissivity, depth) == pytest.approx(expected, abs=0.0005)


@pytest.mark.parametrize("band", BANDS)
@pytest.mark.parametrize("temp_c", [-20.0, 20.0, 500.0, 1700.0])
def test_what_is_sent_turns_back_into_the_temperature(band: str, temp_c: float) -> None:
    """In every band, from frost to white heat."""
    seen = parse_band(band)
    assert temperature_c(radiance(temp_c, seen), seen) == pytest.approx(temp_c, abs=1e-5)


def test_the_emissivity_that_explains_a_reading_is_found() -> None:
    """And none where the surface is as warm as what it reflects."""
    shown = shown_c(900.0, LONG, 0.95, 0.62, 300.0)
    assert implied_emissivity(shown, LONG, 0.95, 900.0, 300.0) == pytest.approx(0.62, abs=1e-9)
    assert math.isnan(implied_emissivity(shown, LONG, 0.95, 300.0, 300.0))


@pytest.mark.parametrize("text", ["", "8-14", "14-8um", "0-14um", "8-140um", "red", "8 – 14um"])
def test_a_band_that_is_none_is_refused(text: str) -> None:
    """By what it says, with what would be right."""
    with pytest.raises(QuantityError, match="8-14um"):
        parse_band(text)


def test_bands_are_written_as_they_are_read() -> None:
    """So that a note can be read back."""
    assert [str(parse_band(text)) for text in BANDS] == list(BANDS)
    assert parse_band("8 - 14 µm") == Band(8.0, 14.0)


def test_a_wall_that_outshines_the_reading_is_refused() -> None:
    """Then there is no temperature left for the surface."""
    with pytest.raises(QuantityError, match="wall"):
        corrected_c(600.0, LONG, 0.95, 0.5, 1400.0)


@pytest.mark.parametrize("emissivity", [0.0, -0.1, 1.01, math.nan])
def test_an_emissivity_out_of_range_is_refused(emissivity: float) -> None:
    """Above 0, at most 1."""
    with pytest.raises(QuantityError, match="emissivity"):
        corrected_c(900.0, LONG, 0.95, emissivity, 20.0)
