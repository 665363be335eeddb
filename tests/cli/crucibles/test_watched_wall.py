"""The difference through a wall through the whole product: out of the register, into the record, back into register."""

import json
from pathlib import Path

import pytest
from tests.cli.rehearsed_pot import rehearsed

from command_line import CommandLine
from rampwarden.records.heat_figures import figures_of
from rampwarden.records.record_reader import RecordReader

PROBE_ON_THE_POT = '[thermocouple]\nplace = "pot"\n'


def test_a_registered_wall_is_followed_and_told(rampwarden: CommandLine, tmp_path: Path) -> None:
    """The record's header carries it, so that report and register say what the watch knew."""
    record = rehearsed(rampwarden, tmp_path, PROBE_ON_THE_POT, "--wall-mm", "12")
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
    ("wall", "shop"),
    [((), PROBE_ON_THE_POT), (("--wall-mm", "12"), "[thermocouple]\n")],
    ids=["no thickness", "no place"],
)
def test_what_is_not_known_is_not_reckoned(
    rampwarden: CommandLine, tmp_path: Path, wall: tuple[str, ...], shop: str
) -> None:
    """No column, no section, no line."""
    record = rehearsed(rampwarden, tmp_path, shop, *wall)
    assert figures_of(record).physics is None
    assert "through the wall" not in rampwarden("crucible", "show", "F1").output
    assert rampwarden("report", record, "--output", "heat.html").status == 0
    assert "through the wall" not in (tmp_path / "heat.html").read_text(encoding="utf-8")
