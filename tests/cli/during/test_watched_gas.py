"""The gas through the whole product: from the settings into the record, and into register and report."""

import json
from pathlib import Path

import pytest
from tests.cli.rehearsed_pot import rehearsed

from command_line import CommandLine
from rampwarden.records.heat_figures import figures_of
from rampwarden.records.record_reader import RecordReader

BOTTLE = "[workshop]\nburner_kw = 12\nbottle_kg = 9\ngross_kg = 17.2\ntare_kg = 8.4\nambient = '10 C'\n"


def test_the_gas_of_a_heat_stands_beside_what_was_planned(rampwarden: CommandLine, tmp_path: Path) -> None:
    """In the report; the register keeps it, and the record's header says by what it was reckoned."""
    record = rehearsed(rampwarden, tmp_path, BOTTLE)
    with RecordReader(record) as reader:
        gas = reader.header.parameters["gas"]
    assert isinstance(gas, dict)
    assert gas["bottle"] == {
        "full_kg": 9.0,
        "content_kg": pytest.approx(8.8),
        "steel_kg": 8.4,
        "diameter_m": 0.31,
        "butane_share": 0.0,
    }
    assert gas["burner_kw"] == {"*": 12.0}
    physics = figures_of(record).physics
    assert physics is not None
    assert physics.gas is not None
    assert physics.gas.used_kg == pytest.approx(12.0 * physics.gas.burned_s / 46350.0, abs=0.01)
    assert physics.gas.used_kg > 0.05
    [heat] = json.loads(rampwarden("crucible", "show", "F1", "--json").output)["heats"]
    assert heat["physics"]["gas"]["used_kg"] == physics.gas.used_kg
    names, row = rampwarden("crucible", "show", "F1", "--csv").output.splitlines()
    assert dict(zip(names.split(","), row.split(","), strict=True))["gas_kg"] == str(physics.gas.used_kg)
    assert rampwarden("report", record, "--output", "heat.html").status == 0
    report = (tmp_path / "heat.html").read_text(encoding="utf-8")
    assert "The gas" in report
    # 290 °C at 80 % of 30 °C/min: 725 s.
    assert "12 min" in report
    assert "0.19 kg" in report
    assert f"{physics.gas.used_kg:.2f} kg by the burner&#x27;s power" in report
    assert "only the difference of two weights" in report


@pytest.mark.parametrize(
    "shop",
    ["[workshop]\nburner_kw = 12\n", "[workshop]\nbottle_kg = 9\n", f"{BOTTLE}fuel = 'none'\n"],
    ids=["no bottle", "no burner", "no gas"],
)
def test_what_is_not_known_is_not_reckoned(rampwarden: CommandLine, tmp_path: Path, shop: str) -> None:
    """Nor written into the record."""
    record = rehearsed(rampwarden, tmp_path, shop)
    with RecordReader(record) as reader:
        assert "gas" not in reader.header.parameters
    assert figures_of(record).physics is None
