"""Quantities as people write them: what is understood, what is refused and in which words."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rampwarden.core.quantities import (
    Rate,
    format_duration,
    format_slope,
    parse_difference,
    parse_duration,
    parse_rate,
    parse_temperature,
    slope_in_window_unit,
)
from rampwarden.errors import AmbiguousNumberError, QuantityError, RampwardenError

NOT_TEXT = [None, 200, 200.0, True, [], ["200 C"], {"to": "200 C"}, b"200 C"]


class TestTemperatures:
    @pytest.mark.parametrize(
        ("text", "temp_c"),
        [
            ("200 C", 200.0),
            ("200C", 200.0),
            ("  200 C  ", 200.0),
            ("200 °C", 200.0),
            ("200 deg C", 200.0),
            ("200 c", 200.0),
            ("+1150.5 C", 1150.5),
            ("-40 C", -40.0),
            ("-40 F", -40.0),
            ("32 F", 0.0),
            ("212 °F", 100.0),
            ("2102 f", 1150.0),
            ("-273.15 C", -273.15),
            ("-459.67 F", -273.15),
        ],
    )
    def test_is_read_in_either_unit(self, text: str, temp_c: float) -> None:
        """The ends of both scales and where they cross."""
        assert parse_temperature(text) == pytest.approx(temp_c, abs=1e-9)

    @pytest.mark.parametrize(
        ("text", "temp_c"),
        [
            ("2,5 C", 2.5),
            ("1 200 C", 1200.0),
            ("1\u202f200\u00a0°C", 1200.0),
            ("1'150 °C", 1150.0),
            ("1,150.5 C", 1150.5),
            ("1.150,5 C", 1150.5),
            ("0,125 C", 0.125),
            ("−20 °C", -20.0),
            ("–20 C", -20.0),
            ("200 degrees C", 200.0),
            ("200 deg. C", 200.0),
            ("200 ºC", 200.0),
            ("200 ˚C", 200.0),
            ("200℃", 200.0),
            ("392 ℉", 200.0),
            ("392 degrees Fahrenheit", 200.0),
            ("200 celsius", 200.0),
        ],
    )
    def test_is_read_as_people_and_their_keyboards_write_it(self, text: str, temp_c: float) -> None:
        """Decimal commas, thousands that are parted, every sign that looks like a degree, and words."""
        assert parse_temperature(text) == pytest.approx(temp_c, abs=1e-9)

    def test_a_comma_and_three_digits_are_refused_with_both_readings(self) -> None:
        """1.2 °C and 1200 °C are not to be guessed between."""
        with pytest.raises(AmbiguousNumberError) as refusal:
            parse_temperature("1,200 C")
        assert str(refusal.value) == "'1,200 C': 1,200 may mean 1.2 or 1200; write one of these two"

    def test_kelvin_is_refused_because_it_reads_like_a_slip(self) -> None:
        """A person who writes 200 K for a furnace means a difference or has mistyped."""
        with pytest.raises(QuantityError) as refusal:
            parse_temperature("473 K")
        assert str(refusal.value) == "'473 K': K is for differences; write a temperature in C or F"

    @pytest.mark.parametrize("text", ["-273.16 C", "-459.68 F", "-9999999 C"])
    def test_nothing_lies_below_absolute_zero(self, text: str) -> None:
        """A lost digit or a wrong sign, not a plan."""
        with pytest.raises(QuantityError) as refusal:
            parse_temperature(text)
        assert str(refusal.value) == f"{text!r} lies below absolute zero; is the sign or the unit wrong?"

    @pytest.mark.parametrize(
        "text",
        [
            "",
            " ",
            "C",
            "200",
            "warm",
            "200 X",
            "200 CC",
            "2e2 C",
            "1 20 C",
            "12,34,5 C",
            "2. C",
            "200 degree",
            "nan C",
            "inf C",
            "--5 C",
            "0x10 C",
            "200 C / min",
            "12345678 C",
            "1.1234567 C",
            "200 C\x00",
            "½ C",
            pytest.param("9" * 100_000 + " C", id="a hundred thousand digits"),
            *NOT_TEXT,
        ],
    )
    def test_anything_else_is_refused_with_an_example(self, text: object) -> None:
        """No exponent, no half numbers, nothing that means nothing."""
        with pytest.raises(QuantityError) as refusal:
            parse_temperature(text)
        assert str(refusal.value) == f"{text!r} is not a temperature such as '200 C'"


class TestDifferences:
    @pytest.mark.parametrize(
        ("text", "difference_c"),
        [
            ("25 C", 25.0),
            ("25 K", 25.0),
            ("45 F", 25.0),
            ("-45 °F", -25.0),
            ("+35 C", 35.0),
            ("0 C", 0.0),
            ("0 F", 0.0),
        ],
    )
    def test_in_fahrenheit_scale_and_never_shift(self, text: str, difference_c: float) -> None:
        """0 °F of difference is none, not -17.8 °C."""
        assert parse_difference(text) == pytest.approx(difference_c, abs=1e-12)

    def test_may_be_larger_than_any_temperature_is_low(self) -> None:
        """A band of -300 °C is odd but no temperature below absolute zero."""
        assert parse_difference("-300 C") == -300.0

    @pytest.mark.parametrize("text", ["", "25", "25 min", *NOT_TEXT])
    def test_anything_else_is_refused_with_an_example(self, text: object) -> None:
        """The words say difference, so that a band's fault is not taken for a temperature's."""
        with pytest.raises(QuantityError) as refusal:
            parse_difference(text)
        assert str(refusal.value) == f"{text!r} is not a temperature difference such as '25 C'"

    @given(st.decimals(-9_999_999, 9_999_999, places=3))
    def test_of_any_size_keep_the_ratio_of_the_scales(self, number: object) -> None:
        """9 °F are 5 °C."""
        in_c, in_f = parse_difference(f"{number} C"), parse_difference(f"{number} F")
        assert in_f * 9.0 == pytest.approx(in_c * 5.0, rel=1e-12)


class TestDurations:
    @pytest.mark.parametrize(
        ("text", "seconds"),
        [
            ("45 s", 45.0),
            ("45 sec", 45.0),
            ("20 min", 1200.0),
            ("20min", 1200.0),
            ("1.5 h", 5400.0),
            ("1 h 30 min", 5400.0),
            ("1 d 2 h 3 min 4 s", 93784.0),
            ("30 min 1 h", 5400.0),
            ("0 min", 0.0),
            (" 24 h ", 86400.0),
            ("20 minutes", 1200.0),
            ("1,5 h", 5400.0),
            ("1h30min", 5400.0),
            ("1 hour and 30 minutes", 5400.0),
            ("1 hr, 30 mins", 5400.0),
            ("2 Days", 172800.0),
        ],
    )
    def test_is_read_in_parts(self, text: str, seconds: float) -> None:
        """Any of the four units, in any order."""
        assert parse_duration(text) == seconds

    @pytest.mark.parametrize(
        "text",
        [
            "",
            "  ",
            "20",
            "min",
            "20 minuets",
            "20 min and",
            ", 20 min",
            "-20 min",
            "+20 min",
            "1 h 30",
            "1h30",
            "20 min and more",
            "20 C",
            "1e3 s",
            "5 m",
            "12345678 s",
            *NOT_TEXT,
        ],
    )
    def test_anything_else_is_refused_with_examples(self, text: object) -> None:
        """Half understood is not understood: nothing of it is used."""
        with pytest.raises(QuantityError) as refusal:
            parse_duration(text)
        assert str(refusal.value) == f"{text!r} is not a duration such as '20 min' or '1 h 30 min'"

    @given(st.integers(0, 9 * 86400))
    def test_written_for_people_reads_back_within_its_last_unit(self, seconds: int) -> None:
        """Exact below ten minutes, to the minute above."""
        back_s = parse_duration(format_duration(seconds))
        assert abs(back_s - seconds) <= (0 if seconds < 600 else 30)

    @pytest.mark.parametrize(
        ("seconds", "text"),
        [
            (0, "0 s"),
            (0.4, "0 s"),
            (59.4, "59 s"),
            (59.6, "1 min"),
            (60, "1 min"),
            (61, "1 min 1 s"),
            (599, "9 min 59 s"),
            (600, "10 min"),
            (629, "10 min"),
            (631, "11 min"),
            (3569, "59 min"),
            (3599, "1 h"),
            (3600, "1 h"),
            (5400, "1 h 30 min"),
            (86399, "24 h"),
            (86400 * 3, "72 h"),
        ],
    )
    def test_is_written_no_finer_than_people_need(self, seconds: float, text: str) -> None:
        """Never 60 s, never 60 min."""
        assert format_duration(seconds) == text


class TestRates:
    @pytest.mark.parametrize(
        ("text", "climb_c", "window_s"),
        [
            ("25 C / 15 min", 25.0, 900.0),
            ("100 C/min", 100.0, 60.0),
            ("100 C / h", 100.0, 3600.0),
            ("100 °C/h", 100.0, 3600.0),
            ("45 F / 15 min", 25.0, 900.0),
            ("25 K / 1 h 30 min", 25.0, 5400.0),
            ("1 C / s", 1.0, 1.0),
            ("2 C / 0.5 min", 2.0, 30.0),
            ("25 °C in 15 min", 25.0, 900.0),
            ("26 °C within 15 min", 26.0, 900.0),
            ("25 C per 15 min", 25.0, 900.0),
            ("25 degrees C in any 15 minutes", 25.0, 900.0),
            ("2,5 C / min", 2.5, 60.0),
            ("100 C/hour", 100.0, 3600.0),
            ("100 °C per hour", 100.0, 3600.0),
            ("100 C an hour", 100.0, 3600.0),
            ("45 °F/15 min", 25.0, 900.0),
        ],
    )
    def test_keeps_its_climb_and_its_window(self, text: str, climb_c: float, window_s: float) -> None:
        """25 °C in 15 minutes is not the same limit as 100 °C in an hour."""
        rate = parse_rate(text)
        assert (rate.climb_c, rate.window_s) == pytest.approx((climb_c, window_s))

    def test_knows_its_slope(self) -> None:
        """For comparing limits of different windows."""
        assert Rate(25.0, 900.0).c_per_s == pytest.approx(100 / 3600)

    @pytest.mark.parametrize(
        "text",
        [
            "",
            "/",
            "25 C",
            "25 C /",
            "/ 15 min",
            "25 / 15 min",
            "25 C / 15",
            "25 C / fortnight",
            "25 C / -15 min",
            "25 C / 15 min / 2",
            "25 C in in 15 min",
            "25 C 15 min",
            "in 15 min",
            "25 min / 15 C",
            *NOT_TEXT,
        ],
    )
    def test_anything_else_is_refused_as_it_was_written(self, text: object) -> None:
        """Never by half of it, and never with the 1 that is read into `100 C/min`."""
        with pytest.raises(QuantityError) as refusal:
            parse_rate(text)
        assert str(refusal.value) == f"{text!r} is not a rate such as '25 C / 15 min'"

    def test_with_a_comma_and_three_digits_are_refused_with_both_readings(self) -> None:
        """In its climb and in its window."""
        for text, written in (("1,200 C / h", "1,200"), ("25 C in 1,500 s", "1,500")):
            with pytest.raises(AmbiguousNumberError, match=rf"{written} may mean 1\.\d or 1\d00"):
                parse_rate(text)

    @pytest.mark.parametrize("text", ["0 C / min", "-5 C / min", "5 C / 0 min", "-9 F / min"])
    def test_without_a_climb_or_a_window_is_refused(self, text: str) -> None:
        """A cool's limit is written as a positive rate as well; a window of nothing would divide by zero."""
        with pytest.raises(QuantityError) as refusal:
            parse_rate(text)
        assert str(refusal.value) == f"{text!r}: a rate needs a climb and a window above zero"


class TestSlopesForPeople:
    @pytest.mark.parametrize(
        ("c_per_s", "window_s", "text"),
        [
            (100 / 3600, 900, "100 °C/h"),
            (100 / 3600, 300, "100 °C/h"),
            (10 / 60, 299, "10 °C/min"),
            (12.345 / 60, 60, "12.3 °C/min"),
            (142.4 / 3600, 900, "142 °C/h"),
            (1234.6 / 3600, 900, "1235 °C/h"),
            (-142.4 / 3600, 900, "-142 °C/h"),
            (0.0, 900, "0 °C/h"),
            (3e-16, 900, "0 °C/h"),
            (-3e-16, 900, "0 °C/h"),
            (-1e-7, 60, "0 °C/min"),
        ],
    )
    def test_come_in_the_unit_the_window_suits_and_never_with_an_exponent(
        self, c_per_s: float, window_s: float, text: str
    ) -> None:
        """A furnace that stands still climbs by nothing, whatever rounding says."""
        assert format_slope(c_per_s, window_s) == text

    def test_is_the_number_the_unit_belongs_to(self) -> None:
        """An event's value and its unit come from one place."""
        assert slope_in_window_unit(0.5, 900) == (1800.0, "°C/h")
        assert slope_in_window_unit(0.5, 60) == (30.0, "°C/min")

    @given(st.floats(-1e3, 1e3), st.floats(1.0, 1e5))
    def test_any_slope_is_written_as_a_plain_number_near_it(self, c_per_s: float, window_s: float) -> None:
        """Within half a percent or half a hundredth."""
        value, unit = slope_in_window_unit(c_per_s, window_s)
        number, _, written_unit = format_slope(c_per_s, window_s).partition(" ")
        assert written_unit == unit
        assert "e" not in number
        assert math.isclose(float(number), value, rel_tol=0.006, abs_tol=0.00501)


def test_a_refused_quantity_is_both_ours_and_a_value_error() -> None:
    """Settings checks catch the one, a person's screen the other."""
    with pytest.raises(QuantityError) as refusal:
        parse_duration("soon")
    assert isinstance(refusal.value, RampwardenError)
    assert isinstance(refusal.value, ValueError)
