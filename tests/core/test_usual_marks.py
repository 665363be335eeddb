"""The usual marks: which there are, what they bring, and what a door refuses of them."""

import pytest

from rampwarden.core.usual_marks import USUAL_MARKS, MarkValue, maybe_usual, refuse_unusable, usual_name
from rampwarden.core.weight_marks import POT, maybe_weight_kg
from rampwarden.errors import AmbiguousNumberError, QuantityError


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("burner 3", "burner", "3"),
        ("Burner: half a turn", "burner", "half a turn"),
        ("gauge 1,2 bar", "gauge", "1,2 bar"),
        ("bottle number 7", "bottle-number", "7"),
        ("bottle-weighs 14.2 kg", "bottle-weighs", "14.2 kg"),
        ("watched_by Ana-Lena", "watched-by", "Ana-Lena"),
        ("mist seen", "mist-seen", ""),
        ("watched by", "watched-by", ""),
    ],
)
def test_a_mark_is_known_by_its_name_however_it_is_written_and_keeps_its_value(
    text: str, name: str, value: str
) -> None:
    """A person's name stays as it was written."""
    usual = maybe_usual(text)
    assert usual is not None
    assert (usual[0].name, usual[1]) == (name, value)
    assert usual_name(text) == name


@pytest.mark.parametrize("text", ["lid-open wide", "burnerman", "gauged", "glaze runs"])
def test_any_other_word_is_none_of_them(text: str) -> None:
    """Neither is a usual mark with words after it that brings no value: nobody knows what they mean."""
    assert maybe_usual(text) is None
    refuse_unusable(text)


def test_each_mark_with_a_value_says_what_is_asked_for_and_its_example_can_be_used() -> None:
    """The same example stands in questions and refusals."""
    for mark in USUAL_MARKS:
        assert bool(mark.asked) is (mark.value is not MarkValue.NOTHING)
        refuse_unusable(f"{mark.name} {mark.example}".strip())


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("gauge", r"gauge needs its value \(gauge pressure\), such as: gauge 1.2 bar"),
        ("watched by", "watched-by needs its value"),
        ("gauge 1.2", "a pressure is a number with its unit"),
        ("gauge much", "a pressure is a number with its unit"),
        ("bottle-weighs a lot", "bottle-weighs a lot: not a number"),
    ],
)
def test_a_value_that_is_missing_or_cannot_be_read_is_refused_with_what_would_be_right(text: str, why: str) -> None:
    """Before it is in the record."""
    with pytest.raises(QuantityError, match=why):
        refuse_unusable(text)


@pytest.mark.parametrize("text", ["gauge 1,200 mbar", "pot-weighs 3,520 kg"])
def test_a_value_that_may_be_two_is_refused_with_both(text: str) -> None:
    """1.2 or 1200."""
    with pytest.raises(AmbiguousNumberError, match=" may mean "):
        refuse_unusable(text)


@pytest.mark.parametrize(
    "text",
    ["pot-weighs: 3.52 kg", "pot weighs = 3.52 kg", "pot-weighs 1 150 kg", "pot-weighs −3 kg", "pot-weighs 20000 kg"],
)
def test_a_weight_that_a_heat_could_not_read_is_refused_where_it_is_said(text: str) -> None:
    """Else it would be lost in silence."""
    assert maybe_weight_kg(text, POT) is None
    with pytest.raises(QuantityError, match="not a number of kg"):
        refuse_unusable(text)
