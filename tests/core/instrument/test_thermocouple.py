"""The conversion as mathematics: there and back, joints, ends, refusals, scalars beside arrays."""

import math
from dataclasses import FrozenInstanceError
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rampwarden.core.instrument.coefficients import THERMOCOUPLE_DATA
from rampwarden.core.instrument.thermocouple import Thermocouple, thermocouple

LETTERS = tuple(THERMOCOUPLE_DATA)
every_type = pytest.mark.parametrize("tc", [thermocouple(letter) for letter in LETTERS], ids=LETTERS)


def joints_c(letter: str) -> set[float]:
    """Give every temperature inside the range at which a published polynomial begins or ends."""
    data, tc = THERMOCOUPLE_DATA[letter], thermocouple(letter)
    ends = {end for piece in data.reference for end in (piece.low_c, piece.high_c)}
    ends |= {end for piece in data.inverse for end in (piece.low_c, piece.high_c)}
    return {end for end in ends if tc.measurable_c[0] < end < tc.measurable_c[1]}


every_joint = pytest.mark.parametrize(
    ("tc", "joint_c"),
    [
        pytest.param(thermocouple(letter), joint_c, id=f"{letter}-{joint_c:g}")
        for letter in LETTERS
        for joint_c in sorted(joints_c(letter))
    ],
)


# There and back again.


@every_type
def test_a_temperature_survives_the_way_to_emf_and_back_everywhere(tc: Thermocouple) -> None:
    """The whole range in steps of a few hundredths of a degree, the cold end included."""
    temps_c = np.linspace(*tc.measurable_c, 40001)
    assert np.abs(tc.temp_c(tc.emf_uv(temps_c)) - temps_c).max() < 1e-6


@every_joint
def test_a_temperature_survives_across_every_joint(tc: Thermocouple, joint_c: float) -> None:
    """A hair below, on, and a hair above: which polynomial is taken must not show."""
    for away_c in (-1.0, -1e-3, -1e-6, -1e-9, 0.0, 1e-9, 1e-6, 1e-3, 1.0):
        temp_c = joint_c + away_c
        assert tc.temp_c(tc.emf_uv(temp_c)) == pytest.approx(temp_c, abs=1e-6)


@given(letter=st.sampled_from(LETTERS), part=st.floats(0.0, 1.0), junction_c=st.floats(0.0, 50.0))
def test_any_temperature_over_any_junction_is_found_again(letter: str, part: float, junction_c: float) -> None:
    """Also where the measured EMF has the other sign than the sum: a range chosen by the measured one is found out."""
    tc = thermocouple(letter)
    lowest_c, highest_c = tc.measurable_c
    # Not the last millionth of the range: E - Eⱼ + Eⱼ may round past the end.
    temp_c = lowest_c + (highest_c - lowest_c) * (1e-6 + part * (1.0 - 2e-6))
    measured_uv = tc.emf_uv(temp_c) - tc.emf_uv(junction_c)
    assert tc.temp_c(measured_uv, junction_c) == pytest.approx(temp_c, abs=1e-6)


@every_type
def test_an_emf_survives_the_way_to_temperature_and_back(tc: Thermocouple) -> None:
    """The other direction, to well under a nanovolt but for what the joints leave open."""
    emfs_uv = np.linspace(*tc.emf_range_uv, 20001)
    assert np.abs(tc.emf_uv(tc.temp_c(emfs_uv)) - emfs_uv).max() < 1e-4


# Shape of the functions.


@every_type
def test_a_higher_temperature_always_gives_a_higher_emf_and_back(tc: Thermocouple) -> None:
    """Strictly, over all that can be measured."""
    emfs_uv = tc.emf_uv(np.linspace(*tc.measurable_c, 20001))
    assert np.diff(emfs_uv).min() > 0.0
    assert np.diff(tc.temp_c(np.linspace(*tc.emf_range_uv, 20001))).min() > 0.0


@every_joint
def test_the_functions_are_continuous_at_every_joint(tc: Thermocouple, joint_c: float) -> None:
    """EMF to 0.0001 µV; slope to 1e-6 µV/°C, save that of type N, whose two functions meet at 0 °C with a bend."""
    above_c = math.nextafter(joint_c, math.inf)
    assert tc.emf_uv(above_c) == pytest.approx(tc.emf_uv(joint_c), abs=1e-4)
    bend = -0.2297 if (tc.letter, joint_c) == ("N", 0.0) else 0.0
    step = tc.sensitivity_uv_per_c(above_c) - tc.sensitivity_uv_per_c(joint_c)
    assert step == pytest.approx(bend, abs=1e-4 if bend else 1e-6)


@every_type
def test_the_sensitivity_is_the_slope_of_the_emf(tc: Thermocouple) -> None:
    """Against central differences, at points away from the joints."""
    half_c = 1e-3
    temps_c = np.linspace(tc.range_c[0] + 1.0, tc.range_c[1] - 1.0, 1501)
    for joint_c in joints_c(tc.letter):
        temps_c = temps_c[np.abs(temps_c - joint_c) > 2.0 * half_c]
    slopes = (tc.emf_uv(temps_c + half_c) - tc.emf_uv(temps_c - half_c)) / (2.0 * half_c)
    np.testing.assert_allclose(tc.sensitivity_uv_per_c(temps_c), slopes, rtol=0, atol=1e-4)


@every_type
def test_no_temperature_difference_is_no_emf(tc: Thermocouple) -> None:
    """E(0) is exactly nothing, so a compensated EMF needs no special case."""
    assert tc.emf_uv(0.0) == 0.0


# Ends and beyond.


@every_type
def test_the_ends_of_the_range_belong_to_it(tc: Thermocouple) -> None:
    """And come back as themselves."""
    for end_c, end_uv in zip(tc.measurable_c, tc.emf_range_uv, strict=True):
        assert tc.emf_uv(end_c) == end_uv
        assert tc.temp_c(end_uv) == pytest.approx(end_c, abs=1e-6)
    assert tc.emf_uv(np.array(tc.range_c)).shape == (2,)


@every_type
def test_a_temperature_found_at_an_end_can_always_be_turned_back(tc: Thermocouple) -> None:
    """Rounding must not carry it a hair outside, where the way back is refused; seen with type T at -270 °C."""
    lowest_uv, highest_uv = tc.emf_range_uv
    for end_uv, inwards in ((lowest_uv, math.inf), (highest_uv, -math.inf)):
        emfs_uv = [end_uv]
        while len(emfs_uv) < 300:
            emfs_uv.append(math.nextafter(emfs_uv[-1], inwards))
        for temp_c in (*map(tc.temp_c, emfs_uv), *tc.temp_c(np.array(emfs_uv)).tolist()):
            assert tc.measurable_c[0] <= temp_c <= tc.measurable_c[1]


@every_type
def test_just_outside_the_temperature_range_is_refused_with_the_range(tc: Thermocouple) -> None:
    """Forward, slope and junction alike, scalar and array."""
    lowest_c, highest_c = tc.range_c
    sentence = f"type {tc.letter} is defined from {lowest_c:g} to {highest_c:g} °C, not at "
    for outside_c in (math.nextafter(lowest_c, -math.inf), math.nextafter(highest_c, math.inf), math.inf, math.nan):
        with pytest.raises(ValueError, match=sentence):
            tc.emf_uv(outside_c)
        with pytest.raises(ValueError, match=sentence):
            tc.sensitivity_uv_per_c(outside_c)
        with pytest.raises(ValueError, match=sentence):
            tc.temp_c(100.0, junction_c=outside_c)
        with pytest.raises(ValueError, match=sentence):
            tc.emf_uv(np.array([20.0, outside_c]))
        with pytest.raises(ValueError, match=sentence):
            tc.temp_c(100.0, junction_c=np.array([20.0, outside_c]))


@every_type
def test_just_outside_the_emf_range_is_refused_with_the_range(tc: Thermocouple) -> None:
    """Scalar and array; NaN and infinity are no EMF. A hair outside, which rounding hides, is just outside."""
    lowest_uv, highest_uv = tc.emf_range_uv
    span = f"outside {lowest_uv:.1f} to {highest_uv:.1f} µV"
    for outside_uv, sentence in (
        (math.nextafter(lowest_uv, -math.inf), f"is just {span}"),
        (math.nextafter(highest_uv, math.inf), f"is just {span}"),
        (highest_uv + 1.0, f"is {span}"),
        (-math.inf, f"is {span}"),
        (math.nan, f"is {span}"),
    ):
        with pytest.raises(ValueError, match=sentence):
            tc.temp_c(outside_uv)
        with pytest.raises(ValueError, match=sentence):
            tc.temp_c(np.array([100.0, outside_uv]))


def test_the_sum_of_emfs_is_judged_not_the_measured_emf() -> None:
    """An EMF inside the range may lie outside over a warm junction, and the other way round."""
    tc = thermocouple("K")
    with pytest.raises(ValueError, match="measured plus reference junction"):
        tc.temp_c(54_800.0, junction_c=25.0)
    assert tc.temp_c(-7_000.0, junction_c=25.0) < -190.0


# Type B, which one EMF cannot always tell.


def test_type_b_works_as_a_junction_at_room_temperature() -> None:
    """The forward function is defined from 0 °C; between 0 and 50 °C it is a few µV, falling and rising."""
    tc = thermocouple("B")
    assert [round(tc.emf_uv(temp_c)) for temp_c in (0.0, 20.0, 25.0, 42.0, 50.0)] == [0, -3, -2, 0, 2]
    assert tc.temp_c(4834.0 - tc.emf_uv(25.0), junction_c=25.0) == pytest.approx(1000.0, abs=0.06)


def test_type_b_is_refused_where_an_emf_belongs_to_two_temperatures() -> None:
    """From 50 °C up no lower temperature gives the same EMF; everything below is refused, and the sentence says why."""
    tc = thermocouple("B")
    assert tc.measurable_c == (50.0, 1820.0)
    assert tc.emf_uv(np.linspace(0.0, 49.99, 5000)).max() < tc.emf_range_uv[0]
    for room_c in (0.0, 20.0, 42.0, 49.9):
        with pytest.raises(ValueError, match="50 to 1820 °C; below that, one EMF belongs to two temperatures"):
            tc.temp_c(tc.emf_uv(room_c))
    with pytest.raises(ValueError, match=r"50 to 1820 °C$"):
        tc.temp_c(14_000.0)


# Scalars and arrays.


@every_type
def test_a_scalar_gives_what_an_array_gives(tc: Thermocouple) -> None:
    """To 1e-7 °C: an array steps until its last member is found, which only rounding can tell."""
    temps_c = np.linspace(*tc.measurable_c, 701)
    emfs_uv = tc.emf_uv(temps_c)
    np.testing.assert_allclose([tc.emf_uv(t) for t in temps_c.tolist()], emfs_uv, rtol=0, atol=1e-9)
    slopes = [tc.sensitivity_uv_per_c(t) for t in temps_c.tolist()]
    np.testing.assert_allclose(slopes, tc.sensitivity_uv_per_c(temps_c), rtol=0, atol=1e-9)
    measured_uv = emfs_uv[1:-1] - tc.emf_uv(30.0)
    scalars_c = [tc.temp_c(e, 30.0) for e in measured_uv.tolist()]
    np.testing.assert_allclose(scalars_c, tc.temp_c(measured_uv, 30.0), rtol=0, atol=1e-7)


def test_a_float_gives_a_float_whatever_kind_of_number_came_in() -> None:
    """Integers and numpy's own scalars too, so that no numpy number creeps into records."""
    tc = thermocouple("K")
    for number in (500, 500.0, np.float64(500.0)):
        assert type(tc.emf_uv(number)) is float
        assert type(tc.sensitivity_uv_per_c(number)) is float
        assert type(tc.temp_c(number, number)) is float


@pytest.mark.parametrize("shape", [(), (0,), (1,), (6,), (2, 3)])
def test_an_array_gives_a_new_array_of_the_same_shape(shape: tuple[int, ...]) -> None:
    """The input is left as it was, and the output is nobody else's memory."""
    tc = thermocouple("K")
    given_values = np.full(shape, 600.0)
    for convert in (tc.emf_uv, tc.sensitivity_uv_per_c, tc.temp_c):
        result = convert(given_values)
        assert isinstance(result, np.ndarray)
        assert result.shape == shape
        assert result.dtype == np.float64
        assert not np.shares_memory(result, given_values)
        assert (given_values == 600.0).all()


def test_an_array_of_another_number_type_loses_no_digits() -> None:
    """Single precision and integers are widened before anything is computed."""
    tc = thermocouple("K")
    for number_type in (np.float32, np.int64):
        whole_c: Any = np.array([-200, 0, 25, 500, 1372], dtype=number_type)
        wide_c = whole_c.astype(float)
        np.testing.assert_array_equal(tc.emf_uv(whole_c), tc.emf_uv(wide_c))
        np.testing.assert_array_equal(tc.sensitivity_uv_per_c(whole_c), tc.sensitivity_uv_per_c(wide_c))
        whole_uv: Any = np.array([-5000, 0, 12000], dtype=number_type)
        np.testing.assert_array_equal(tc.temp_c(whole_uv, 23.4), tc.temp_c(whole_uv.astype(float), 23.4))


def test_emfs_and_junctions_broadcast() -> None:
    """One EMF over many junctions, many over one, many over many."""
    tc = thermocouple("K")
    emfs_uv, junctions_c = np.array([1000.0, 20000.0]), np.array([10.0, 40.0])
    pairs_c = [[tc.temp_c(e, j) for j in junctions_c.tolist()] for e in emfs_uv.tolist()]
    np.testing.assert_allclose(tc.temp_c(emfs_uv[:, None], junctions_c), pairs_c, rtol=0, atol=1e-9)
    np.testing.assert_allclose(tc.temp_c(1000.0, junctions_c), pairs_c[0], rtol=0, atol=1e-9)
    np.testing.assert_allclose(tc.temp_c(emfs_uv, 10.0), [row[0] for row in pairs_c], rtol=0, atol=1e-9)


# The object itself.


def test_a_type_is_made_once_and_cannot_be_changed() -> None:
    """Every caller shares it."""
    tc = thermocouple("K")
    assert thermocouple("K") is tc
    with pytest.raises(FrozenInstanceError):
        tc.letter = "N"  # type: ignore[misc]  # the refusal is what is looked for


def test_the_ranges_are_those_of_the_standard() -> None:
    """NIST Monograph 175, ranges of the reference functions."""
    assert {letter: thermocouple(letter).range_c for letter in LETTERS} == {
        "B": (0.0, 1820.0),
        "E": (-270.0, 1000.0),
        "J": (-210.0, 1200.0),
        "K": (-270.0, 1372.0),
        "N": (-270.0, 1300.0),
        "R": (-50.0, 1768.1),
        "S": (-50.0, 1768.1),
        "T": (-270.0, 400.0),
    }


@pytest.mark.parametrize("letter", ["k", "C", "", "KX"])
def test_an_unknown_type_is_refused_with_those_that_are_known(letter: str) -> None:
    """Rather than taken for the nearest."""
    with pytest.raises(ValueError, match="is unknown; use one of B, E, J, K, N, R, S, T"):
        thermocouple(letter)
