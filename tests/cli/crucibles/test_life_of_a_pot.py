"""The life of a pot through the commands: every one of them says the same readiness, and only what was seen counts."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

import invented_heat
from command_line import CommandLine
from rampwarden.assembly.crucible import start_warnings
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.settings import Settings

pytestmark = pytest.mark.long


FIRST: invented_heat.Line = {
    "title": "First heat",
    "crucible_class": "clay-graphite",
    "heat": "first",
    "segment": [
        {"name": "drying", "kind": "ramp", "to": "180 C", "max_rate": "30 C / 15 min"},
        {"name": "dry soak", "kind": "soak", "at": "180 C", "band": ["-15 C", "+15 C"], "hold": "60 min"},
        {"name": "up", "kind": "ramp", "to": "1000 C", "max_rate": "40 C / 2 min"},
        {"name": "hold", "kind": "soak", "at": "1000 C", "band": ["-25 C", "+25 C"], "hold": "30 min"},
        {"name": "down", "kind": "cool", "to": "60 C", "max_rate": "150 C / 10 min"},
    ],
}
LATER: invented_heat.Line = {**FIRST, "title": "Later heat", "heat": "later", "segment": FIRST["segment"][2:]}  # type: ignore[index]  # a list
FIRST_COURSE = ((0, 20), (6000, 180.5), (10200, 180.5), (14700, 1001), (16800, 1001), (22600, 45))
LATER_COURSE = ((0, 20), (6000, 1001), (8100, 1001), (13900, 45))
TOO_FAST_COURSE = ((0, 20), (3000, 400), (3600, 750), (6000, 1001), (8100, 1001), (13900, 45))
FALSE_START_COURSE = ((0, 22), (60, 22))


def record(
    folder: Path, name: str, course: tuple[tuple[float, float], ...], schedule: invented_heat.Line, days_ago: int
) -> Path:
    """Write a heat of A3 begun so many days ago."""
    began = (datetime.now(UTC) - timedelta(days=days_ago)).isoformat(timespec="seconds").replace("+00:00", "Z")
    path = folder / f"{name}.jsonl"
    return invented_heat.write_record(path, course, schedule=schedule, started=began, crucible="A3")


def readiness(rampwarden: CommandLine) -> str:
    """Give what A3 is ready for, once every command has been found to say the same of it."""
    [listed] = json.loads(rampwarden("crucible", "list", "--json").output)["crucibles"]
    said = json.loads(rampwarden("crucible", "show", "A3", "--json").output)["crucible"]["readiness"]
    assert listed["readiness"] == said
    ready = str(said["ready"])
    words = " ".join((said["sentence"], *said["reasons"]))
    assert words in " ".join(rampwarden("crucible", "show", "A3").output.split())
    assert rampwarden("crucible", "list").output.splitlines()[1].split()[-1] == ready
    plan = json.loads(rampwarden("plan", "later-heat-daily-use", "--crucible", "A3", "--json").output)
    [line] = [line for line in plan["lines"] if line["topic"] == "readiness"]
    assert (line["figures"]["ready"], line["finding"].partition(words.removesuffix("."))[0]) == (ready, "")
    warned = start_warnings(Settings(), "A3", parse_schedule(LATER, "later"), datetime.now(UTC).date())
    told = [text for text in warned if text.startswith("readiness: ")]
    # On a later heat's schedule there is nothing to warn of only where the pot is ready for one.
    assert [text.startswith(f"readiness: {words.removesuffix('.')}") for text in told] == [True] * (
        ready != "ready-for-a-later-heat"
    )
    return ready


def test_a_pot_is_ready_for_what_was_seen_of_it_and_no_more(rampwarden: CommandLine, tmp_path: Path) -> None:
    """New, a false start, its first heat, daily use, a climb too fast, looked at, kept damp."""
    rampwarden("crucible", "add", "A3", "--class", "clay-graphite", "--wall-mm", "20")
    assert readiness(rampwarden) == "dry-it-first"

    false_start = record(tmp_path, "false", FALSE_START_COURSE, FIRST, 6)
    assert "was no heat" in rampwarden.refusal("crucible", "enter", false_start)
    assert readiness(rampwarden) == "dry-it-first"

    def enter(path: Path, *options: str) -> str:
        assert rampwarden("crucible", "enter", path, *options).status == 0
        return readiness(rampwarden)

    assert enter(record(tmp_path, "first", FIRST_COURSE, FIRST, 5)) == "ready-for-a-later-heat"
    assert enter(record(tmp_path, "daily", LATER_COURSE, LATER, 4)) == "ready-for-a-later-heat"
    assert enter(record(tmp_path, "fast", TOO_FAST_COURSE, LATER, 3), "--look", "fine") == "inspect-first"
    # A sound heat after it sets nothing off.
    assert enter(record(tmp_path, "sound", LATER_COURSE, LATER, 2)) == "inspect-first"

    assert rampwarden("crucible", "amend", "A3", "--looked-at", "rings clear").status == 0
    assert readiness(rampwarden) == "ready-for-a-later-heat"
    assert "rings clear" in rampwarden("crucible", "show", "A3").output
    # A heat that is entered after the look, and was over before it, is looked at too.
    assert enter(record(tmp_path, "late", TOO_FAST_COURSE, LATER, 1)) == "ready-for-a-later-heat"

    rampwarden("crucible", "amend", "A3", "--stored", "damp")
    assert readiness(rampwarden) == "dry-it-first"
    # To call it dry is no drying.
    rampwarden("crucible", "amend", "A3", "--stored", "dry")
    assert readiness(rampwarden) == "dry-it-first"


def test_a_new_pot_on_a_later_heats_schedule_is_to_be_inspected(rampwarden: CommandLine, tmp_path: Path) -> None:
    """It went through the steam range and nobody had dried it; moved to another pot, it leaves this one new."""
    rampwarden("crucible", "add", "A3", "--class", "clay-graphite", "--wall-mm", "20")
    path = record(tmp_path, "heat", LATER_COURSE, LATER, 1)
    rampwarden("crucible", "enter", path)
    assert readiness(rampwarden) == "inspect-first"
    rampwarden("crucible", "add", "B1", "--class", "clay-graphite", "--register", "crucibles.sqlite")
    assert rampwarden("crucible", "enter", path, "--crucible", "B1", "--again").status == 0
    moved = json.loads(rampwarden("crucible", "show", "A3", "--json").output)["crucible"]
    assert (moved["readiness"]["ready"], moved["first_used"]) == ("dry-it-first", "")
