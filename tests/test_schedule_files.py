"""Schedule files: found by path or by name, and refused in one line that says why."""

from pathlib import Path

import pytest

from rampwarden.core.heat import schedule_doubts
from rampwarden.core.instrument import thermocouple
from rampwarden.core.schedule import HeatNumber
from rampwarden.errors import ScheduleError
from rampwarden.schedule_files import SCHEDULE_FOLDERS, find_schedule, list_schedules, read_schedule

SCHEDULE = 'title = "T"\n[[segment]]\nname = "up"\nkind = "ramp"\nto = "100 C"\n'


@pytest.fixture
def folders(tmp_path: Path) -> list[Path]:
    """Give two folders of schedules, the one to be looked at first first; a third is missing."""
    for name, schedules in (("own", ("daily", "first")), ("machine", ("daily", "zirconia"))):
        (tmp_path / name).mkdir()
        for schedule in schedules:
            (tmp_path / name / f"{schedule}.toml").write_text(SCHEDULE)
    return [tmp_path / "own", tmp_path / "machine", tmp_path / "missing"]


def test_a_schedule_is_found_by_its_name_in_the_first_folder_that_has_it(folders: list[Path]) -> None:
    """One's own before the machine's."""
    assert find_schedule(Path("daily"), folders) == folders[0] / "daily.toml"
    assert find_schedule(Path("zirconia"), folders) == folders[1] / "zirconia.toml"


@pytest.mark.parametrize("name", ["other.toml", "some/where", "/abs/olute", "../daily"])
def test_what_looks_like_a_path_is_taken_as_one(name: str, folders: list[Path]) -> None:
    """Even if there is nothing: the error then names the file that was meant."""
    assert find_schedule(Path(name), folders) == Path(name)


def test_a_file_of_that_name_is_taken_before_a_known_schedule(
    folders: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What lies before one's eyes is what is meant."""
    monkeypatch.chdir(tmp_path)
    Path("daily").write_text(SCHEDULE)
    assert find_schedule(Path("daily"), folders) == Path("daily")


def test_an_unknown_name_is_refused_with_those_that_are_known(folders: list[Path]) -> None:
    """In the order they are looked for."""
    with pytest.raises(ScheduleError) as caught:
        find_schedule(Path("fast"), folders)
    assert str(caught.value) == ("no schedule 'fast': give a file, or one of these names: daily, first, zirconia")
    with pytest.raises(ScheduleError, match="one of these names: none found"):
        find_schedule(Path("fast"), folders[2:])


def test_a_name_too_long_for_any_file_is_refused_like_any_other(folders: list[Path]) -> None:
    """The system raises there; a person gets one line."""
    with pytest.raises(ScheduleError, match="cannot look for the schedule: File name too long"):
        find_schedule(Path("x" * 300), folders)


def test_every_schedule_that_can_be_found_is_listed_once_by_folder_and_name(folders: list[Path]) -> None:
    """Of two of one name the one that would be found; missing folders are none."""
    assert [path.stem for path in list_schedules(folders)] == ["daily", "first", "zirconia"]


def test_an_installed_program_brings_its_schedules_wherever_it_is_called(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who has just installed it has no config folder yet."""
    monkeypatch.chdir(tmp_path)
    assert read_schedule(find_schedule(Path("bronze-first-heat")))[0].title.startswith("Bronze workshop")


def test_a_schedule_comes_with_the_table_it_was_made_from(folders: list[Path]) -> None:
    """The table goes into the record's header."""
    schedule, table = read_schedule(folders[0] / "daily.toml")
    assert schedule.title == table["title"] == "T"
    assert table["segment"] == [{"name": "up", "kind": "ramp", "to": "100 C"}]


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"title =", "line 1: title has no value"),
        (b'title = "\xff"', "not a TOML file: line 1: byte 0xff is not UTF-8; save the file as UTF-8"),
        (b"a = " + b"[" * 5000, "not a TOML file: "),
        (b"", "no segments; a schedule needs at least one [[segment]] table"),
    ],
    ids=["syntax", "not text", "brackets without end", "empty"],
)
def test_a_file_that_is_no_schedule_is_refused_with_its_name(content: bytes, why: str, tmp_path: Path) -> None:
    """One line: file, then reason."""
    file = tmp_path / "s.toml"
    file.write_bytes(content)
    with pytest.raises(ScheduleError) as caught:
        read_schedule(file)
    assert str(caught.value).startswith(f"{file}: {why}")
    assert "\n" not in str(caught.value)


def test_a_file_that_cannot_be_opened_is_refused_with_the_reason(tmp_path: Path) -> None:
    """Missing, or a folder."""
    for path, why in ((tmp_path / "no.toml", "No such file or directory"), (tmp_path, "Is a directory")):
        with pytest.raises(ScheduleError) as caught:
            read_schedule(path)
        assert str(caught.value) == f"{path}: cannot read the schedule: {why}"


def test_every_schedule_that_comes_with_the_project_can_be_used() -> None:
    """And says on what it is based."""
    folder = Path(__file__).resolve().parent.parent / "config" / "schedules"
    files = list_schedules([folder])
    assert len(files) >= 8
    for file in files:
        schedule, _ = read_schedule(file)
        assert schedule.segments
        assert "common practice" in schedule.basis, file.name


@pytest.mark.parametrize("path", list_schedules(SCHEDULE_FOLDERS[-1:]), ids=lambda path: path.stem)
def test_what_is_shipped_is_not_doubted_by_our_own_check_and_asks_before_a_first_fire(path: Path) -> None:
    """Whoever copies one begins without a "look again"; type R covers all of them."""
    schedule, _ = read_schedule(path)
    assert schedule_doubts(schedule, "R", thermocouple("R").range_c) == ()
    if schedule.heat is HeatNumber.FIRST:
        assert any("CO detector" in line for line in schedule.checklist)
        assert any(segment.asks for segment in schedule.segments)
