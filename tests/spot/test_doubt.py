"""Which of the two to doubt: spot thermometer or thermocouple."""

import math
from dataclasses import replace

import pytest

from rampwarden.spot.doubt import Suspect, doubt, spot_uncertainty_c
from rampwarden.spot.pyrometry import parse_band, shown_c
from rampwarden.spot.spot_check import Cavity, SpotCheck, make_check, note_text, read_note

BAND = parse_band("8-14um")


def check(true_c: float, emissivity: float, thermocouple_c: float | None, wall_c: float | None = None) -> SpotCheck:
    """Give a check of a surface of `emissivity` that was corrected as if it had 0.8."""
    around_c = 20.0 if wall_c is None else wall_c
    shown = shown_c(true_c, BAND, 0.95, emissivity, around_c)
    made = make_check(shown, BAND, 0.95, 0.8, around_c, around_given=wall_c is not None)
    return replace(made, thermocouple_c=thermocouple_c)


def suspect(made: SpotCheck, *earlier: SpotCheck) -> Suspect:
    found = doubt(made, 10.0, earlier)
    assert found is not None
    return found.suspect


def test_neither_is_doubted_within_what_both_may_be_off() -> None:
    assert suspect(check(905.0, 0.8, 900.0)) is Suspect.NEITHER


def test_without_a_thermocouple_nothing_is_judged() -> None:
    assert doubt(check(905.0, 0.8, None), 10.0) is None


def test_an_emissivity_that_explains_it_puts_the_doubt_on_the_spot_reading() -> None:
    found = doubt(check(900.0, 0.55, 900.0), 10.0)
    assert found is not None
    assert found.suspect is Suspect.SPOT
    assert "0.55 instead of 0.80" in found.why


def test_the_same_emissivity_at_every_check_keeps_the_doubt_there() -> None:
    assert suspect(check(1000.0, 0.55, 1000.0), check(700.0, 0.55, 700.0), check(850.0, 0.56, 850.0)) is Suspect.SPOT


def test_an_emissivity_that_wanders_puts_the_doubt_on_the_thermocouple() -> None:
    """A surface does not change so; a thermocouple that drifts does."""
    assert suspect(check(900.0, 0.62, 1000.0), check(700.0, 0.62, 700.0)) is Suspect.THERMOCOUPLE


def test_more_than_a_black_body_sends_is_first_a_reflection() -> None:
    assert suspect(check(1100.0, 0.9, 900.0)) is Suspect.SPOT


def test_more_than_a_black_body_sends_with_the_wall_known_means_the_thermocouple_reads_low() -> None:
    assert suspect(check(1100.0, 0.9, 900.0, wall_c=800.0)) is Suspect.THERMOCOUPLE


def test_far_less_than_any_crucible_sends_means_the_spot_missed_it() -> None:
    found = doubt(check(300.0, 0.8, 1000.0), 10.0)
    assert found is not None
    assert (found.suspect, "missed" in found.why) == (Suspect.SPOT, True)


def test_an_unsure_emissivity_costs_far_more_in_the_long_band_than_at_one_micrometre() -> None:
    """At 1000 °C, 1 % of emissivity is 1.1 °C at 1 µm; at 10 µm 11 °C by Wien's law, and 7.6 by Planck's."""
    at_1um = spot_uncertainty_c(make_check(1000.0, parse_band("1um"), 1.0, 1.0, 20.0, around_given=False))
    at_10um = spot_uncertainty_c(make_check(1000.0, parse_band("10um"), 1.0, 1.0, 20.0, around_given=False))
    assert at_1um < 15.0
    assert at_10um == pytest.approx(2.0 * math.hypot(10.0, 5.0 * 7.6) / math.sqrt(3.0), rel=0.05)


LOOKED_INTO = Cavity(wall_emissivity=0.8, depth_diameters=2.0)


def looked_into(true_c: float, thermocouple_c: float | None = None, wall_emissivity: float = 0.8) -> SpotCheck:
    """Give a check of a pot looked into that was corrected as if its wall had 0.8."""
    shown = shown_c(true_c, BAND, 0.95, replace(LOOKED_INTO, wall_emissivity=wall_emissivity).emissivity, 20.0)
    made = make_check(shown, BAND, 0.95, LOOKED_INTO, 20.0, around_given=False)
    return replace(made, thermocouple_c=thermocouple_c)


def test_of_a_cavity_it_is_the_walls_emissivity_that_is_unsure() -> None:
    """0.05 of the wall is 0.009 of the cavity: ±12 °C at 900 where ±0.05 of the cavity would be ±42 (own arithmetic).

    The bound is checked by looking into pots whose wall is really as much off.
    """
    sure_c = spot_uncertainty_c(looked_into(900.0))
    assert sure_c == pytest.approx(12.4, abs=0.1)
    for wall_emissivity in (0.75, 0.85):
        assert abs(looked_into(900.0, None, wall_emissivity).corrected_c - 900.0) < sure_c
    assert spot_uncertainty_c(make_check(900.0, BAND, 0.95, 0.973, 20.0, around_given=False)) > 30.0


def test_a_thermocouple_that_reads_40_degrees_low_beside_a_cavity_does_not_pass() -> None:
    """Its wall's emissivity cannot explain it."""
    assert suspect(looked_into(900.0, 860.0)) is not Suspect.NEITHER
    assert suspect(looked_into(900.0, 895.0)) is Suspect.NEITHER


def test_a_reading_that_is_nearly_all_reflection_tells_nothing() -> None:
    """It would agree with anything, and so vouches for nothing."""
    made = make_check(500.0, BAND, 0.95, 0.8, 1500.0, around_given=True)
    found = doubt(replace(made, thermocouple_c=made.corrected_c), 10.0)
    assert found is not None
    assert (found.suspect, "tells nothing" in found.why) == (Suspect.SPOT, True)


@pytest.mark.parametrize(
    "made",
    [check(900.0, 0.7, 897.3), check(900.0, 0.7, None), check(900.0, 0.7, 897.3, 1050.0), looked_into(900.0, 897.3)],
)
def test_a_check_written_as_a_note_is_read_back_as_it_was(made: SpotCheck) -> None:
    """To the tenth of a degree."""
    text = note_text(made)
    back = read_note(text)
    assert back is not None
    assert note_text(back) == text
    assert back.around_given is made.around_given
    assert back.cavity == made.cavity


@pytest.mark.parametrize("text", ["", "spot 914", "gas to 0.04 bar", note_text(check(900.0, 0.7, 890.0)) + " or so"])
def test_other_notes_are_no_checks(text: str) -> None:
    assert read_note(text) is None


def test_a_note_with_a_band_that_is_none_is_no_check() -> None:
    assert read_note(note_text(check(900.0, 0.7, 890.0)).replace("8-14um", "14-8um")) is None
