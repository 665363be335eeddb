"""What leaves the program: nothing of it steers a terminal, breaks a line or is calculated by a spreadsheet."""

import csv
import io
import json
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rampwarden.terminal_text import folded, printable, spreadsheet_cell, visible_json

_INVISIBLE = {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}
_TEXTS = st.text(st.characters(exclude_categories=["Cs"])) | st.text(
    st.sampled_from("=+-@\t\r\x1b\x9b\u202e\U000e0041 a°")
)


@given(_TEXTS)
def test_nothing_invisible_reaches_a_terminal(text: str) -> None:
    assert not {unicodedata.category(letter) for letter in printable(text)} & _INVISIBLE


@given(_TEXTS)
def test_json_is_all_visible_and_decodes_to_the_same(text: str) -> None:
    shown = visible_json(json.dumps({"text": text}, ensure_ascii=False) + "\n")
    assert shown.endswith("\n")
    assert not {unicodedata.category(letter) for letter in shown[:-1]} & _INVISIBLE
    assert json.loads(shown) == {"text": text}


@given(_TEXTS)
def test_no_field_of_a_table_begins_like_a_formula(text: str) -> None:
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerow([spreadsheet_cell(text), 1])
    (row,) = csv.reader(io.StringIO(stream.getvalue()))
    assert row[0].strip()[:1] not in ("=", "+", "-", "@")
    assert row[1] == "1"


@pytest.mark.parametrize("value", [-1.5, None, 3, "red heat", "1100 °C", ""])
def test_numbers_and_plain_words_stay_as_they_are(value: object) -> None:
    assert spreadsheet_cell(value) == value


@pytest.mark.parametrize(
    ("line", "columns", "hanging", "lines"),
    [
        ("heat to 180 °C", 14, 2, ["heat to 180 °C"]),
        ("heat to 180 °C", 13, 2, ["heat to 180", "  °C"]),
        ("  1  heat to 180 °C, at most", 15, 5, ["  1  heat to", "     180 °C, at", "     most"]),
        ("see /dev/serial/by-id/a-long-name now", 10, 2, ["see", "  /dev/serial/by-id/a-long-name", "  now"]),
        ("one  two", 5, 0, ["one", "two"]),
        ("   ", 2, 0, ["   "]),
        ("a b c", 1, 8, ["a", "        b", "        c"]),
    ],
)
def test_a_long_line_is_broken_between_words_and_never_inside_one(
    line: str, columns: int, hanging: int, lines: list[str]
) -> None:
    """A path stays whole; what follows stands further in; nothing is lost."""
    assert folded(line, columns, hanging).split("\n") == lines
