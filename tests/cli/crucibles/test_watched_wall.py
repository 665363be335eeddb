"""The difference through a wall through the whole product: out of the register, into the record, back into register."""

import json
from pathlib import Path

import pytest

from command_line import CommandLine, run_process
from rampwarden.records.heat_figures import figures_of
from rampwarden.records.record_reader import RecordReader

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
REHEARSE = ("rehearse", "heat.toml", "--speed", "5000", "--interval", "5", "--crucible", "F1")


def rehearsed(rampwarden: CommandLine, folder: Path, wall: tuple[str, ...], place: str) -> Path:
    """Rehearse a heat of such a pot with a probe in this place; gives its record."""
    (folder / "heat.toml").write_text(SCHEDULE, encoding="utf-8")
    (folder / "shop.toml").write_text(f"[thermocouple]\n{place}\n", encoding="utf-8")
    rampwarden("crucible", "add", "F1", "--class", "fireclay", *wall)
    outcome = run_process(folder, *REHEARSE, "--config", "shop.toml")
    assert outcome.status == 0, outcome
    [record] = (folder / "heats").glob("*.jsonl")
    return record


def test_a_registered_wall_is_followed_and_told(rampwarden: CommandLine, tmp_path: Path) -> None:
    """The record's header carries it, so that report and register say what the watch knew."""
    record = rehearsed(rampwarden, tmp_path, ("--wall-mm", "12"), 'place = "pot"')
    with RecordReader(record) as reader:
        assert reader.header.parameters["wall"] == {
            "thickness_m": 0.012,
            "diffusivity_m2_per_s": 5.11e-7,
            "conductivity_w_per_m_k": 1.05,
            "stands_k": 72.73,
        }
    physics = figures_of(record).physics
    assert physics is not None
    peak = physics.greatest_wall
    assert peak is not None
    assert (peak.segment, peak.through_k > 10.0) == (1, True)
    [heat] = json.loads(rampwarden("crucible", "show", "F1", "--json").output)["heats"]
    assert heat["physics"]["wall"][0]["through_k"] == peak.through_k
    shown = rampwarden("crucible", "show", "F1").output
    assert "through the wall" in shown
    assert f"{peak.through_k:.0f} K in up" in shown
    assert f",{peak.through_k}" in rampwarden("crucible", "show", "F1", "--csv").output
    assert rampwarden("report", record, "--output", "heat.html").status == 0
    report = (tmp_path / "heat.html").read_text(encoding="utf-8")
    assert (
        f"Greatest difference through the wall {peak.through_k:.{0 if peak.through_k >= 20 else 1}f} °C at 0:" in report
    )
    assert "in segment up" in report
    assert "good to a factor of two" in report


@pytest.mark.parametrize(
    ("wall", "place"),
    [((), 'place = "pot"'), (("--wall-mm", "12"), "")],
    ids=["no thickness", "no place"],
)
def test_what_is_not_known_is_not_reckoned(
    rampwarden: CommandLine, tmp_path: Path, wall: tuple[str, ...], place: str
) -> None:
    """No column, no section, no line."""
    record = rehearsed(rampwarden, tmp_path, wall, place)
    assert figures_of(record).physics is None
    assert "through the wall" not in rampwarden("crucible", "show", "F1").output
    assert rampwarden("report", record, "--output", "heat.html").status == 0
    assert "through the wall" not in (tmp_path / "heat.html").read_text(encoding="utf-8")
