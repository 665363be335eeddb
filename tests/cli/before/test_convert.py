"""`rampwarden convert`: both ways, from arguments or standard input, for people and for programs."""

import io
import json
import sys

import pytest

from command_line import CommandLine
from rampwarden.core.instrument.thermocouple import thermocouple


def test_an_emf_is_shown_as_its_temperature(rampwarden: CommandLine) -> None:
    """4096.230 µV is 100 °C in every printed table of type K."""
    assert rampwarden("convert", "4096.23", "0").output == "100.000 °C\n0.000 °C\n"


def test_a_temperature_is_shown_as_its_emf(rampwarden: CommandLine) -> None:
    """The other way, and below zero without quotes or dashes."""
    assert rampwarden("convert", "--inverse", "100", "-50").output == "4096.230 µV\n-1889.383 µV\n"


def test_a_negative_emf_is_a_value_and_not_an_option(rampwarden: CommandLine) -> None:
    """With options before, behind or between."""
    expected = "-50.000 °C\n"
    assert rampwarden("convert", "-1889.383").output == expected
    assert rampwarden("convert", "-1889.383", "--type", "K").output == expected
    assert rampwarden("convert", "--", "-1889.383").output == expected


def test_the_reference_junction_is_added_as_an_emf(rampwarden: CommandLine) -> None:
    """EMFs add, temperatures do not: 3 mV at a junction of 25 °C."""
    couple = thermocouple("K")
    assert rampwarden("convert", "--junction", "25", "3000").output == f"{couple.temp_c(3000.0, 25.0):.3f} °C\n"
    assert rampwarden("convert", "--inverse", "--junction", "25", "25").output == "0.000 µV\n"


def test_how_far_a_temperature_may_be_off_is_told_when_a_class_is_named(rampwarden: CommandLine) -> None:
    """The same figure as plan, report and replay print: ±9.8 °C at 900 °C of class 2."""
    emf_uv = f"{thermocouple('K').emf_uv(900.0):.3f}"
    assert rampwarden("convert", emf_uv, "--tolerance-class", "2").output == (
        "900.000 °C ± 9.8 (k = 2: wire, junction, board, drift; where the probe hangs adds 5 to 20 °C more)\n"
    )
    assert "outside its class" in rampwarden("convert", "54000", "--tolerance-class", "1").output
    assert json.loads(rampwarden("convert", emf_uv, "--json").output)["uncertainty_c"] == pytest.approx(9.83, abs=0.01)


@pytest.mark.parametrize("kind", "BEJKNRST")
def test_every_type_goes_there_and_back_in_full_precision(kind: str, rampwarden: CommandLine) -> None:
    """As JSON, one object a line, every digit."""
    out = rampwarden("convert", "--json", "--inverse", "--type", kind, "--junction", "20", "350.1")
    there = json.loads(out.output)
    assert list(there) == ["emf_uv", "junction_c", "temp_c", "uncertainty_c", "coverage_factor"]
    assert there["temp_c"] == 350.1
    assert there["junction_c"] == 20.0
    couple = thermocouple(kind)
    assert there["emf_uv"] == couple.emf_uv(350.1) - couple.emf_uv(20.0)
    back = rampwarden("convert", "--json", "--type", kind.lower(), "--junction", "20", repr(there["emf_uv"]))
    assert json.loads(back.output)["temp_c"] == pytest.approx(350.1, abs=1e-9)


def test_values_come_from_standard_input_one_a_line(rampwarden: CommandLine, monkeypatch: pytest.MonkeyPatch) -> None:
    """Blank lines are nothing; each answer has its line."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("4096.23\n\n  0 \n-1889.383"))
    assert rampwarden("convert").output == "100.000 °C\n0.000 °C\n-50.000 °C\n"


def test_what_came_before_a_bad_line_is_still_answered(
    rampwarden: CommandLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A pipe of values is converted as far as it is good."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("0\nhot\n4096.23\n"))
    outcome = rampwarden("convert")
    assert (outcome.status, outcome.output) == (2, "0.000 °C\n")
    assert outcome.errors == "rampwarden: 'hot' is not a number\n"


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["abc"], "'abc' is not a number"),
        (["nan"], "'nan' is not a number"),
        (["--inverse", "inf"], "'inf' is not a number"),
        (["--jsn", "5"], "'--jsn' is not a number"),
        (["--type", "Q", "1"], "thermocouple type 'Q' is unknown; use one of B, E, J, K, N, R, S, T"),
        (["--inverse", "1372.1"], "type K is defined from -270 to 1372 °C, not at 1372.1 °C"),
        (["--junction", "nan", "1"], "type K is defined from -270 to 1372 °C, not at nan °C"),
    ],
)
def test_what_cannot_be_converted_is_refused_in_one_line(
    arguments: list[str], line: str, rampwarden: CommandLine
) -> None:
    """With the value and the range."""
    assert rampwarden.refusal("convert", *arguments) == line


def test_an_emf_out_of_range_is_refused_with_the_range(rampwarden: CommandLine) -> None:
    """In both units."""
    told = rampwarden.refusal("convert", "60000")
    assert told.startswith("type K: 60000")
    assert told.endswith("is outside -6457.7 to 54886.4 µV, which is -270 to 1372 °C")
