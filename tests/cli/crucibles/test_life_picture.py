"""`rampwarden crucible show`: a life drawn in letters, and how near it is to its end."""

from datetime import UTC, datetime
from pathlib import Path

from tests.cli.crucibles.test_crucible_command import TABLE, record
from tests.records.registered import figures

from command_line import CommandLine
from rampwarden.assembly.crucible import start_warnings
from rampwarden.assembly.register_place import register_place
from rampwarden.core.heat import parse_schedule
from rampwarden.core.model import GasFigures
from rampwarden.records import PhysicsFigures, Register
from rampwarden.settings import Settings


def lines_of(rampwarden: CommandLine, word: str) -> list[str]:
    shown = rampwarden("crucible", "show", "A3")
    assert (shown.status, shown.errors) == (0, "")
    return [" ".join(line.split()) for line in shown.output.splitlines() if line.startswith(word)]


def near(rampwarden: CommandLine) -> list[str]:
    """What a watch says at its start of the pot's end."""
    warned = start_warnings(Settings(), "A3", parse_schedule(TABLE, "t"), datetime.now(UTC).date())
    return [text for text in warned if "retire" in text]


def test_a_life_is_drawn_once_there_are_two_heats(rampwarden: CommandLine) -> None:
    """One column a heat, the first and the last in figures; a rehearsal is no heat."""
    rampwarden("crucible", "add", "A3", "--class", "clay-graphite", "--mass-new-kg", "3.4")
    for number, kg in (("one", "3.38"), ("two", "3.3"), ("three", "3.2")):
        path = record(Path.cwd(), "A3", number, f"heats/{number}.jsonl", started=f"2026-01-0{len(number)}T09:00:00Z")
        assert rampwarden("crucible", "enter", path, "--mass-kg", kg).status == 0
        drawn = lines_of(rampwarden, "mass ")
        assert len(drawn) == (number != "one")
    assert drawn[0].endswith(" 3.4 kg to 3.2 kg")
    [dose] = lines_of(rampwarden, "dose, added up")
    assert dose.split()[3][-1] == "█"
    assert len(dose.split()[3]) == 3
    assert lines_of(rampwarden, "nearest to a limit")


def test_the_owners_rule_says_how_near_the_end_is(rampwarden: CommandLine) -> None:
    """In the table, for programs, and at the start of a watch once it is near."""
    rampwarden(
        "crucible", "add", "A3", "--class", "clay-graphite", "--mass-new-kg", "3.4", "--retire-at", "10 %, 4 heats"
    )
    record(Path.cwd())
    rampwarden("crucible", "enter", "heats/one.jsonl", "--mass-kg", "3.23")
    assert lines_of(rampwarden, "retire at") == [
        "retire at 10 % of its mass lost: 5.0 % so far, 50% of it, the nearest",
        "retire at 4 heats: 1 so far, 25% of it",
    ]
    assert '"share": 0.5' in rampwarden("crucible", "show", "A3", "--json").output
    assert near(rampwarden) == []
    rampwarden("crucible", "amend", "A3", "--retire-at", "5.2 %, my own judgement")
    assert lines_of(rampwarden, "retire at")[1] == "retire at my own judgement"
    assert near(rampwarden) == ["crucible: A3 is at 96% of the rule to retire it: 5.2 % of its mass lost: 5.0 % so far"]
    rampwarden("crucible", "amend", "A3", "--retire-at", "1 heat")
    assert lines_of(rampwarden, "retire at") == [
        "retire at 1 heat: 1 so far, 100% of it, the nearest · reached: retire it"
    ]
    assert near(rampwarden) == ["crucible: A3 has reached the rule to retire it: 1 heat: 1 so far"]
    assert "retire at '0 %'" in rampwarden.refusal("crucible", "amend", "A3", "--retire-at", "0 %")


def test_what_the_heats_burned_is_drawn_and_costs_what_the_workshop_pays(
    rampwarden: CommandLine, tmp_path: Path
) -> None:
    """By weight where it was weighed; a heat of which nobody knows is left out, and without a price nothing costs."""
    (tmp_path / "s.toml").write_text("[workshop]\ngas_price = 2.5\n")
    rampwarden("crucible", "add", "A3", "--class", "clay-graphite")
    with Register.open(register_place(Settings())) as books:
        for number, gas in enumerate(
            (GasFigures(1.0, 2.0, 3.0, 4.0), GasFigures(1.0, 9.0, 3.0, 4.0, weighed_kg=3.0), None)
        ):
            physics = None if gas is None else PhysicsFigures(gas=gas)
            books.enter("A3", figures(f"r{number}", started=f"2026-01-1{number}T09:00:00Z", physics=physics))
    assert lines_of(rampwarden, "gas") == [
        "gas 5.00 kg in 2 heats; a heat 2.50 kg",
        "gas ▁█ 2.00 kg to 3.00 kg",
    ]
    priced = rampwarden("crucible", "show", "A3", "--config", str(tmp_path / "s.toml")).output
    assert "5.00 kg, cost 12.50 in 2 heats; a heat 2.50 kg, cost 6.25" in priced
    assert "3.00 kg, cost 7.50" in priced
