"""The page as markup: which cells are set as numbers."""

from matplotlib.figure import Figure

from rampwarden.report.content import Section, Table
from rampwarden.report.html_page import html_page


def test_the_columns_of_numbers_are_set_flush_right_with_their_headings_and_no_other_is() -> None:
    """Words are read from the left, figures are compared from the right."""
    table = Table(("at", "alarm"), (("0:10", "ramp-high"), ("1:05", "signal-lost")), numbers=(0,))
    page = html_page("a heat", "", (), Figure(), "", (Section("Alarms", table=table),))
    number = ' class="number"'
    assert f"<tr><th{number}>at</th><th>alarm</th></tr>" in page
    assert f"<tr><td{number}>0:10</td><td>ramp-high</td></tr>" in page
    assert f"<tr><td{number}>1:05</td><td>signal-lost</td></tr>" in page
