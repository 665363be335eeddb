"""What an explanation says in words: the cause or the pair, how sure, since when; and how it is taken back."""

import pytest

from rampwarden.core.explanation import Cause, Figures, Statement
from rampwarden.core.watching.statement_words import over_words, told_words, withdrawn_words

FIGURES = Figures(
    temp_c=1083.0,
    change_c=-43.0,
    before_c_per_s=0.5,
    now_c_per_s=-0.1,
    lasted_s=240.0,
    period_s=300.0,
    count=7,
    metal="copper",
)


def said(cause: Cause, figures: Figures = FIGURES, sure: float = 0.9) -> str:
    return told_words(Statement(cause, 8040.0, 8100.0, sure, figures))


@pytest.mark.parametrize("cause", list(Cause))
def test_every_cause_says_how_sure_and_since_when_with_and_without_figures(cause: Cause) -> None:
    assert said(cause).startswith("likely ")
    assert ", since 2:14 h" in said(cause)
    assert said(cause, Figures()).endswith(", since 2:14 h")


@pytest.mark.parametrize(
    ("cause", "both"),
    [
        (Cause.FADING, ("gas", "turned down")),
        (Cause.SAG, ("gas", "turned down")),
        (Cause.LID_OR_PROBE, ("lid", "probe")),
        (Cause.PROBE_MOVED, ("probe", "lid")),
        (Cause.CYCLING, ("thermostat", "burner")),
        (Cause.HEAT_OFF, ("tripped", "thermostat")),
    ],
)
def test_what_one_probe_cannot_tell_apart_is_said_as_the_pair(cause: Cause, both: tuple[str, str]) -> None:
    assert all(word in said(cause) for word in both)


def test_figures_stand_behind_the_statement() -> None:
    assert said(Cause.LID_OR_PROBE).endswith("since 2:14 h: 43 °C fell at once")
    assert said(Cause.FADING).endswith("since 2:14 h: +30.0 became -6.0 °C/min")
    assert said(Cause.PLATEAU).startswith("likely copper melts, since")
    assert said(Cause.PLATEAU, Figures(before_c_per_s=-0.1, metal="zinc")).startswith("likely zinc freezes, since")


@pytest.mark.parametrize(
    ("sure", "word"), [(0.99, "almost certainly"), (0.95, "very likely"), (0.8, "likely"), (0.79, "possibly")]
)
def test_how_sure_it_is_stands_first(sure: float, word: str) -> None:
    assert said(Cause.CHARGE, sure=sure).startswith(f"{word} cold metal")


@pytest.mark.parametrize("cause", list(Cause))
def test_what_was_wrong_is_withdrawn_with_what_and_when(cause: Cause) -> None:
    text = withdrawn_words(Statement(cause, 8040.0, 8100.0, 0.9))
    assert text.startswith("withdrawn: it was not ")
    assert text.endswith("(told at 2:15 h)")


def test_what_is_over_says_so_unless_an_alarms_return_does() -> None:
    lid = Statement(Cause.LID_OR_PROBE, 8040.0, 8055.0, 0.9)
    assert over_words(lid, 8120.0) == "the lid is shut again, or the probe back in its place, after 1 min 20 s"
    assert over_words(Statement(Cause.FLAME_OUT, 8040.0, 8055.0, 0.9), 8120.0) == ""
