"""The archive: each heat whole and once, in a folder and on a server; what is damaged or contradicts is one line."""

import gzip
import json
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec
import pytest
from tests.archive.invented_rows import invented_rows
from tests.cli.crucibles.test_crucible_command import record
from tests.postgres_server import PostgresServer

from rampwarden.archive import (
    Archive,
    ArchivedHeat,
    Chosen,
    FolderArchive,
    Grouping,
    PutOutcome,
    ServerArchive,
    gathered,
    listed,
    trend,
)
from rampwarden.archive.keeping import row_of, write_row
from rampwarden.errors import ArchiveError
from rampwarden.records import figures_of

pytestmark = pytest.mark.long


Opening = Callable[[], Archive]


@pytest.fixture(params=["folder", "server"])
def opening(request: pytest.FixtureRequest, tmp_path: Path) -> Opening:
    """Give a function that opens an archive: each test holds for a folder and for a shop's server."""
    if request.param == "folder":
        return lambda: FolderArchive.open(tmp_path / "archive", tmp_path / "cache", create=True)
    url = request.getfixturevalue("shop_url")
    return lambda: ServerArchive.open(url, create=True, patience_s=10.0)


@pytest.fixture
def archive(opening: Opening) -> Iterator[Archive]:
    """Give an open, empty archive."""
    kept = opening()
    yield kept
    kept.close()


@pytest.fixture
def heat(tmp_path: Path) -> ArchivedHeat:
    """Give a short heat, ready to be kept."""
    return gathered(record(tmp_path))


def refusal(what: Callable[[], object]) -> str:
    with pytest.raises(ArchiveError) as caught:
        what()
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_heat_comes_back_as_it_was_handed_in(archive: Archive, tmp_path: Path) -> None:
    """Its record to the byte; its figures are those of the record; its events those of a replay; its course thinned."""
    path = record(tmp_path)
    heat = gathered(path)
    assert archive.put(heat) is PutOutcome.KEPT
    assert archive.record("one") == path.read_bytes()
    story = archive.story("one")
    assert story.figures == figures_of(path)
    assert sum(event.raises_alarm for event in story.events) == heat.row.alarms > 0
    assert 100 < len(story.course) <= 400
    highest = max(temp_c for _, temp_c in story.course)
    assert heat.row.peak_c - 10.0 < highest <= heat.row.peak_c
    assert row_of(archive.database, "one") == heat.row


def test_a_heat_handed_in_again_is_kept_once(archive: Archive, heat: ArchivedHeat, tmp_path: Path) -> None:
    """Late, repeated, or from a copy that somebody has packed."""
    archive.put(heat)
    assert archive.put(heat) is PutOutcome.THERE_ALREADY
    packed = tmp_path / "heats" / "one.jsonl.gz"
    packed.write_bytes(gzip.compress((tmp_path / "heats" / "one.jsonl").read_bytes()))
    assert archive.put(gathered(packed)) is PutOutcome.THERE_ALREADY
    assert [row.id for row in listed(archive.database, Chosen(), 10)] == ["one"]


def test_two_that_hand_in_the_same_heat_at_once_keep_it_once(opening: Opening, heat: ArchivedHeat) -> None:
    """As when a record has been carried to another computer; neither is told of a failure."""
    opening().close()
    together = threading.Barrier(4)
    outcomes: list[object] = []

    def hand_in() -> None:
        try:
            kept = opening()
            together.wait()
            outcomes.append(kept.put(heat))
            kept.close()
        except BaseException as error:
            outcomes.append(error)

    workers = [threading.Thread(target=hand_in) for _ in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert sorted(map(str, outcomes)) == ["kept"] + ["there already"] * 3


def test_another_heat_under_the_same_id_is_refused_and_changes_nothing(
    archive: Archive, heat: ArchivedHeat, tmp_path: Path
) -> None:
    """Whatever it is: the one that is there stays."""
    archive.put(heat)
    other = gathered(record(tmp_path, started="2027-05-01T08:00:00Z", title="Another"))
    assert "the heat one is there already with another record" in refusal(lambda: archive.put(other))
    assert archive.record("one") == (heat_content := gzip.decompress(heat.record))
    assert row_of(archive.database, "one") == heat.row
    assert heat_content != gzip.decompress(other.record)


def test_a_heat_that_has_gone_on_takes_its_own_place(archive: Archive, tmp_path: Path) -> None:
    """Handed in unfinished after a power cut, taken up again, handed in once more; the older copy changes nothing."""
    path = record(tmp_path)
    whole = path.read_bytes()
    path.write_bytes(b"".join(whole.splitlines(keepends=True)[:-200]))
    unfinished = gathered(path)
    path.write_bytes(whole)
    assert archive.put(unfinished) is PutOutcome.KEPT
    assert archive.put(gathered(path)) is PutOutcome.GONE_ON
    assert archive.record("one") == whole
    assert "with another record" in refusal(lambda: archive.put(unfinished))
    assert [row.length for row in listed(archive.database, Chosen(), 10)] == [len(whole)]


def test_a_heat_that_is_not_kept_is_told(archive: Archive) -> None:
    """By each of the two questions of one heat."""
    assert "there is no heat none" in refusal(lambda: archive.story("none"))
    assert "there is no heat none" in refusal(lambda: archive.record("none"))


def test_heats_are_chosen_by_what_they_are_of(archive: Archive) -> None:
    """Each choice alone against the rows themselves; rehearsals and false starts only when they are asked for."""
    rows = list(invented_rows(200))
    with archive.database.changing():
        for row in rows:
            write_row(archive.database, row)
    real = [row for row in rows if row.was_heat and not row.rehearsal]
    choices: dict[str, tuple[Chosen, Callable[[object], bool]]] = {
        "furnace": (Chosen(furnace="furnace-2"), lambda row: row.furnace == "furnace-2"),  # type: ignore[attr-defined]
        "mark": (Chosen(mark="pot-3"), lambda row: row.mark == "POT-3"),  # type: ignore[attr-defined]
        "schedule": (Chosen(schedule="DAILY_"), lambda row: "daily_" in row.schedule),  # type: ignore[attr-defined]
        "alarm": (Chosen(alarm="ramp-high"), lambda row: "ramp-high" in row.alarm_names.split()),  # type: ignore[attr-defined]
        "days": (
            Chosen(since="2026-02-01", until="2026-03-05"),
            lambda row: "2026-02-01" <= row.started[:10] <= "2026-03-05",  # type: ignore[attr-defined]
        ),
    }
    for what, (chosen, fits) in choices.items():
        expected = {row.id for row in real if fits(row)}
        assert {row.id for row in listed(archive.database, chosen, 1000)} == expected, what
        assert 0 < len(expected) < len(real), what
    everything = Chosen(with_rehearsals=True, with_false_starts=True)
    newest = listed(archive.database, everything, 1000)
    assert len(newest) == 200
    assert newest == sorted(newest, key=lambda row: row.started, reverse=True)
    assert listed(archive.database, everything, 3) == newest[:3]


@pytest.mark.parametrize("grouping", Grouping)
def test_a_trend_adds_up_what_the_rows_say(archive: Archive, grouping: Grouping) -> None:
    """Against sums made here."""
    rows = list(invented_rows(200))
    with archive.database.changing():
        for row in rows:
            write_row(archive.database, row)
    name = {"pot": "mark", "furnace": "furnace", "schedule": "schedule", "month": "month"}[grouping]
    for line in trend(archive.database, Chosen(), grouping):
        own = [row for row in rows if getattr(row, name) == line.name and row.was_heat and not row.rehearsal]
        errors = [row.soak_error_c for row in own if row.soak_error_c is not None]
        gas = [row.gas_kg for row in own if row.gas_kg is not None]
        assert (line.heats, line.alarms) == (len(own), sum(row.alarms for row in own))
        assert line.over_min == pytest.approx(sum(row.over_min for row in own))
        assert line.dose_min == pytest.approx(sum(row.dose_min for row in own))
        assert line.highest_c == max(row.peak_c for row in own)
        assert line.gas_kg == (pytest.approx(sum(gas)) if gas else None)
        assert line.soak_error_c == (pytest.approx(sum(errors) / len(errors)) if errors else None)


# A folder's own troubles


@pytest.fixture
def folder(tmp_path: Path, heat: ArchivedHeat) -> Path:
    """Give a folder with one heat in it."""
    kept = FolderArchive.open(tmp_path / "archive", tmp_path / "cache", create=True)
    kept.put(heat)
    kept.close()
    return tmp_path / "archive"


def test_a_folder_carried_to_another_computer_is_the_whole_archive(folder: Path, tmp_path: Path) -> None:
    """The index is made anew there; what another furnace has handed in meanwhile is in it the next time."""
    kept = FolderArchive.open(folder, tmp_path / "elsewhere", create=False)
    assert [row.id for row in listed(kept.database, Chosen(), 10)] == ["one"]
    other = FolderArchive.open(folder, tmp_path / "cache", create=False)
    other.put(gathered(record(tmp_path, number="two")))
    other.close()
    kept.refresh()
    assert {row.id for row in listed(kept.database, Chosen(), 10)} == {"one", "two"}
    shutil.rmtree(next(folder.glob("*/two")))
    kept.refresh()
    assert {row.id for row in listed(kept.database, Chosen(), 10)} == {"one"}
    kept.close()


def test_a_damaged_index_is_made_anew(folder: Path, tmp_path: Path) -> None:
    """Nothing stands in it that the folder has not."""
    [index] = (tmp_path / "cache").glob("archive-*.sqlite")
    index.write_bytes(b"not a database, but long enough to be looked at as one\n" * 100)
    kept = FolderArchive.open(folder, tmp_path / "cache", create=False)
    assert [row.id for row in listed(kept.database, Chosen(), 10)] == ["one"]
    kept.close()


def test_a_heat_copied_by_half_is_told_and_costs_itself_alone(folder: Path, tmp_path: Path) -> None:
    """Without its row, with a record cut short, with a story of another; the others answer as before."""
    kept = FolderArchive.open(folder, tmp_path / "cache", create=False)
    kept.put(gathered(record(tmp_path, number="two")))
    place = next(folder.glob("*/one"))
    data = (place / "record.jsonl.gz").read_bytes()
    (place / "record.jsonl.gz").write_bytes(data[:-100])
    assert "one: is copied by half or damaged: record.jsonl.gz: its hash differs" in refusal(lambda: kept.record("one"))
    (place / "story.json.gz").unlink()
    assert "story.json.gz: No such file or directory" in refusal(lambda: kept.story("one"))
    assert kept.record("two")
    kept.close()
    (place / "row.json").write_text("{", encoding="utf-8")
    kept = FolderArchive.open(folder, tmp_path / "elsewhere", create=False)
    assert [row.id for row in listed(kept.database, Chosen(), 10)] == ["two"]
    [sentence] = kept.damaged
    assert "one: is copied by half or damaged: row.json" in sentence
    kept.close()


def test_what_was_cut_off_while_it_was_written_is_not_there(folder: Path, tmp_path: Path) -> None:
    """A heat's folder has its name only once it is whole."""
    month = next(folder.glob("2*"))
    shutil.copytree(month / "one", month / ".new-three-abcd")
    kept = FolderArchive.open(folder, tmp_path / "cache", create=False)
    assert [row.id for row in listed(kept.database, Chosen(), 10)] == ["one"]
    kept.close()


def test_a_folder_that_is_no_archive_or_a_newer_one_is_refused_and_not_touched(tmp_path: Path) -> None:
    """Nothing is put into somebody's photographs."""
    other = tmp_path / "photographs"
    other.mkdir()
    (other / "a.jpg").touch()
    told = refusal(lambda: FolderArchive.open(other, tmp_path / "cache", create=True))
    assert told == f"{other}: is a folder of something else; set archive.place"
    (other / "archive.json").write_text(json.dumps({"format": "rampwarden-archive/9"}))
    told = refusal(lambda: FolderArchive.open(other, tmp_path / "cache", create=True))
    assert "is of rampwarden-archive/9, this program reads rampwarden-archive/1; nothing was changed" in told
    told = refusal(lambda: FolderArchive.open(tmp_path / "none", tmp_path / "cache", create=False))
    assert told == f"{tmp_path / 'none'}: there is no archive yet; it begins with: rampwarden heats archive"
    assert sorted(path.name for path in other.iterdir()) == ["a.jpg", "archive.json"]


def test_an_id_that_is_no_name_stays_outside(tmp_path: Path, heat: ArchivedHeat) -> None:
    """A record's header is other people's: it must not name a way out of the folder."""
    kept = FolderArchive.open(tmp_path / "archive", tmp_path / "cache", create=True)
    for field, bad in (("id", "../../etc"), ("id", ".new-x"), ("month", "../..")):
        row = msgspec.structs.replace(heat.row, **{field: bad})
        strange = msgspec.structs.replace(heat, row=row)
        assert "cannot be a folder's name" in refusal(lambda strange=strange: kept.put(strange))  # type: ignore[misc]
    kept.close()


def test_register_and_archive_share_a_database(postgres: PostgresServer, heat: ArchivedHeat) -> None:
    """Each with its own note of how far it has come."""
    from rampwarden.records import Register

    url = postgres.make_database()
    Register.open(url, create=True).close()
    kept = ServerArchive.open(url, create=True, patience_s=10.0)
    kept.put(heat)
    kept.close()
    with Register.open(url) as books:
        assert books.crucibles() == []
