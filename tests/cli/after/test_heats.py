"""`rampwarden heats …`: handed in by a watch or by hand, listed, compared, fetched; mistakes are one line each."""

import csv
import io
import json
from pathlib import Path

import pytest
import structlog
from tests.cli.crucibles.test_crucible_command import record
from tests.outputs.mqtt.broker import free_port, wait_until

from command_line import CommandLine, run_process
from rampwarden.assembly import archive as archive_assembly
from rampwarden.assembly.archive import hand_in
from rampwarden.assembly.late_entries import LateEntries
from rampwarden.settings import load_settings

pytestmark = pytest.mark.long


@pytest.fixture
def two(rampwarden: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """Give the command line with two heats kept in the usual place."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    record(tmp_path)
    record(tmp_path, mark="B1", number="two", name="heats/two.jsonl", started="2027-02-11T09:00:00Z")
    outcome = rampwarden("heats", "archive")
    assert outcome.output == "heats/one.jsonl: kept\nheats/two.jsonl: kept\n"
    return rampwarden


def test_heats_that_wait_are_handed_in_once(two: CommandLine, tmp_path: Path) -> None:
    """A rehearsal only when it is asked for; what is no record is left alone."""
    assert two("heats", "archive").output == "no heat waits to be archived\n"
    record(tmp_path, number="three", name="heats/three.jsonl", rehearsal=True)
    assert two("heats", "archive").output == "no heat waits to be archived\n"
    assert two("heats", "archive", "--rehearsals").output == "heats/three.jsonl: kept\n"
    assert two("heats", "archive", "heats/one.jsonl").output == "heats/one.jsonl: there already\n"
    other = record(tmp_path, name="heats/other.jsonl", title="Another", started="2027-01-01T09:00:00Z")
    refused = two("heats", "archive", other)
    assert (refused.status, refused.errors.count("\n")) == (2, 1)
    assert "archive: the heat one is there already with another record" in refused.errors


def test_heats_are_listed_as_table_json_csv_and_page(two: CommandLine, tmp_path: Path) -> None:
    """The newest first, and by what they are of."""
    head, *lines = two("heats", "list").output.splitlines()
    assert head.split()[:5] == ["heat", "began", "furnace", "pot", "schedule"]
    assert [line.split()[0] for line in lines] == ["two", "one"]
    known = json.loads(two("heats", "list", "--json", "--crucible", "b1").output)
    assert known["format"] == "rampwarden-heats/1"
    assert [(heat["id"], heat["mark"]) for heat in known["heats"]] == [("two", "B1")]
    rows = list(csv.DictReader(io.StringIO(two("heats", "list", "--csv").output)))
    assert [row["id"] for row in rows] == ["two", "one"]
    assert two("heats", "list", "--html", "heats.html").output == "heats.html: written\n"
    assert (tmp_path / "heats.html").read_text(encoding="utf-8").count("<tr>") == 3
    assert two("heats", "list", "--furnace", "furnace-9").output == "no heat of that kind is kept\n"
    by_pot = json.loads(two("heats", "trend", "--by", "pot", "--json").output)["trend"]
    assert [(line["name"], line["heats"]) for line in by_pot] == [("A3", 1), ("B1", 1)]


def test_heats_are_compared_with_their_courses_over_one_another(two: CommandLine, tmp_path: Path) -> None:
    """One page without anything from elsewhere; other people's texts are no markup in it."""
    record(tmp_path, mark="<b>x", number="three", name="heats/three.jsonl")
    two("heats", "archive")
    two("heats", "compare", "one", "two", "three", "--html", "overlay.html")
    page = (tmp_path / "overlay.html").read_text(encoding="utf-8")
    assert page.count("<polyline") == 3
    assert "&lt;b&gt;x" in page
    assert "<b>" not in page
    assert len(two("heats", "compare", "one", "two").output.splitlines()) == 3
    shown = two("heats", "show", "one").output
    assert "limit" in shown
    refused = two("heats", "compare", "one", "none")
    assert refused.errors == "rampwarden: archive: there is no heat none; see: rampwarden heats list\n"


def test_a_record_is_fetched_as_it_was_and_written_over_nothing(two: CommandLine, tmp_path: Path) -> None:
    """For replay and report."""
    two("heats", "fetch", "one", "--to", "back.jsonl")
    assert (tmp_path / "back.jsonl").read_bytes() == (tmp_path / "heats" / "one.jsonl").read_bytes()
    assert "back.jsonl: is there already" in two("heats", "fetch", "two", "--to", "back.jsonl").errors


def test_a_heat_copied_by_half_is_said_beside_the_others(two: CommandLine, tmp_path: Path) -> None:
    """On another computer, whose index knows nothing yet."""
    next((tmp_path / "archive").glob("*/one/row.json")).unlink()
    [index] = (tmp_path / "cache").glob("**/archive-*.sqlite")
    index.unlink()
    outcome = two("heats", "list")
    assert [line.split()[0] for line in outcome.output.splitlines()[1:]] == ["two"]
    assert "one: is copied by half or damaged" in outcome.errors


def test_a_watch_hands_its_heat_in_when_it_is_asked_to(tmp_path: Path) -> None:
    """Here a rehearsal's, at its end."""
    (tmp_path / "shop.toml").write_text('[archive]\nenabled = true\nplace = "kept"\n', encoding="utf-8")
    schedule = 'title = "Up"\n[[segment]]\nname = "up"\nkind = "ramp"\nto = "200 C"\nmax_rate = "100 C / 5 min"\n'
    (tmp_path / "heat.toml").write_text(schedule, encoding="utf-8")
    speed = ("--speed", "5000", "--interval", "5")
    outcome = run_process(tmp_path, "rehearse", "heat.toml", *speed, "--config", "shop.toml")
    said = json.loads(outcome.output.splitlines()[-1])["event"]
    assert said.startswith("archived (kept) · see: rampwarden heats show ")
    assert len(list((tmp_path / "kept").glob("*/*/row.json"))) == 1


def test_what_a_week_without_an_archive_left_is_handed_in_by_a_later_watch(
    tmp_path: Path, shop_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not one is lost, none is kept twice, and the watch that could not says what becomes of its heat."""
    monkeypatch.setattr(archive_assembly, "_END_PATIENCE_S", 60.0)
    for number in ("one", "two", "three"):
        record(tmp_path, number=number, name=f"heats/{number}.jsonl")

    def settings(place: str) -> object:
        flags = {"archive.place": place, "archive.enabled": True, "watch.records": tmp_path / "heats"}
        return load_settings(None, flags, {}).settings

    nobody = settings(f"postgresql://shop@127.0.0.1:{free_port()}/shop")
    sentence, is_well = hand_in(nobody, tmp_path / "heats" / "one.jsonl")  # type: ignore[arg-type]
    assert not is_well
    assert sentence.endswith("the next watch here does it, or: rampwarden heats archive")
    there = settings(shop_url)
    assert hand_in(there, tmp_path / "heats" / "two.jsonl")[0].startswith("archived (kept)")  # type: ignore[arg-type]
    with structlog.testing.capture_logs() as told:
        late = LateEntries(there, first_pause_s=0.02)  # type: ignore[arg-type]
        wait_until(lambda: late.is_done, "the late entries")
        late.close()
    said = [entry["event"] for entry in told]
    assert sorted(said) == ["one.jsonl: archived late", "three.jsonl: archived late"]
