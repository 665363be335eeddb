"""`rampwarden crucible …`: registered, amended, retired, entered, shown; mistakes are one line and lose nothing."""

import csv
import io
import json
import sqlite3
from pathlib import Path

import pytest

import replay_cases
from command_line import CommandLine
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.records.record_lines import encode_line
from rampwarden.records.record_writer import RecordWriter

CASE = replay_cases.CASES / "nominal-first-heat"
TABLE: dict[str, object] = {
    "title": "Up",
    "segment": [{"name": "up", "kind": "ramp", "to": "900 C", "max_rate": "10 C/min"}],
}


def record(
    folder: Path, mark: str = "A3", number: str = "one", name: str = "heats/one.jsonl", **changes: object
) -> Path:
    """Write a short heat to some 700 °C with a schedule of its own."""
    header, lines = replay_cases.case_lines(CASE.name)
    parse_schedule(TABLE, "a sound one")
    fields = {"crucible": mark, "id": number, "schedule": TABLE, "title": "Up", **changes}
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    with path.open("wb") as file:
        for line in [type(header)(**{**{f: getattr(header, f) for f in header.__struct_fields__}, **fields}), *lines]:
            file.write(encode_line(line))
    return path


@pytest.fixture
def with_a3(rampwarden: CommandLine) -> CommandLine:
    """Give the command line with A3 registered."""
    outcome = rampwarden("crucible", "add", "A3", "--class", "clay-graphite", "--wall-mm", "20", "--metal", "bronze")
    assert (outcome.status, outcome.output) == (0, "A3: registered · crucibles.sqlite\n")
    return rampwarden


def shown(rampwarden: CommandLine, *arguments: str | Path) -> dict[str, object]:
    """Give what a command prints for programs."""
    outcome = rampwarden("crucible", *arguments, "--json")
    assert outcome.status == 0, outcome
    result = json.loads(outcome.output)
    assert isinstance(result, dict)
    assert result["format"] == "rampwarden-register/1"
    return result


# Crucibles


def test_all_that_is_known_of_a_crucible_can_be_given_and_comes_back(rampwarden: CommandLine) -> None:
    """Every option of `add`, once, and JSON from the same command."""
    options = {
        "--class": "ceramic-bonded-sic",
        "--wall-mm": "22.5",
        "--capacity-kg": "30",
        "--mass-new-kg": "9.4",
        "--metal": "brass",
        "--description": "with a spout",
        "--bought": "2025-11-01",
        "--first-used": "2025-12-01",
        "--stored": "dry",
        "--sheet": "sheet 7, page 2",
        "--sheet-top": "2552 F",
        "--note": "from the sale",
    }
    limits = ["--limit", "20-200 C: 30 C/h", "--limit", "cooling 900-200 C: at most 100 C / h"]
    given = [part for pair in options.items() for part in pair]
    crucible = shown(rampwarden, "add", "B 7", *given, *limits)["crucible"]
    assert isinstance(crucible, dict)
    assert crucible.pop("stored_on")
    assert crucible.pop("history") == {
        "heats": 0,
        "rehearsals": 0,
        "last": "",
        "peak_c": None,
        "hot_h": 0.0,
        "dose_min": 0.0,
        "last_mass_kg": None,
    }
    assert crucible.pop("readiness") == {
        "ready": "dry-it-first",
        "sentence": "Dry it first.",
        "reasons": ["It has stood for long enough to take up water."],
        "without_account": 0,
    }
    assert crucible == {
        "mark": "B 7",
        "crucible_class": "ceramic-bonded-sic",
        "description": "with a spout",
        "wall_mm": 22.5,
        "capacity_kg": 30.0,
        "mass_new_kg": 9.4,
        "metal": "brass",
        "bought": "2025-11-01",
        "first_used": "2025-12-01",
        "retired": "",
        "retired_why": "",
        "stored": "dry",
        "sheet_id": "sheet 7, page 2",
        "sheet_top_c": 1400.0,
        "sheet": ["20-200 C: at most 30 C / 1 h", "cooling 200-900 C: at most 100 C / 1 h"],
        "note": "from the sale",
        "retire_at": "",
        "retirement": [],
    }


def test_a_new_crucible_is_shown_with_what_it_needs_next(with_a3: CommandLine) -> None:
    """It must dry."""
    outcome = with_a3("crucible", "show", "a3")
    assert outcome.output.splitlines() == [
        "A3         clay-graphite (clay or ceramic bond, graphite body)",
        "size       wall 20 mm, holds –, mass –",
        "kept for   bronze",
        "bought     –, first used –",
        "heats      0",
        "readiness  Dry it first. It was new, and no drying has been shown since.",
        "no heat has been entered",
    ]


def test_an_amendment_changes_what_it_names_and_nothing_else(with_a3: CommandLine) -> None:
    """A new mark, a thinner wall; limits replace those before, and can be dropped."""
    with_a3("crucible", "amend", "A3", "--limit", "20-200 C: 30 C/h", "--sheet-top", "1300 C")
    known = shown(with_a3, "amend", "a3", "--new-mark", "A4", "--wall-mm", "18", "--limit", "20-300 C: 50 C/h")[
        "crucible"
    ]
    assert isinstance(known, dict)
    assert (known["mark"], known["wall_mm"], known["metal"]) == ("A4", 18.0, "bronze")
    assert (known["sheet"], known["sheet_top_c"]) == (["20-300 C: at most 50 C / 1 h"], 1300.0)
    bare = shown(with_a3, "amend", "A4", "--no-limits")["crucible"]
    assert isinstance(bare, dict)
    assert (bare["sheet"], bare["sheet_top_c"], bare["wall_mm"]) == ([], None, 18.0)


def test_a_retired_crucible_says_so_until_it_is_taken_back(with_a3: CommandLine) -> None:
    """In the list and when shown, with the day and the reason."""
    assert with_a3("crucible", "retire", "A3", "--on", "2026-01-31", "--why", "crack").output.startswith(
        "A3: retired · "
    )
    assert with_a3("crucible", "list").output.splitlines()[1].endswith("retired 2026-01-31")
    assert "retired   2026-01-31 crack" in with_a3("crucible", "show", "A3").output
    known = shown(with_a3, "retire", "A3", "--undo")["crucible"]
    assert isinstance(known, dict)
    assert (known["retired"], known["retired_why"]) == ("", "")
    assert shown(with_a3, "retire", "A3")["crucible"]["retired"]  # type: ignore[index]  # today, whichever that is


def test_the_register_lies_beside_the_records_or_where_it_is_set(
    rampwarden: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By default, by the records' folder, by setting, and by flag."""
    add = ("crucible", "add", "A3", "--class", "fireclay")
    rampwarden(*add)
    monkeypatch.setenv("RAMPWARDEN_WATCH__RECORDS", str(tmp_path / "var" / "heats"))
    rampwarden(*add)
    monkeypatch.setenv("RAMPWARDEN_WATCH__CRUCIBLE_REGISTER", str(tmp_path / "set.sqlite"))
    rampwarden(*add)
    rampwarden(*add, "--register", "flag.sqlite")
    places = ["crucibles.sqlite", "var/crucibles.sqlite", "set.sqlite", "flag.sqlite"]
    assert all((tmp_path / place).is_file() for place in places)


# Heats


def test_a_heat_is_entered_from_its_record_and_shown(with_a3: CommandLine, tmp_path: Path) -> None:
    """With what was weighed and seen; in the list its figures are added up."""
    path = record(tmp_path)
    entered = with_a3("crucible", "enter", path, "--mass-kg", "3.38", "--look", "even ring")
    assert (entered.status, entered.output) == (0, f"{path}: entered for A3 · mass and look noted\n")
    listed = with_a3("crucible", "list").output.splitlines()
    assert listed[0].split() == [
        "mark",
        "class",
        "wall",
        "kept",
        "for",
        "heats",
        "last",
        "peak",
        "above",
        "700",
        "dose",
        "mass",
        "readiness",
    ]
    assert listed[1].split() == [
        "A3",
        "clay-graphite",
        "20",
        "mm",
        "bronze",
        "1",
        "2026-11-25",
        "701",
        "°C",
        "0.0",
        "h",
        "87",
        "min",
        "3.38",
        "kg",
        "inspect-first",
    ]
    told = with_a3("crucible", "show", "A3", "--segments").output
    assert "2026-11-25 09:02  Up" in told
    assert "3.38 kg  even ring" in told
    assert "1  up" in told
    heats = shown(with_a3, "show", "A3")["heats"]
    assert isinstance(heats, list)
    assert [(heat["record_id"], heat["mass_after_kg"], heat["look"]) for heat in heats] == [("one", 3.38, "even ring")]
    assert heats[0]["segments"][0]["name"] == "up"


def test_a_duplicate_is_said_and_changes_nothing(with_a3: CommandLine, tmp_path: Path) -> None:
    """Exit status 0: the heat is in the register, which is what was wanted."""
    path = record(tmp_path)
    with_a3("crucible", "enter", path)
    again = with_a3("crucible", "enter", path)
    assert (again.status, again.output) == (0, f"{path}: has been entered already for A3\n")
    assert len(shown(with_a3, "show", "A3")["heats"]) == 1  # type: ignore[arg-type]  # a list


def test_a_heat_entered_for_the_wrong_crucible_can_be_moved(with_a3: CommandLine, tmp_path: Path) -> None:
    """Only on demand."""
    path = record(tmp_path)
    with_a3("crucible", "add", "B1", "--class", "fireclay")
    with_a3("crucible", "enter", path)
    told = with_a3.refusal("crucible", "enter", path, "--crucible", "B1")
    assert told == f"{path}: has been entered for A3; --again enters it for B1 instead"
    assert shown(with_a3, "enter", path, "--crucible", "B1", "--again")["entered"] == [
        {"record": str(path), "record_id": "one", "mark": "B1", "outcome": "entered again"}
    ]
    assert shown(with_a3, "show", "A3")["heats"] == []


def test_all_heats_that_wait_are_entered_at_once(with_a3: CommandLine, tmp_path: Path) -> None:
    """The list says that there are some; rehearsals and records without a mark do not wait; nor does a second time."""
    record(tmp_path)
    record(tmp_path, number="two", name="heats/two.jsonl")
    record(tmp_path, number="three", name="heats/three.jsonl", rehearsal=True)
    record(tmp_path, mark="", number="four", name="heats/four.jsonl")
    (tmp_path / "heats" / "none.jsonl").write_text("no record\n")
    waiting = with_a3("crucible", "list").output.splitlines()[-1]
    assert waiting == "heats that carry a mark and are not entered: 2 · rampwarden crucible enter"
    outcome = with_a3("crucible", "enter")
    assert outcome.output == "heats/one.jsonl: entered for A3\nheats/two.jsonl: entered for A3\n"
    assert with_a3("crucible", "enter").output == "no heat waits to be entered\n"
    assert "waits" not in with_a3("crucible", "list").output
    assert "not entered" not in with_a3("crucible", "list").output


def test_one_heat_that_cannot_be_entered_keeps_no_other_from_it(with_a3: CommandLine, tmp_path: Path) -> None:
    """It is told on standard error, and the exit status is 1."""
    record(tmp_path, mark="X9")
    record(tmp_path, number="two", name="heats/two.jsonl")
    outcome = with_a3("crucible", "enter")
    assert outcome.status == 1
    assert outcome.output == "heats/two.jsonl: entered for A3\n"
    assert outcome.errors.startswith("rampwarden: no crucible is marked 'X9'; there are: A3;")


@pytest.mark.parametrize("named", [True, False], ids=["alone", "among others"])
def test_a_false_start_is_no_heat_by_whatever_door(with_a3: CommandLine, tmp_path: Path, named: bool) -> None:
    """23 seconds at room temperature make no new pot one in use."""
    path = record(tmp_path)
    header, *readings = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(header + b"".join(readings[:12]))
    outcome = with_a3("crucible", "enter", *([path] if named else [path, path]))
    assert outcome.status == (2 if named else 1)
    assert "was no heat: nothing was ever warm" in outcome.errors
    assert shown(with_a3, "show", "A3")["heats"] == []


def test_a_record_that_is_being_written_is_left_alone(with_a3: CommandLine, tmp_path: Path) -> None:
    """By its name it is refused with who writes it; in the folder it does not wait yet."""
    header, _ = replay_cases.case_lines(CASE.name)
    fields = {name: getattr(header, name) for name in header.__struct_fields__}
    (tmp_path / "heats").mkdir()
    path = tmp_path / "heats" / "live.jsonl"
    writer = RecordWriter.create(path, type(header)(**{**fields, "crucible": "A3", "schedule": TABLE}))
    try:
        assert f"{path}: is being written by process " in with_a3.refusal("crucible", "enter", path)
        assert with_a3("crucible", "enter").output == "no heat waits to be entered\n"
    finally:
        writer.close()


def test_a_record_without_a_schedule_is_entered_with_one(with_a3: CommandLine) -> None:
    """As for a replay."""
    path = CASE / "heat.jsonl.gz"
    assert "carries no schedule; give one with --schedule FILE" in with_a3.refusal(
        "crucible", "enter", path, "--crucible", "A3"
    )
    outcome = with_a3("crucible", "enter", path, "--crucible", "A3", "--schedule", CASE / "schedule.toml")
    assert outcome.output == f"{path}: entered for A3\n"


def test_a_rehearsal_is_entered_and_counted_apart(with_a3: CommandLine, tmp_path: Path) -> None:
    """The pot is as new as before."""
    with_a3("crucible", "enter", record(tmp_path, rehearsal=True))
    told = with_a3("crucible", "show", "A3").output
    assert "heats      0, 1 rehearsed" in told
    assert "Up, rehearsal" in told
    assert "Dry it first. It was new, and no drying has been shown since." in told


# CSV


def test_crucibles_and_heats_leave_as_csv(with_a3: CommandLine, tmp_path: Path) -> None:
    """One row each, every figure under its name."""
    with_a3("crucible", "enter", record(tmp_path), "--look", 'dull, "flat"')
    [crucible] = csv.DictReader(io.StringIO(with_a3("crucible", "list", "--csv").output))
    assert (crucible["mark"], crucible["wall_mm"], crucible["heats"], crucible["peak_c"]) == (
        "A3",
        "20.0",
        "1",
        "700.8",
    )
    [heat] = csv.DictReader(io.StringIO(with_a3("crucible", "show", "A3", "--csv").output))
    assert (heat["record_id"], heat["peak_c"], heat["look"], heat["closed"]) == ("one", "700.8", 'dull, "flat"', "1")


# Mistakes


def test_what_is_of_other_peoples_making_cannot_steer_the_terminal(with_a3: CommandLine, tmp_path: Path) -> None:
    """A title and a look with control characters."""
    table = {**TABLE, "title": "Up\x1b[2J"}
    with_a3("crucible", "enter", record(tmp_path, schedule=table), "--look", "fine\x1b[31m")
    assert "\x1b" not in with_a3("crucible", "show", "A3").output


@pytest.mark.parametrize("command", [["show"], ["amend", "--wall-mm", "3"], ["retire"], ["show", "--csv"]])
def test_an_unknown_mark_is_one_line(command: list[str], with_a3: CommandLine) -> None:
    """With the marks there are."""
    told = with_a3.refusal("crucible", command[0], "Z9", *command[1:])
    assert told == "no crucible is marked 'Z9'; there are: A3; add one with: rampwarden crucible add MARK"


def test_mistakes_are_one_line_each(with_a3: CommandLine, tmp_path: Path) -> None:
    """A taken mark, a wrong class, date, limit; nothing to change; no heat named; no record; another format."""
    add = ("crucible", "add", "B1", "--class", "fireclay")
    refusal = with_a3.refusal
    assert "mark 'a3' is taken" in refusal("crucible", "add", "a3", "--class", "fireclay")
    assert "'clay'" in refusal("crucible", "add", "B1", "--class", "clay")
    assert "bought = '1.2.26': is no date such as 2026-01-31" in refusal(*add, "--bought", "1.2.26")
    assert "limit 'slowly' is not a limit such as" in refusal(*add, "--limit", "slowly")
    assert "'hot' is not a temperature such as '200 C'" in refusal(*add, "--sheet-top", "hot")
    assert "nothing to change in A3" in refusal("crucible", "amend", "A3")
    assert "which heat? Name its record" in refusal("crucible", "enter", "--look", "fine")
    assert "No such file or directory" in refusal("crucible", "enter", "none.jsonl")
    assert "names no crucible; say which: --crucible MARK" in refusal("crucible", "enter", record(tmp_path, mark=""))
    foreign = record(tmp_path, format="rampwarden-heat/9")
    assert "format 'rampwarden-heat/9'; this version reads" in refusal("crucible", "enter", foreign)
    empty = tmp_path / "empty.jsonl"
    empty.write_bytes(record(tmp_path).read_bytes().splitlines(keepends=True)[0])
    assert "holds no temperature that could be believed" in refusal("crucible", "enter", empty)
    assert len(shown(with_a3, "list")["crucibles"]) == 1  # type: ignore[arg-type]  # a list


def test_a_register_from_a_newer_version_is_one_line_and_untouched(with_a3: CommandLine, tmp_path: Path) -> None:
    """For every command that reads or writes it."""
    connection = sqlite3.connect(tmp_path / "crucibles.sqlite")
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    before = (tmp_path / "crucibles.sqlite").read_bytes()
    for command in (["list"], ["show", "A3"], ["add", "B1", "--class", "fireclay"], ["enter"]):
        assert "crucibles.sqlite: is of version 99, this program reads up to" in with_a3.refusal("crucible", *command)
    assert (tmp_path / "crucibles.sqlite").read_bytes() == before


def test_without_a_register_each_command_says_how_one_begins(rampwarden: CommandLine) -> None:
    """Looking makes none."""
    for command in (["list"], ["show", "A3"], ["enter"]):
        assert rampwarden.refusal("crucible", *command) == (
            "crucibles.sqlite: there is no register yet; it begins with: rampwarden crucible add MARK"
        )
