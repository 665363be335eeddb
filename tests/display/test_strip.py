"""The strip's drawing of a course."""

from rampwarden.display.strip import _Plot


def drawn(*temps_c: float | None) -> list[str]:
    """Draw a course, a column each, on four rows (eight half rows) from 80 down to 0 °C."""
    plot = _Plot(len(temps_c), 4, 0.0, 60.0)
    plot._low_c, plot._high_c = 0.0, 80.0
    plot.line(temps_c)
    return ["".join(sign for sign, _ in row) for row in plot._cells]


def test_a_level_course_is_a_line_half_a_row_high() -> None:
    """In the half row where it is."""
    assert drawn(75.0, 65.0, 65.0) == ["▀▄▄", "   ", "   ", "   "]


def test_climb_and_fall_are_joined_from_half_row_to_half_row() -> None:
    """Each column goes on one half row from where the one before it ended."""
    assert drawn(5.0, 35.0, 75.0) == ["  █", "  █", " █ ", "▄▀ "]
    assert drawn(75.0, 35.0, 5.0) == ["▀▄ ", " █ ", " ▀▄", "  █"]


def test_a_hole_joins_nothing() -> None:
    """What was not measured is not drawn."""
    assert drawn(5.0, None, 75.0) == ["  ▀", "   ", "   ", "▄  "]
