"""A watch whose crucible is in a shop's register: it never waits for the server; the heat is entered once it can be."""

import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
import structlog
from tests.cli.crucibles.test_crucible_command import record
from tests.cli.crucibles.test_watched_crucible import REHEARSE, SCHEDULE
from tests.outputs.mqtt.broker import free_port, wait_until
from tests.postgres_server import PostgresServer
from tests.records.registered import A3

from command_line import CommandLine, run_process
from rampwarden.assembly import crucible
from rampwarden.assembly.crucible import known_pot, start_warnings
from rampwarden.assembly.entering import enter_heat
from rampwarden.assembly.late_entries import LateEntries
from rampwarden.records import Register
from rampwarden.schedule_files import read_schedule
from rampwarden.settings import Settings, load_settings

pytestmark = pytest.mark.long


@pytest.fixture
def shop(shop_url: str, rampwarden: CommandLine, tmp_path: Path) -> str:
    """Give a shop's register with A3 in it, and a folder with a schedule."""
    (tmp_path / "heat.toml").write_text(SCHEDULE, encoding="utf-8")
    added = rampwarden(
        "crucible",
        "add",
        "A3",
        "--class",
        "clay-graphite",
        "--sheet-top",
        "1400 C",
        "--wall-mm",
        "20",
        "--register",
        shop_url,
    )
    assert added.output.startswith("A3: registered · postgresql://127.0.0.1:")
    return shop_url


def settings_for(tmp_path: Path, where: str) -> Settings:
    flags = {"watch.crucible_register": where, "watch.records": tmp_path / "heats", "watch.crucible": "A3"}
    return load_settings(None, flags, {}).settings


def test_a_heat_is_entered_on_the_server_and_seen_from_any_furnace(
    shop: str, rampwarden: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Warned of at the start, entered at the end, as in a file."""
    for patience in ("_SERVER_START_PATIENCE_S", "_SERVER_END_PATIENCE_S"):
        monkeypatch.setattr(crucible, patience, 60.0)
    settings = settings_for(tmp_path, shop)
    schedule, _ = read_schedule(tmp_path / "heat.toml")
    first, *_ = start_warnings(settings, "a3", schedule, date(2026, 1, 10))
    assert first.startswith("readiness: Dry it first.")
    path = record(tmp_path)
    words, is_well = enter_heat(settings, "a3", path)
    assert (words.partition(";")[0], is_well) == ("entered for A3 · see: rampwarden crucible show A3", True)
    shown = rampwarden("crucible", "show", "A3", "--json", "--register", shop).output
    [heat] = json.loads(shown)["heats"]
    assert (heat["rehearsal"], heat["title"]) == (False, "Up")


def test_a_server_that_refuses_stops_no_watch(tmp_path: Path) -> None:
    """Said once at the start and once at the end, with what becomes of the heat; the record is whole."""
    (tmp_path / "heat.toml").write_text(SCHEDULE, encoding="utf-8")
    nobody = f"postgresql://shop@127.0.0.1:{free_port()}/shop"
    (tmp_path / "shop.toml").write_text(f'[watch]\ncrucible_register = "{nobody}"\n', encoding="utf-8")
    outcome = run_process(tmp_path, *REHEARSE, "--crucible", "A3", "--config", "shop.toml")
    assert outcome.status == 0, outcome
    in_vain = [
        line
        for line in outcome.output.splitlines()
        if "the register cannot be reached" in line or "the register does not answer" in line
    ]
    assert len(in_vain) == 2
    assert "is entered by itself when the register answers" in in_vain[0]
    assert "when it answers it is entered by the next watch here, or by: rampwarden crucible enter" in in_vain[1]
    [path] = (tmp_path / "heats").glob("*.jsonl")
    assert '"kind":"end"' in path.read_text(encoding="utf-8").splitlines()[-1]


@pytest.fixture
def frozen(shop: str, postgres: PostgresServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Give a register that takes a question and never answers it."""
    monkeypatch.setattr(crucible, "_SERVER_START_PATIENCE_S", 0.2)
    monkeypatch.setattr(crucible, "_SERVER_END_PATIENCE_S", 0.2)
    with Register.open(shop) as books, books.database.changing():
        books.database.change("LOCK TABLE crucible IN ACCESS EXCLUSIVE MODE")
        yield shop


def test_a_register_that_never_answers_is_waited_for_no_longer_than_the_patience(frozen: str, tmp_path: Path) -> None:
    """Asked at the start and at the end; each gives up by its own clock and says so."""
    settings = settings_for(tmp_path, frozen)
    path = record(tmp_path)
    sentence, is_well = enter_heat(settings, "A3", path)
    assert (sentence.startswith("not entered: postgresql://127.0.0.1:"), is_well) == (True, False)


def test_what_was_last_known_of_a_pot_stands_in_for_a_register_that_does_not_answer(
    shop: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The maker's top and the wall, with the day they were known on; whether it is dry may have changed since."""
    (tmp_path / "heats").mkdir()
    monkeypatch.setattr(crucible, "_SERVER_START_PATIENCE_S", 60.0)
    known = known_pot(settings_for(tmp_path, shop), "A3", date(2026, 1, 10))
    assert (known.top_c, known.standing is None, known.trouble) == (1400.0, False, "")
    nobody = settings_for(tmp_path, f"postgresql://shop@127.0.0.1:{free_port()}/shop")
    stood_in = known_pot(nobody, "a3", date(2026, 1, 17))
    assert (stood_in.top_c, stood_in.wall, stood_in.standing) == (1400.0, known.wall, None)
    assert stood_in.trouble.endswith("; a3 is taken for what was known of it on 2026-01-10")
    (tmp_path / "known-pots.json").write_text('{"a3": [', encoding="utf-8")
    assert known_pot(nobody, "A3", date(2026, 1, 17)).top_c is None


def test_heats_of_a_week_without_a_server_are_entered_once_it_answers(
    postgres: PostgresServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two that wait, one that is entered by hand meanwhile, and one for a pot that nobody has registered."""
    monkeypatch.setattr(crucible, "_SERVER_END_PATIENCE_S", 60.0)
    url = postgres.make_database()
    for number in ("one", "two", "three"):
        record(tmp_path, number=number, name=f"heats/{number}.jsonl")
    record(tmp_path, mark="B9", number="four", name="heats/four.jsonl")
    settings = settings_for(tmp_path, url)
    with structlog.testing.capture_logs() as told:
        late = LateEntries(settings, first_pause_s=0.02)
        # It finds no register yet, and asks again until there is one.
        with Register.open(url, create=True) as books:
            books.add(A3)
        enter_heat(settings, "A3", tmp_path / "heats" / "two.jsonl")
        wait_until(lambda: late.is_done, "the late entries")
        late.close()
    said = [entry["event"] for entry in told]
    assert {"one.jsonl: entered late for A3", "three.jsonl: entered late for A3"} <= set(said)
    assert len(said) == len(set(said)) <= 3
    with Register.open(url) as books:
        assert sorted(heat.figures.record_id for heat in books.heats("A3")) == ["one", "three", "two"]


def test_a_register_is_moved_there_and_back_by_a_command(
    shop_url: str, rampwarden: CommandLine, tmp_path: Path
) -> None:
    """All of it or nothing; what to set next is said."""
    rampwarden("crucible", "add", "A3", "--class", "clay-graphite")
    record(tmp_path)
    rampwarden("crucible", "enter", "heats/one.jsonl")
    before = rampwarden("crucible", "show", "A3", "--json").output
    there = rampwarden("crucible", "move", "--to", shop_url).output.splitlines()
    assert there[0].endswith(": one crucible and one heat carried over, and read back the same")
    assert there[1] == f'from now on use it: [watch] crucible_register = "{shop_url}"'
    assert rampwarden("crucible", "show", "A3", "--json", "--register", shop_url).output == before
    rampwarden("crucible", "move", "--register", shop_url, "--to", "back.sqlite")
    assert rampwarden("crucible", "show", "A3", "--json", "--register", "back.sqlite").output == before
    refused = rampwarden("crucible", "move", "--to", "crucibles.sqlite")
    assert (refused.status, refused.errors) == (2, "rampwarden: crucibles.sqlite: is where the register is already\n")
    refused = rampwarden("crucible", "move", "--to", "mysql://server/shop")
    assert "is neither a file nor a server such as postgresql://rampwarden@server/rampwarden" in refused.errors
