"""When a pot is to be retired: by its owner's rule alone, and how near it has come to each part of it."""

import pytest

from rampwarden.errors import RegisterError
from rampwarden.records import RetireStanding, nearest_limit, retire_standings
from rampwarden.records.crucible_retirement import RetireLimit, parse_rule


@pytest.mark.parametrize(
    ("text", "limits", "own"),
    [
        ("", (), ()),
        ("10 %", (RetireLimit(10.0, "%"),), ()),
        (
            "7,5 % of mass, 40 h above 700, 30 heats",
            (RetireLimit(7.5, "%"), RetireLimit(40.0, "h"), RetireLimit(30.0, "heats")),
            (),
        ),
        ("40 hours; when it rings dull", (RetireLimit(40.0, "h"),), ("when it rings dull",)),
        ("1 heat", (RetireLimit(1.0, "heats"),), ()),
    ],
)
def test_a_rule_is_read_in_parts_and_what_is_none_is_kept_as_words(
    text: str, limits: tuple[RetireLimit, ...], own: tuple[str, ...]
) -> None:
    """A decimal comma parts no two rules."""
    assert parse_rule(text) == (limits, own)


@pytest.mark.parametrize("text", ["0 %", "101 %", "0 heats", "1,200 h", "9999999 h"])
def test_a_limit_that_means_nothing_or_two_things_is_refused(text: str) -> None:
    """With what stands there."""
    with pytest.raises(RegisterError, match=f"retire at '{text}'"):
        parse_rule(text)


def test_each_part_is_held_against_the_life_and_the_nearest_is_named() -> None:
    """Mass lost of the mass when new; own words are no limit."""
    standings = tuple(retire_standings("10 %, 40 h, 30 heats, when it rings dull", 3.4, 3.23, 30.0, 12))
    assert [(standing.words, standing.share) for standing in standings] == [
        ("10 % of its mass lost: 5.0 % so far", pytest.approx(0.5)),
        ("40 h above 700 °C: 30.0 h so far", pytest.approx(0.75)),
        ("30 heats: 12 so far", pytest.approx(0.4)),
        ("when it rings dull", None),
    ]
    assert nearest_limit(standings) is standings[1]


def test_a_pot_that_was_never_weighed_is_not_near_to_a_loss_of_mass() -> None:
    """Nobody can tell, and that is said."""
    [standing] = retire_standings("10 %", 3.4, None, 0.0, 0)
    assert standing == RetireStanding("10 % of its mass lost: it has not been weighed new and used", None)
    assert nearest_limit((standing,)) is None
