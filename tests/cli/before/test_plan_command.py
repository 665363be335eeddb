"""`rampwarden plan`: one page before the burner is lit, and exit status 1 when something will not work."""

import json
import shlex
from pathlib import Path

import pytest

from command_line import SCHEDULE, CommandLine
from guides import ROOT, agrees, blocks, commands

PROBE = ("--sheath-mm", "3", "--sheath", "310")
POT = ("--class", "clay-graphite", "--wall-mm", "20")
GAS = ("--burner-kw", "9", "--bottle-kg", "9", "--gross-kg", "17", "--tare-kg", "8.2")


@pytest.fixture
def heat(tmp_path: Path) -> Path:
    """Give a schedule with everything in it."""
    path = tmp_path / "heat.toml"
    path.write_text(SCHEDULE, encoding="utf-8")
    return path


def lines(rampwarden: CommandLine, *arguments: str | Path) -> dict[str, dict[str, object]]:
    """Give the plan's lines by topic, as programs get them."""
    outcome = rampwarden("plan", *arguments, "--json")
    assert outcome.errors == ""
    result = json.loads(outcome.output)
    assert outcome.status == (1 if result["verdict"] == "will not work" else 0)
    assert result["format"] == "rampwarden-plan/1"
    return {line["topic"]: line for line in result["lines"]}


def test_a_plan_is_one_page_with_clock_times_and_a_line_for_each_judgement(heat: Path, rampwarden: CommandLine) -> None:
    """What happens when; then what is fine and what is not, with reason and remedy; then what it comes to."""
    outcome = rampwarden("plan", heat, *PROBE, *POT, *GAS, "--start", "2026-01-31T22:00")
    assert outcome.status == 0
    page = outcome.output.splitlines()
    assert page[0] == "A short heat with everything in it [for tests]"
    assert page[1].split() == ["begins", "segment", "from", "–", "to", "takes", "at", "most"]
    assert page[2].split() == ["22:00", "drying", "20", "–", "205", "°C", "46", "min", "300", "°C/h"]
    assert page[4].split() == ["22:56", "oven", "to", "furnace", "220", "–", "100", "°C", "20", "min", "–"]
    assert page[9].split() == ["Sun", "00:29", "done"]
    verdicts = {line.split("  ")[0]: line for line in page[11:-2] if line}
    assert "fine" in verdicts["gas, mass"]
    assert "look again" in verdicts["drying"]
    assert " → " in verdicts["drying"]
    assert page[-1].startswith("look again. These are estimates.")
    assert len(page) < 30


def test_something_that_will_not_work_is_exit_status_1(heat: Path, rampwarden: CommandLine) -> None:
    """A bottle with hardly anything in it."""
    told = lines(
        rampwarden, heat, *PROBE, *POT, "--burner-kw", "9", "--bottle-kg", "9", "--gross-kg", "9", "--tare-kg", "8.2"
    )
    assert told["gas, mass"]["verdict"] == "will not work"


def test_a_power_for_each_segment_is_taken_by_name(heat: Path, rampwarden: CommandLine) -> None:
    """The rest burns what the star says."""
    one = lines(rampwarden, heat, *GAS)["gas, mass"]["figures"]
    several = ("--burner-kw", "to red heat=18", "--burner-kw", "*=9")
    two = lines(rampwarden, heat, *several, "--bottle-kg", "9")["gas, mass"]["figures"]
    assert isinstance(one, dict)
    assert isinstance(two, dict)
    assert one["need_kg"] < two["need_kg"] < 2 * one["need_kg"]


def test_settings_describe_the_workshop_and_flags_win(heat: Path, tmp_path: Path, rampwarden: CommandLine) -> None:
    """Every key of the section reaches the plan."""
    file = tmp_path / "s.toml"
    file.write_text(
        '[thermocouple]\ntype = "S"\ntolerance_class = 1\n'
        '[workshop]\nambient = "-10 C"\nburner_kw = { "to red heat" = 15, "*" = 12 }\nbottle_kg = 9\ngross_kg = 17.2\n'
        "tare_kg = 8.4\nbottle_mm = 300\nbottles = 2\nneeded_bar = 0.5\nwire_mm = 0.5\n"
        'sheath_mm = 12\nsheath = "alumina"\n'
    )
    told = lines(rampwarden, heat, "--config", file)
    assert told["wire and sheath"]["finding"].startswith("type S wire of 0.5 mm in a tube")  # type: ignore[attr-defined]
    assert told["thermocouple type"]["figures"]["type"] == "S"  # type: ignore[index]
    mass, withdrawal = told["gas, mass"]["figures"], told["gas, withdrawal"]["figures"]
    assert isinstance(mass, dict)
    assert isinstance(withdrawal, dict)
    assert (mass["bottles"], mass["have_kg"]) == (2, pytest.approx(2 * (8.8 - 0.45)))
    assert (withdrawal["needed_bar"], withdrawal["peak_kw"]) == (0.5, 15.0)
    assert "at -10 °C" in str(told["gas, withdrawal"]["finding"])
    warm = lines(rampwarden, heat, "--config", file, "--ambient", "86 F", "--bottles", "1", "--fuel", "propane")
    assert "at 30 °C" in str(warm["gas, withdrawal"]["finding"])
    assert not any(topic.startswith("gas") for topic in lines(rampwarden, heat, "--config", file, "--fuel", "none"))


def test_a_registered_crucible_brings_its_wall_its_sheet_and_its_state(heat: Path, rampwarden: CommandLine) -> None:
    """And what the register has against it: another metal, a retired pot."""
    rampwarden("crucible", "add", "A3", "--class", "fireclay", "--wall-mm", "25", "--metal", "bronze")
    told = lines(rampwarden, heat, "--crucible", "a3", "--metal", "brass")
    assert told["crucible"]["verdict"] == "look again"
    assert "through 25 mm" in str(told["wall, heating"]["finding"])
    assert "and the crucible is new" in str(told["drying"]["finding"])
    rampwarden("crucible", "amend", "A3", "--limit", "20-200 C: at most 30 C / h")
    rampwarden("crucible", "retire", "A3")
    told = lines(rampwarden, heat, "--crucible", "A3")
    assert told["crucible"]["verdict"] == told["maker's sheet"]["verdict"] == "will not work"
    assert rampwarden("plan", heat, "--crucible", "A3").output.splitlines()[0].endswith("[for tests] · crucible A3")


def test_without_anything_known_the_plan_says_what_is_missing(heat: Path, rampwarden: CommandLine) -> None:
    """It is made all the same."""
    told = lines(rampwarden, heat)
    missing = ("wall", "wire and sheath", "response", "gas")
    assert [told[topic]["verdict"] for topic in missing] == ["look again"] * 4


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["--crucible", "Z9"], "crucibles.sqlite: there is no register yet;"),
        (["--start", "25:00"], "--start '25:00': is no time such as 08:30 or 2026-01-31T08:30"),
        (["--burner-kw", "to red=9"], "--burner-kw: the schedule has no segment 'to red'; did you mean 'to red heat'?"),
        (["--burner-kw", "xyz=9"], "--burner-kw: the schedule has no segment 'xyz'; there are: 'drying', "),
        (["--burner-kw", "much"], "flag: workshop.burner_kw = 'much' is no power from 0 to 1000 kW"),
        (["--burner-kw", "-3"], "flag: workshop.burner_kw = '-3' is no power from 0 to 1000 kW"),
        (["--burner-kw", "9000"], "flag: workshop.burner_kw = '9000' is no power from 0 to 1000 kW"),
        (
            ["--gross-kg", "8", "--tare-kg", "9"],
            "flag: workshop = {'gross_kg': 8.0, 'tare_kg': 9.0}: gross_kg must not",
        ),
        (["--ambient", "warm"], "flag: workshop.ambient = 'warm' is not a temperature such as '200 C'"),
        (["--thermocouple", "Q"], "flag: thermocouple.type = 'Q'"),
        (["--tolerance-class", "3"], "flag: thermocouple.tolerance_class = 3"),
        (["--bottles", "0"], "flag: workshop.bottles = 0"),
    ],
)
def test_a_mistake_is_one_line(arguments: list[str], line: str, heat: Path, rampwarden: CommandLine) -> None:
    """What, where, why, and what would be right."""
    assert rampwarden.refusal("plan", heat, *arguments).startswith(line)


def test_an_unknown_mark_is_one_line_with_those_there_are(heat: Path, rampwarden: CommandLine) -> None:
    """As of every crucible command."""
    rampwarden("crucible", "add", "A3", "--class", "fireclay")
    assert rampwarden.refusal("plan", heat, "--crucible", "Z9").startswith("no crucible is marked 'Z9'; there are: A3;")


def test_the_environment_may_give_powers_by_segment(
    heat: Path, rampwarden: CommandLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As text, since it has nothing else."""
    monkeypatch.setenv("RAMPWARDEN_WORKSHOP__BURNER_KW", "to red heat=18, *=9")
    monkeypatch.setenv("RAMPWARDEN_WORKSHOP__BOTTLE_KG", "9")
    told = lines(rampwarden, heat)["gas, withdrawal"]["figures"]
    assert isinstance(told, dict)
    assert told["peak_kw"] == 18.0


FIRST_HEAT = ROOT / "config" / "schedules" / "bronze-first-heat.toml"


def test_the_guides_example_of_a_pot_and_its_plan_finds_nothing_that_will_not_work(rampwarden: CommandLine) -> None:
    """Registered and planned by the guide's own commands: what is shown there is printed, and the status is 0."""
    add, plan = (
        shown
        for block in blocks("daemon/README.md")
        for shown in commands(block)
        if shown.command.startswith(("rampwarden crucible add", "rampwarden plan"))
    )
    assert rampwarden(*shlex.split(add.command)[1:]).status == 0
    outcome = rampwarden("plan", FIRST_HEAT, *shlex.split(plan.command)[3:])
    assert (outcome.status, outcome.errors) == (0, "")
    assert plan.printed is not None
    assert agrees(plan.printed, outcome.output), outcome.output
