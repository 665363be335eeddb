"""The bring-up at a real pseudo-terminal: a model person and a model board, and what is kept of it."""

import io
import json
import math
import sys
import tomllib
from pathlib import Path

import pytest

from command_line import CommandLine
from rampwarden.bench.bring_up import Step, judge_short
from rampwarden.bench.steadiness import Steady
from rampwarden.cli.board.bring_up import _report
from rampwarden.cli.board.people import ConsolePerson
from rampwarden.records.calibration_file import find_calibration, read_calibration


def walked(rampwarden: CommandLine, fault: str, seed: int = 1) -> tuple[int, dict[str, dict[str, object]], object]:
    """Give exit status, findings by step, and the calibration."""
    outcome = rampwarden("board", "--walk", "--rehearse", fault, "--seed", str(seed), "--json")
    report = json.loads(outcome.output)
    assert report["kept"] == ""
    return outcome.status, {each["part"]: each for each in report["findings"]}, report["calibration"]


@pytest.mark.parametrize("seed", range(3))
def test_the_walk_finds_the_model_boards_own_errors(rampwarden: CommandLine, seed: int) -> None:
    """14 µV and 0.4 %, within the uncertainty it states."""
    _, findings, calibration = walked(rampwarden, "none", seed)
    assert list(findings) == list(Step)
    assert all(findings[step]["verdict"] == "fine" for step in Step if step is not Step.MILLIVOLTS)
    assert isinstance(calibration, dict)
    assert calibration["offset_uv"] == pytest.approx(14.0, abs=2 * calibration["offset_uncertainty_uv"])
    assert calibration["gain"] == pytest.approx(1 / 1.004, abs=2 * calibration["gain_uncertainty"])
    # A source sure to 0.1 % (half-width of a rectangle) cannot give a gain that is surer.
    assert 0.001 / math.sqrt(3) <= calibration["gain_uncertainty"] < 0.002
    assert calibration["made_from"] == ["shorted input", "20.644 mV"]


def test_the_walk_finds_reversed_leads_by_the_hand(rampwarden: CommandLine) -> None:
    """And says where to swap them."""
    status, findings, _ = walked(rampwarden, "reversed-leads")
    assert status == 1
    assert findings[Step.HAND]["verdict"] == "will not work"
    assert "reversed" in str(findings[Step.HAND]["words"])
    assert findings[Step.SHORT]["verdict"] == "fine"


def test_the_walk_finds_a_wrong_gain_by_millivolts_and_keeps_no_calibration(rampwarden: CommandLine) -> None:
    """Half of it is a fault to be mended."""
    status, findings, calibration = walked(rampwarden, "wrong-gain")
    assert (status, calibration) == (1, None)
    assert findings[Step.MILLIVOLTS]["verdict"] == "will not work"
    assert findings[Step.STEAM]["verdict"] == "will not work"


def test_a_calibration_is_kept_when_the_person_wants_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By the port's name, with what it was made from; the one before stays beside it."""
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path))
    results = [judge_short(Steady(12.0, 0.2, 23.0, 200, 20.0))]
    for answer, count in (("n\n", 0), ("y\n", 1), ("yes\n", 2)):
        monkeypatch.setattr(sys, "stdin", io.StringIO(answer))
        assert _report(results, "/dev/rampwarden-board", as_json=False) == 0
        assert len(list(tmp_path.glob("calibrations/*"))) == count
    assert "a watch on this port takes it" in capsys.readouterr().out
    path = find_calibration("/dev/rampwarden-board", {"STATE_DIRECTORY": str(tmp_path)})
    assert path is not None
    assert read_calibration(path).offset_uv == 12.0
    (check,) = tomllib.loads(path.read_text(encoding="utf-8"))["check"]
    assert (check["step"], check["emf_uv"], check["readings"]) == ("shorted input", 12.0, 200)


def test_a_person_may_leave_out_a_step_mistype_a_number_and_stop(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Enter goes on, s leaves out, a number is asked for until it is one."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("\ns\nhigh\n1,5\n\n"))
    person = ConsolePerson()
    assert person.ready(Step.ICE, "Put it into ice.")
    assert not person.ready(Step.STEAM, "Put it into steam.")
    assert person.number("How high?", 0.0) == 1.5
    assert person.number("How sure?", 0.1) == 0.1
    assert "'high' is no number" in capsys.readouterr().err
