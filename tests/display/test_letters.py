"""Letters that are read from three metres."""

import string

import pytest

from rampwarden.core.short_orders import LONGEST_ORDER, ShortOrder
from rampwarden.display.letters import letters, letters_size


@pytest.mark.parametrize("scale", [1, 2, 3])
def test_a_text_takes_the_room_it_says(scale: int) -> None:
    """Every row as long as the others, and as many rows as were asked for."""
    for text in (*ShortOrder, "25 °C in 15 min", "680-720 °C", "Ölofen"):
        if text:
            columns, rows = letters_size(text, scale)
            drawn = letters(text, scale, blocks=True)
            assert [len(row) for row in drawn] == [columns] * rows


def test_a_letter_is_three_rows_high_and_three_columns_wide() -> None:
    """As asked for by those who stand three metres away; signs may be smaller, letters and digits may not."""
    for letter in string.ascii_uppercase + string.digits:
        drawn = letters(letter, 1, blocks=True)
        assert len(drawn) == 3
        assert all(row.strip() for row in drawn), letter
        assert max(map(len, drawn)) == 3
        # Set in its columns, not only in the space around it.
        assert sum(any(row[column] != " " for row in drawn) for column in range(3)) >= 2, letter


def test_no_two_letters_look_alike() -> None:
    """An S that is a 5, or an O that is a 0, is at worst another order."""
    drawn = {letter: letters(letter, 1, blocks=True) for letter in string.ascii_uppercase + string.digits}
    assert len(set(drawn.values())) == len(drawn)


def test_twenty_letters_fit_on_eighty_columns() -> None:
    """Of which the display leaves the last alone."""
    assert letters_size("M" * LONGEST_ORDER, 1) == (79, 3)


def test_any_name_can_be_drawn() -> None:
    """Marks fall away, what is unknown becomes a box, and without block characters it is drawn with signs."""
    assert letters("é", 1, blocks=True) == letters("E", 1, blocks=True)
    assert letters("Ä–", 1, blocks=True) == letters("A-", 1, blocks=True)
    assert letters("\u4e2d", 1, blocks=True)[0] == "█▀█"
    assert set("".join(letters("EASE", 1, blocks=False))) <= set(' "o#')
