"""Limits of a maker's sheet: read as they are written, written as they are read."""

import pytest

from rampwarden.core.quantities import Rate
from rampwarden.errors import QuantityError
from rampwarden.plan.sheet import SheetLimit, parse_sheet_limit


@pytest.mark.parametrize(
    ("text", "limit"),
    [
        ("20-200 C: at most 30 C / h", SheetLimit(20.0, 200.0, Rate(30.0, 3600.0))),
        ("20 to 200 C: 30 C/h", SheetLimit(20.0, 200.0, Rate(30.0, 3600.0))),
        ("68–392 F: 54 F / h", SheetLimit(20.0, 200.0, Rate(30.0, 3600.0))),
        ("200-650 C: at least 40 C / 5 min", SheetLimit(200.0, 650.0, Rate(40.0, 300.0), at_least=True)),
        ("cooling 900-200 C: at most 100 C / h", SheetLimit(200.0, 900.0, Rate(100.0, 3600.0), cooling=True)),
        ("COOLING 900-200 °C: AT MOST 100 C / h", SheetLimit(200.0, 900.0, Rate(100.0, 3600.0), cooling=True)),
        ("-10-50 C: 10 C / 90 s", SheetLimit(-10.0, 50.0, Rate(10.0, 90.0))),
    ],
)
def test_a_limit_is_read_as_people_write_it(text: str, limit: SheetLimit) -> None:
    """Either scale, either order, with the averaging window kept."""
    assert parse_sheet_limit(text) == limit


@pytest.mark.parametrize(
    "text", ["20-200 C: at most 30 C / h", "cooling 200-900 C: at least 12.5 C / 5 min", "20-200 C: 0.5 C / 45 s"]
)
def test_a_limit_that_is_written_out_reads_back_the_same(text: str) -> None:
    """The register keeps it as text."""
    limit = parse_sheet_limit(text)
    assert parse_sheet_limit(str(limit)) == limit


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("", "is not a limit such as '20-200 C: at most 30 C / h'"),
        ("slowly", "is not a limit such as"),
        ("200 C: 30 C / h", "is not a limit such as"),
        ("20-200: 30 C / h", "is not a limit such as"),
        ("200-200 C: 30 C / h", "its two temperatures are the same; give a range"),
        ("20-200 C: fast", "'fast' is not a rate such as '25 C / 15 min'"),
        ("20-200 C: 0 C / h", "a rate needs a climb and a window above zero"),
        ("1..2-200 C: 30 C / h", "is not a temperature"),
    ],
)
def test_what_is_no_limit_is_told_with_what_would_be(text: str, complaint: str) -> None:
    """One line, for a person."""
    with pytest.raises(QuantityError) as caught:
        parse_sheet_limit(text)
    assert complaint in str(caught.value)


@pytest.mark.parametrize(
    ("from_c", "to_c", "overlaps"),
    [
        (20.0, 100.0, False),
        (20.0, 101.0, True),
        (150.0, 120.0, True),
        (200.0, 300.0, False),
        (20.0, 1000.0, True),
        (150.0, 150.0, False),
    ],
)
def test_a_limit_concerns_what_passes_through_its_range(from_c: float, to_c: float, overlaps: bool) -> None:
    """Touching its edge is no passage."""
    assert parse_sheet_limit("100-200 C: 30 C / h").overlaps(from_c, to_c) is overlaps
