"""A short heat of a fireclay pot, F1, rehearsed through the whole product."""

from pathlib import Path

from command_line import CommandLine, run_process

SCHEDULE = """\
title = "Up and down"
heat = "later"

[[segment]]
name = "up"
kind = "ramp"
to = "300 C"
max_rate = "150 C / 5 min"

[[segment]]
name = "down"
kind = "cool"
to = "280 C"
"""
REHEARSE = ("rehearse", "heat.toml", "--speed", "5000", "--interval", "5", "--crucible", "F1", "--config", "shop.toml")


def rehearsed(rampwarden: CommandLine, folder: Path, shop: str, *registered: str) -> Path:
    """Rehearse the heat with the settings `shop` and a pot `registered` with these options; gives its record."""
    (folder / "heat.toml").write_text(SCHEDULE, encoding="utf-8")
    (folder / "shop.toml").write_text(shop, encoding="utf-8")
    rampwarden("crucible", "add", "F1", "--class", "fireclay", *registered)
    outcome = run_process(folder, *REHEARSE)
    assert outcome.status == 0, outcome
    [record] = (folder / "heats").glob("*.jsonl")
    return record
