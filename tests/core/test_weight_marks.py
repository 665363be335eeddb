"""Weights in marks: read however people write a number, and refused where a comma may mean two things."""

import pytest

from rampwarden.core.weight_marks import BOTTLE, POT, maybe_weight_kg, refuse_ambiguous
from rampwarden.errors import AmbiguousNumberError


@pytest.mark.parametrize(
    ("mark", "of", "kg"),
    [
        ("bottle-weighs-14.2", BOTTLE, 14.2),
        ("Bottle weighs 14,2 kg", BOTTLE, 14.2),
        ("bottle_weighs 9kg", BOTTLE, 9.0),
        ("bottle-weighs 14.200 kg", BOTTLE, 14.2),
        ("pot-weighs 3,5205 kg", POT, 3.5205),
        ("pot-weighs 0,520 kg", POT, 0.52),
        ("pot-weighs 3.52 kg", BOTTLE, None),
        ("bottle-weighs", BOTTLE, None),
        ("bottle-weighs-14-stone", BOTTLE, None),
        ("the-bottle-weighs-14", BOTTLE, None),
        ("bottle-weighs 14..2", BOTTLE, None),
        ("bottle-weighs 14200", BOTTLE, None),
    ],
)
def test_a_weight_is_read_out_of_a_mark(mark: str, of: str, kg: float | None) -> None:
    """Of the one that is asked about."""
    assert maybe_weight_kg(mark, of) == kg


def test_a_comma_and_three_digits_are_refused_with_both_readings() -> None:
    """3.52 kg and 3520 kg; a mark in words of one's own is nobody's to read."""
    with pytest.raises(AmbiguousNumberError) as refusal:
        refuse_ambiguous("pot weighs 3,520 kg")
    assert str(refusal.value) == ("pot-weighs 3,520 kg: 3,520 may mean 3.52 kg or 3520 kg; write one of these two")
    refuse_ambiguous("added 1,200 g of tin")
