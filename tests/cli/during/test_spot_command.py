"""`rampwarden spot`: with a running watch, without one, and with what cannot be."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from command_line import CommandLine
from rampwarden.spot.spot_check import read_note
from running_watch import RunningWatch, running_watch, told, wait_for


@pytest.fixture
def alone(rampwarden: CommandLine, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> CommandLine:
    """A command line that finds no watch: other people's on this machine are none of ours."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    return rampwarden


@pytest.fixture(scope="module")
def watch() -> Iterator[RunningWatch]:
    """A watch that has had its first readings."""
    with running_watch() as running:
        wait_for(lambda: _shows_a_temperature(running), "no trusted temperature is shown")
        yield running


def _shows_a_temperature(running: RunningWatch) -> bool:
    shown = told(running.runtime, "status", "--json")
    return shown.returncode == 0 and json.loads(shown.stdout)["status"].get("quality") == "good"


def test_without_a_watch_it_only_corrects_and_says_so(alone: CommandLine) -> None:
    outcome = alone("spot", "880", "--emissivity", "0.8")
    assert outcome.status == 0
    assert outcome.output.startswith("998 ± ")
    assert "not compared: no watch is running" in outcome.errors


def test_fahrenheit_and_a_cavity_are_understood(alone: CommandLine) -> None:
    """1616 °F is 880 °C, and a pot two diameters deep is nearly black."""
    outcome = alone("spot", "1616 F", "--cavity", "2")
    assert outcome.output.startswith("864 ± ")


def test_a_watch_asked_for_by_name_must_be_there(alone: CommandLine) -> None:
    outcome = alone("spot", "880", "--watch", "furnace-9")
    assert outcome.status == 2
    assert "furnace-9" in outcome.errors


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("hot",), "temperature"),
        (("880", "--emissivity", "1.2"), "emissivity 1.2"),
        (("880", "--set-emissivity", "0"), "emissivity 0"),
        (("880", "--band", "14-8um"), "band"),
        (("600", "--wall", "2500"), "wall"),
        (("880", "--cavity", "-1"), "depth"),
        (("nan",), "temperature"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(alone: CommandLine, arguments: tuple[str, ...], said: str) -> None:
    assert said in alone.refusal("spot", *arguments)


def test_a_running_watch_is_compared_with_and_gets_the_check_as_a_note(watch: RunningWatch) -> None:
    """Its thermocouple is cold, so the spot thermometer sees something else: status 1."""
    done = told(watch.runtime, "spot", "880")
    assert done.returncode == 1, done
    assert "doubt the spot reading" in done.stdout or "doubt the thermocouple" in done.stdout

    def noted() -> bool:
        return any(read_note(str(line.get("text", ""))) for line in watch.recorded("command"))

    wait_for(noted, "the check is not in the record")
    again = told(watch.runtime, "spot", "881", "--no-note")
    assert "earlier in this heat: +" in again.stdout
    assert "taken" not in again.stdout
