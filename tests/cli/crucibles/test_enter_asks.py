"""`rampwarden crucible enter` at a terminal: nothing to type but what the pot weighs and looks like."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.cli.crucibles.test_crucible_command import TABLE, record

from command_line import CommandLine
from rampwarden.assembly.crucible import start_warnings
from rampwarden.cli.crucibles.enter import ask_after_heat, parse_mass_kg
from rampwarden.core.heat import parse_schedule
from rampwarden.errors import AmbiguousNumberError, QuantityError
from rampwarden.settings import Settings


@pytest.fixture
def asked(rampwarden: CommandLine, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Give the answers that somebody at a terminal will give, to be filled; A3 has a heat that waits."""
    answers: list[str] = []
    monkeypatch.setattr("rampwarden.cli.questions.can_ask", lambda: True)
    monkeypatch.setattr("typer.prompt", lambda *_, **__: answers.pop(0))
    rampwarden("crucible", "add", "A3", "--class", "clay-graphite")
    record(Path.cwd())
    return answers


def last_heat(rampwarden: CommandLine) -> dict[str, object]:
    heat: dict[str, object] = json.loads(rampwarden("crucible", "show", "A3", "--json").output)["heats"][-1]
    return heat


def test_a_heat_that_waits_is_entered_and_asked_about(rampwarden: CommandLine, asked: list[str]) -> None:
    """What cannot be read, or be read in two ways, is asked again; the mass in whatever unit it was read off."""
    asked += ["3,380", "heavy", "3380 g", "even ring, no crack"]
    outcome = rampwarden("crucible", "enter")
    assert outcome.output == "heats/one.jsonl: entered for A3\nA3: noted\n"
    assert "'3,380': 3,380" not in outcome.output
    assert "may mean 3.38 kg or 3380 kg; write one of these two" in outcome.errors
    assert "'heavy' is not a mass" in outcome.errors or "'heavy'" in outcome.errors
    heat = last_heat(rampwarden)
    assert (heat["mass_after_kg"], heat["look"]) == (3.38, "even ring, no crack")
    assert asked == []
    assert rampwarden("crucible", "enter").output == "no heat waits to be entered\n"


def test_what_was_passed_over_is_asked_again_next_time_and_said_at_the_start(
    rampwarden: CommandLine, asked: list[str]
) -> None:
    """Enter alone is no answer; a watch of the pot says that it is missing until it is told."""
    asked += ["", ""]
    assert rampwarden("crucible", "enter").output == "heats/one.jsonl: entered for A3\n"

    def told() -> list[str]:
        warned = start_warnings(Settings(), "A3", parse_schedule(TABLE, "t"), datetime.now(UTC).date())
        return [text for text in warned if "weighed and looked like" in text]

    [sentence] = told()
    assert sentence.startswith("crucible: what A3 weighed and looked like after its heat of ")
    assert sentence.endswith(" is not told: rampwarden crucible enter")
    asked += ["", "a crack"]
    assert rampwarden("crucible", "enter").output == "A3: noted\n"
    assert last_heat(rampwarden)["look"] == "a crack"
    assert told() == []


def test_who_names_a_record_is_asked_about_that_heat_alone_and_options_ask_nothing(
    rampwarden: CommandLine, asked: list[str]
) -> None:
    """What was given need not be asked, nor may a program be."""
    assert rampwarden("crucible", "enter", "--no-questions").output == "heats/one.jsonl: entered for A3\n"
    rampwarden("crucible", "add", "B1", "--class", "fireclay")
    other = record(Path.cwd(), "B1", "two", "heats/two.jsonl")
    asked += ["2,5 kg", ""]
    assert rampwarden("crucible", "enter", other).output == f"{other}: entered for B1\nB1: noted\n"
    assert rampwarden("crucible", "enter", other, "--mass-kg", "2.4").status == 0
    assert rampwarden("crucible", "enter", "--json").status == 0


@pytest.mark.parametrize(("text", "kg"), [("3.38 kg", 3.38), ("3,38", 3.38), ("3380 g", 3.38), ("3 380g", 3.38)])
def test_a_mass_is_read_as_a_balance_shows_it(text: str, kg: float) -> None:
    """In kilograms, unless grams are said."""
    assert parse_mass_kg(text) == pytest.approx(kg)


@pytest.mark.parametrize("text", ["heavy", "3.38 stone", "0 kg", "5000 kg", "-3 kg", "kg"])
def test_what_is_no_mass_is_refused(text: str) -> None:
    """And asked again."""
    with pytest.raises(QuantityError):
        parse_mass_kg(text)


def test_a_mass_of_two_readings_is_refused_with_both() -> None:
    """In its own unit."""
    with pytest.raises(AmbiguousNumberError, match=r"'3,380 g' may mean 3\.38 g or 3380 g"):
        parse_mass_kg("3,380 g")


def test_a_heat_that_has_just_ended_is_asked_about_once_and_only_cold(
    rampwarden: CommandLine, asked: list[str], capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a heat that the register does not know nothing is asked; a hot pot nobody weighs."""
    path = Path("heats/one.jsonl")
    ask_after_heat(Settings(), path)
    assert capfd.readouterr().out == ""
    assert rampwarden("crucible", "enter", path, "--no-questions").status == 0
    capfd.readouterr()
    ask_after_heat(Settings(), path)
    assert capfd.readouterr().out == ""
    monkeypatch.setattr("rampwarden.cli.crucibles.enter.COLD_C", 2000.0)
    asked += ["3.38 kg", ""]
    ask_after_heat(Settings(), path)
    assert asked == []
    assert capfd.readouterr().out == "A3: noted\n"
    assert last_heat(rampwarden)["mass_after_kg"] == 3.38
