"""Settings that cannot be read refuse a fresh heat alone: one that is under way goes on by those in its record."""

import os
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from tests.assembly.broken_off_heat import PORT, SCHEDULE, broken_off

from rampwarden.assembly import heat_start
from rampwarden.assembly.heat_start import WatchedHeat
from rampwarden.assembly.recorded_settings import settings_again
from rampwarden.cli.during import watch as command
from rampwarden.clock import Moment
from rampwarden.errors import OpenSecretError, RampwardenError, SettingsError
from rampwarden.records import Search
from rampwarden.settings import Settings, load_settings

# What a hand or a disk does to a settings file, and what is said of it.
BROKEN: dict[str, tuple[Callable[[str], str | bytes], str]] = {
    "section left open": (lambda text: text.replace("[watch]", "[watch"), "not a TOML file"),
    "quote left open": (lambda text: text + '[log]\nformat = "plain\n', "the quote that opens is never closed"),
    "key twice": (lambda text: text + 'name = "a"\nname = "b"\n', "name stands twice in one table"),
    "no text": (lambda text: text.encode() + b"\xff\xfe\x00", "not a TOML file"),
    "number of 5,000 digits": (lambda text: text + "[signal]\nlost_after = " + "9" * 5000 + "\n", "not a TOML file"),
    "unknown key": (lambda text: text + '[signal]\nlost_afer = "10 s"\n', "unknown key signal.lost_afer"),
    "unknown section": (lambda text: text + "[signel]\nx = 1\n", "unknown key signel"),
    "no section": (lambda text: "signal = 5\n" + text, "is a section"),
    "wrong kind": (lambda text: text + '[signal]\nlost_after = "banana"\n', "signal.lost_after = 'banana'"),
    "out of range": (lambda text: text + "[signal]\nlost_after = -1\n", "signal.lost_after"),
    "wrong together": (lambda text: text + "[signal]\njunction_lowest = 60\n", "junction_lowest must lie below"),
    "thermocouple": (lambda text: text + '[thermocouple]\ntype = "Q"\n', "thermocouple.type = 'Q'"),
    "columns": (lambda text: text.replace("[board]", '[board]\nformat = "columns"'), "board columns"),
    "alarm": (lambda text: text + '[alarms.ramp-hihg]\npriority = "low"\n', "unknown key alarms.ramp-hihg"),
    "emptied": (lambda _text: "[", "not a TOML file"),
}


class StartedError(Exception):
    """The watch would run now."""

    def __init__(self, settings: Settings, heat: WatchedHeat) -> None:
        super().__init__()
        self.settings, self.heat = settings, heat


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a workshop: settings, a schedule, and a working directory where the records lie by default."""

    def run(settings: Settings, heat: WatchedHeat, *_more: object, **_options: object) -> None:
        heat.writer.close()
        raise StartedError(settings, heat)

    for name in [name for name in os.environ if name.startswith("RAMPWARDEN_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path / "run"))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(command, "run_watch", run)
    (tmp_path / "schedule.toml").write_text(SCHEDULE)
    (tmp_path / "settings.toml").write_text(f'[watch]\nrecords = "heats"\n[board]\nport = "{PORT}"\n[control]\n')
    return tmp_path


def start(folder: Path) -> StartedError:
    """Start a watch; gives it where it would run. What refuses it is raised."""
    try:
        command.watch(schedule=folder / "schedule.toml", config=folder / "settings.toml")
    except StartedError as started:
        return started
    raise AssertionError("it ended by itself")


@pytest.mark.parametrize("fault", BROKEN)
def test_settings_that_cannot_be_read_are_replaced_by_those_of_the_heat_under_way(folder: Path, fault: str) -> None:
    """A line mistyped during a heat, and the power goes: somebody must watch when it comes back."""
    file = folder / "settings.toml"
    sound = load_settings(file, {}, {}).settings
    told = {"mqtt": {"device": "left"}}
    broken_off(sound, settings=sound.model_dump(mode="json", exclude_defaults=True) | told)
    change, words = BROKEN[fault]
    changed = change(file.read_text())
    file.write_bytes(changed if isinstance(changed, bytes) else changed.encode())
    started = start(folder)
    assert started.heat.taken_up
    said = "; ".join(started.heat.shape)
    assert words in said
    assert "this heat goes on by the settings in its record" in said
    assert started.settings.board.port == PORT
    assert started.settings.mqtt.device == "left", "as it was begun"
    assert started.settings.signal == sound.signal


@pytest.mark.parametrize("fault", BROKEN)
def test_settings_that_cannot_be_read_refuse_a_fresh_heat(folder: Path, fault: str) -> None:
    """Whoever lights the furnace stands there, and nothing is lost; no record is begun."""
    file = folder / "settings.toml"
    change, words = BROKEN[fault]
    changed = change(file.read_text())
    file.write_bytes(changed if isinstance(changed, bytes) else changed.encode())
    with pytest.raises(SettingsError, match=words.replace("[", r"\[")):
        start(folder)
    assert not (folder / "heats").exists()


@pytest.mark.parametrize("fault", ["section left open", "emptied", "no text"])
def test_a_record_of_an_older_version_tells_its_board_and_the_rest_is_taken_as_far_as_it_is_legible(
    folder: Path, fault: str
) -> None:
    """Those headers carry no settings."""
    file = folder / "settings.toml"
    broken_off(load_settings(file, {}, {}).settings)
    change, _ = BROKEN[fault]
    changed = change(file.read_text())
    file.write_bytes(changed if isinstance(changed, bytes) else changed.encode())
    started = start(folder)
    assert started.heat.taken_up
    assert started.settings.board.port == PORT


def test_a_settings_file_that_is_gone_costs_no_heat(folder: Path) -> None:
    """The records lie where they lie by default."""
    broken_off(load_settings(folder / "settings.toml", {}, {}).settings)
    (folder / "settings.toml").unlink()
    assert start(folder).heat.taken_up


def elsewhere(folder: Path) -> tuple[Path, Settings]:
    """Let the records lie where nothing but the settings tells, and a first start have been there."""
    file = folder / "settings.toml"
    file.write_text(
        f'[watch]\nrecords = "{folder}/far/away"\nschedule = "{folder}/schedule.toml"\n'
        f'[board]\nport = "{PORT}"\n[mqtt]\ndevice = "left"\n'
    )
    sound = load_settings(file, {}, {}).settings
    with pytest.raises(StartedError) as started:
        command.watch(config=file)
    started.value.heat.give_up()
    broken_off(sound, settings=sound.model_dump(mode="json", exclude_defaults=True))
    return file, sound


@pytest.mark.parametrize("left", [0, 1, 8, 60, -12, -30])
@pytest.mark.parametrize("memory_is_lost", [False, True])
def test_a_settings_file_that_a_disk_has_cut_short_is_replaced_by_the_settings_in_the_record(
    folder: Path, monkeypatch: pytest.MonkeyPatch, left: int, memory_is_lost: bool
) -> None:
    """Emptied or half-written it names neither port nor folder: the last start left word of both."""
    monkeypatch.setenv("STATE_DIRECTORY", str(folder / "state"))
    file, sound = elsewhere(folder)
    if memory_is_lost:
        monkeypatch.setenv("RUNTIME_DIRECTORY", str(folder / "run-after-a-power-cut"))
    file.write_bytes(file.read_bytes()[:left])
    with pytest.raises(StartedError) as started:
        command.watch(config=file)
    assert started.value.heat.taken_up
    assert started.value.settings.board.port == PORT
    assert started.value.settings.mqtt.device == "left"
    assert started.value.settings.watch.records == sound.watch.records
    said = "; ".join(started.value.heat.shape)
    assert str(file) in said
    assert "this heat goes on by the settings in its record" in said


def test_noise_or_nothing_for_a_settings_file_is_replaced_too(folder: Path) -> None:
    file, _ = elsewhere(folder)
    for content in (b"\xad\x00" * 300, None):
        if content is None:
            file.unlink()
        else:
            file.write_bytes(content)
        with pytest.raises(StartedError) as started:
            command.watch(config=file)
        assert started.value.heat.taken_up


def test_an_emptied_file_is_replaced_where_flags_name_the_port_and_the_schedule(folder: Path) -> None:
    """Then nothing is refused, and the outputs would be gone without a word."""
    file, _ = elsewhere(folder)
    file.write_text("")
    with pytest.raises(StartedError) as started:
        command.watch(schedule=folder / "schedule.toml", port=PORT, config=file)
    assert started.value.heat.taken_up
    assert started.value.settings.mqtt.device == "left"
    assert f"{file}: it is empty, and lacks mqtt.device" in "; ".join(started.value.heat.shape)


def test_a_path_of_the_records_that_was_spoilt_costs_no_heat(folder: Path) -> None:
    file, _ = elsewhere(folder)
    file.write_text(file.read_text().replace("far/away", "fbr/away"))
    with pytest.raises(StartedError) as started:
        command.watch(config=file)
    assert started.value.heat.taken_up


def test_an_empty_settings_file_is_fine_for_a_fresh_heat(folder: Path) -> None:
    (folder / "settings.toml").write_text("")
    with pytest.raises(StartedError) as started:
        command.watch(schedule=folder / "schedule.toml", port=PORT, config=folder / "settings.toml")
    assert not started.value.heat.taken_up
    assert not started.value.heat.shape


@pytest.mark.parametrize("content", [b"", b"title", b"\xad\x00"])
def test_an_emptied_schedule_costs_no_heat_and_it_is_said(folder: Path, content: bytes) -> None:
    file, _ = elsewhere(folder)
    (folder / "schedule.toml").write_bytes(content)
    with pytest.raises(StartedError) as started:
        command.watch(config=file)
    assert started.value.heat.taken_up
    assert "this heat goes on under the schedule in its record" in "; ".join(started.value.heat.shape)


@pytest.mark.parametrize(
    ("content", "why"), [("", "it is empty"), ('[board]\nport = "x"', "it breaks off in the midst")]
)
def test_what_a_disk_has_cut_short_is_not_taken_for_new_settings_at_a_reload(
    folder: Path, content: str, why: str
) -> None:
    file, sound = elsewhere(folder)
    file.write_text(content)
    with pytest.raises(SettingsError, match=f"{why}.*lacks"):
        settings_again(lambda: load_settings(file, {"board.port": PORT}, {}).settings, file, sound)
    file.write_text(content + '\n[log]\nformat = "json"\n')
    assert settings_again(lambda: load_settings(file, {}, {}).settings, file, sound).log.format == "json"


def test_without_a_schedule_or_with_one_that_is_unknown_the_heat_under_way_goes_on(folder: Path) -> None:
    """Its record has one."""
    broken_off(load_settings(folder / "settings.toml", {}, {}).settings)
    for schedule in (None, Path("nonsense")):
        with pytest.raises(StartedError) as started:
            command.watch(schedule=schedule, config=folder / "settings.toml")
        assert started.value.heat.taken_up


def test_a_calibration_that_cannot_be_read_is_done_without_and_it_is_said(folder: Path) -> None:
    """Degrees off are watched better than not at all."""
    file = folder / "settings.toml"
    (folder / "calibration.toml").write_text("x = [")
    file.write_text(file.read_text().replace("[control]", 'calibration = "calibration.toml"\n[control]'))
    started = start(folder)
    assert not started.heat.taken_up
    assert not started.heat.monitor.calibration.is_made
    assert [each for each in started.heat.shape if each.startswith("measured without the board's calibration: ")]


def test_a_register_that_cannot_be_read_is_said(folder: Path) -> None:
    """Not only in the log."""
    file = folder / "settings.toml"
    file.write_text(file.read_text().replace("[watch]", '[watch]\ncrucible = "A3"'))
    (folder / "crucibles.sqlite").write_bytes(b"\xff" * 5000)
    assert [each for each in start(folder).heat.shape if "is no register" in each]


def test_a_new_heat_asked_for_is_a_new_heat(folder: Path) -> None:
    """`--new` is refused like any fresh one."""
    broken_off(load_settings(folder / "settings.toml", {}, {}).settings)
    (folder / "settings.toml").write_text("[")
    with pytest.raises(RampwardenError):
        command.watch(schedule=folder / "schedule.toml", config=folder / "settings.toml", new=True)


def test_an_open_secret_is_a_settings_error_of_its_own() -> None:
    """Who checks before a heat is told like of any other."""
    assert issubclass(OpenSecretError, SettingsError)


def test_with_broken_settings_the_unfinished_heat_is_looked_for_once(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder of thousands of records on a slow card is gone through once."""
    file = folder / "settings.toml"
    broken_off(load_settings(file, {}, {}).settings)
    file.write_text(file.read_text() + "[signel]\nx = 1\n")
    looked: list[object] = []
    look = heat_start.find_unfinished

    def find(folders: Iterable[Path], port: str, within_s: float, now: Moment) -> Search:
        looked.append(port)
        return look(folders, port, within_s, now)

    monkeypatch.setattr(heat_start, "find_unfinished", find)
    start(folder)
    assert looked == [PORT]
