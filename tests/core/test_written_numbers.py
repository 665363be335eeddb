"""Numbers as they are written: what is read, what two readings are named, what is no number."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rampwarden.core.written_numbers import DecimalSign, parse_number
from rampwarden.errors import AmbiguousNumberError, QuantityError

POINT, COMMA = DecimalSign.POINT, DecimalSign.COMMA


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("12", None, 12.0),
        ("-12.5", None, -12.5),
        ("+12,5", None, 12.5),
        ("1.200", None, 1.2),
        ("0,200", None, 0.2),
        ("1234,567", None, 1234.567),
        ("1,234,567", None, 1234567.0),
        ("1,234.5", None, 1234.5),
        ("1.234,5", None, 1234.5),
        ("1’234.5", None, 1234.5),
        ("1,200", COMMA, 1.2),
        ("1,200", POINT, 1200.0),
        ("1.200", COMMA, 1200.0),
        ("1.200", POINT, 1.2),
        ("1.200,5", COMMA, 1200.5),
        ("850", COMMA, 850.0),
    ],
)
def test_a_number_is_read_by_itself_or_by_its_surroundings(
    text: str, decimal: DecimalSign | None, value: float
) -> None:
    """What its neighbours use decides what it alone leaves open."""
    assert parse_number(text, decimal) == value


@pytest.mark.parametrize(("text", "both"), [("1,200", ("1.2", "1200")), ("-25,050", ("25.05", "25050"))])
def test_a_comma_and_three_digits_alone_are_never_guessed(text: str, both: tuple[str, str]) -> None:
    """Both readings are named, for whoever has to write it anew."""
    with pytest.raises(AmbiguousNumberError) as refusal:
        parse_number(text)
    assert refusal.value.readings == both


@pytest.mark.parametrize(
    ("text", "decimal"),
    [
        ("", None),
        ("-", None),
        (".5", None),
        ("5.", None),
        ("1e3", None),
        ("nan", None),
        ("٣", None),
        ("1,2,3", None),
        ("1.2.3", None),
        ("12,345,6", None),
        ("1 2", None),
        ("12345678", None),
        ("1.1234567", None),
        ("9" * 5000, None),
        ("2,5", POINT),
        ("2.5", COMMA),
        ("1,234.5", COMMA),
        ("1.234,5", POINT),
    ],
)
def test_what_is_no_number_or_contradicts_its_surroundings_is_refused(text: str, decimal: DecimalSign | None) -> None:
    """A fraction with the other sign is a mistake of somebody, and not ours to mend."""
    with pytest.raises(QuantityError):
        parse_number(text, decimal)


@given(st.integers(-9_999_999, 9_999_999), st.integers(0, 99), st.sampled_from(list(DecimalSign)))
def test_whatever_is_written_with_two_decimals_reads_back(whole: int, cents: int, sign: DecimalSign) -> None:
    """With either sign, and whether the sign is known or not."""
    text = f"{whole}{sign}{cents:02d}"
    value = float(f"{whole}.{cents:02d}")
    assert parse_number(text) == parse_number(text, sign) == value
