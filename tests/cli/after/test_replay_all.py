"""`rampwarden replay --all`: one row a heat of a folder or an archive, and what goes with it."""

import json
from pathlib import Path

import pytest
from tests.mass_replay.short_heats import short_heat

from command_line import CommandLine

LAXER = """\
title = "Up, faster"
[[segment]]
name = "up"
kind = "ramp"
to = "900 C"
max_rate = "80 C / 2 min"
"""


@pytest.fixture
def shop(rampwarden: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """Give the command line with three heats, something that is none, another schedule and other settings."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "heats").mkdir()
    for number in range(3):
        short_heat(tmp_path / "heats", number)
    (tmp_path / "laxer.toml").write_text(LAXER, encoding="utf-8")
    (tmp_path / "other.toml").write_text("[alarms.ramp-high]\nout_of_service = true\n", encoding="utf-8")
    return rampwarden


def test_each_heat_of_a_folder_is_one_row_with_what_is_gone(shop: CommandLine, tmp_path: Path) -> None:
    """One that is no record is said below the table, and is what the exit status tells of."""
    outcome = shop("replay", "--all", "heats", "--schedule", "laxer.toml", "--jobs", "1")
    head, *rows, last = outcome.output.splitlines()
    assert outcome.status == 0
    assert head.split() == ["heat", "began", "pot", "schedule", "before", "after", "new", "gone", "earlier", "later"]
    assert [row.split()[0] for row in rows] == ["h0000.jsonl", "h0001.jsonl", "h0002.jsonl"]
    assert all("ramp-high" in row for row in rows)
    assert last.startswith("3 of 3 heats · ")
    (tmp_path / "heats" / "none.jsonl").write_text("no record\n", encoding="utf-8")
    outcome = shop("replay", "--all", "heats", "--settings", "other.toml", "--jobs", "1")
    assert outcome.status == 1
    assert "none.jsonl: " in outcome.output
    assert outcome.output.splitlines()[-1].startswith("3 of 4 heats · ")


def test_an_archive_answers_as_its_folder_does(shop: CommandLine) -> None:
    """By its heats' ids, oldest first."""
    by = ("--schedule", "laxer.toml", "--settings", "other.toml", "--jobs", "1", "--json")
    shop("heats", "archive")
    kept = json.loads(shop("replay", "--all", "archive", *by).output)
    there = json.loads(shop("replay", "--all", "heats", *by).output)
    assert kept["format"] == there["format"] == "rampwarden-replays/1"
    assert [heat["heat"] for heat in kept["heats"]] == ["h0", "h1", "h2"]
    assert [{**heat, "heat": ""} for heat in kept["heats"]] == [{**heat, "heat": ""} for heat in there["heats"]]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--all", "heats"), "give --schedule or --settings, or both"),
        (("heats/h0000.jsonl", "--all", "heats", "--schedule", "laxer.toml"), "--all goes with --schedule"),
        (("heats/h0000.jsonl", "--settings", "other.toml"), "--settings and --dask go with --all"),
        (("--all", "none", "--schedule", "laxer.toml"), "none: is no folder of records, and no archive"),
        (("--all", "cache", "--schedule", "laxer.toml"), "is no folder of records, and no archive"),
        ((), "no record; name one, or a folder of them with --all"),
        (("--all", "heats", "--schedule", "laxer.toml", "--dask", "nowhere"), "is no address of a cluster"),
    ],
)
def test_mistakes_are_one_line_each(shop: CommandLine, arguments: tuple[str, ...], said: str) -> None:
    """What, and what would be right."""
    outcome = shop("replay", *arguments)
    assert (outcome.status, outcome.errors.count("\n")) == (2, 1)
    assert said in outcome.errors
