"""The report's plain text, on paper."""

from rampwarden.report.pdf_and_picture import _LETTERS, _widths


def test_columns_get_what_they_want_while_there_is_room() -> None:
    """And never nothing."""
    assert _widths([["a", ""], ["abc", ""]]) == [3, 1]


def test_the_widest_column_gives_way_until_the_line_fits() -> None:
    """A time stays whole beside a long sentence."""
    widths = _widths([["12:00", "x" * 150, "y" * 90]])
    assert widths[0] == 5
    assert sum(widths) + 2 * 2 == _LETTERS
    assert abs(widths[1] - widths[2]) <= 1
