"""`rampwarden rehearse` with probes beside the pot's: asked for, or set up, each with mishaps of its own."""

import json
from pathlib import Path

from tests.cli.rehearsed_pot import SCHEDULE

from command_line import CommandLine

REHEARSE = ("rehearse", "heat.toml", "--speed", "10000", "--interval", "5", "--plain", "--record", "r.jsonl")


def rehearsed(rampwarden: CommandLine, folder: Path, *options: str) -> list[dict[str, object]]:
    """Rehearse a short heat; gives its record's lines."""
    (folder / "heat.toml").write_text(SCHEDULE, encoding="utf-8")
    outcome = rampwarden(*REHEARSE, *options)
    assert outcome.status in (0, 1), outcome
    return [json.loads(line) for line in (folder / "r.jsonl").read_text(encoding="utf-8").splitlines()]


def test_a_probe_that_is_asked_for_is_watched_and_may_fail(rampwarden: CommandLine, tmp_path: Path) -> None:
    """Its alarm bears its name, and the pot's is none the wiser."""
    lines = rehearsed(rampwarden, tmp_path, "--probe", "chamber", "--probe", "room", "--fault", "chamber:open-sensor")
    assert {line["probe"] for line in lines if line["kind"] == "probe"} == {"chamber", "room"}
    alarms = {line["alarm"] for line in lines if line.get("event") == "alarm"}
    assert alarms == {"chamber:sensor-open"}


def test_probes_that_are_set_up_are_rehearsed_by_their_names(rampwarden: CommandLine, tmp_path: Path) -> None:
    """Whatever board they are on; and one of them stands in where the followed one fails."""
    settings = '[probes.gas-side]\nplace = "chamber"\nboard = "second"\n[boards.second]\nport = "/dev/two"\n'
    (tmp_path / "shop.toml").write_text(settings, encoding="utf-8")
    lines = rehearsed(rampwarden, tmp_path, "--config", "shop.toml", "--fault", "open-sensor")
    assert {line["probe"] for line in lines if line["kind"] == "probe"} == {"gas-side"}
    [told] = [str(line["text"]) for line in lines if line.get("alarm") == "standing-in"][:1]
    assert "the gas-side probe stands in for the followed one" in told
