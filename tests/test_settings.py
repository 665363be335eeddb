"""Settings: which source wins, what a wrong one is told, and that the example file tells the truth."""

import re
import tomllib
from pathlib import Path

import pytest

from rampwarden.assembly.heat import monitor_parameters
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.instrument.framing import Column
from rampwarden.core.model import Priority
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.errors import SettingsError
from rampwarden.settings import AlarmSection, Settings, leaves, load_settings

EXAMPLE = Path(__file__).resolve().parent.parent / "config" / "rampwarden.toml"
NO_DURATION = "is not a duration such as '20 min' or '1 h 30 min'"
TYPES = "input should be 'B', 'E', 'J', 'K', 'N', 'R', 'S' or 'T'"


def loaded(text: str, folder: Path) -> Settings:
    """Load settings from a file with this text."""
    file = folder / "s.toml"
    file.write_text(text, encoding="utf-8")
    return load_settings(file, {}, {}).settings


def refusal(file: Path | None = None, flags: dict[str, object] | None = None, **environment: str) -> list[str]:
    """Give the lines somebody reads whose settings cannot be used."""
    with pytest.raises(SettingsError) as caught:
        load_settings(file, flags or {}, environment)
    return str(caught.value).splitlines()


def refusal_of(text: str, folder: Path) -> list[str]:
    """Give the lines that answer a file with this text, without the file's own name."""
    file = folder / "s.toml"
    file.write_text(text, encoding="utf-8")
    return [line.removeprefix(f"{file}: ") for line in refusal(file)]


# Which source wins


def test_file_beats_default_environment_beats_file_and_flag_beats_all(tmp_path: Path) -> None:
    """One key given four times takes the last; each key says where it came from."""
    file = tmp_path / "s.toml"
    file.write_text('[board]\nport = "from file"\nbaud = 9600\nchannel = 3\n', encoding="utf-8")
    environment = {"RAMPWARDEN_BOARD__PORT": "from environment", "RAMPWARDEN_BOARD__BAUD": "19200"}
    result = load_settings(file, {"board.port": "from flag"}, environment)
    board = result.settings.board
    assert (board.port, board.baud, board.channel, board.bits) == ("from flag", 19200, 3, 16)
    assert result.origins == {"board.port": "flag", "board.baud": "environment", "board.channel": str(file)}


def test_a_flag_not_given_leaves_what_the_file_says(tmp_path: Path) -> None:
    """None is how the command line says that a flag was not used."""
    file = tmp_path / "s.toml"
    file.write_text('[board]\nport = "/dev/x"\n', encoding="utf-8")
    assert load_settings(file, {"board.port": None}, {}).settings.board.port == "/dev/x"


def test_variables_of_other_programs_and_the_name_of_the_file_itself_are_no_settings() -> None:
    """RAMPWARDEN_CONFIG names the file; what lacks the prefix is none of ours."""
    environment = {"PATH": "/bin", "RAMPWARDEN_CONFIG": "/etc/x.toml", "BOARD__PORT": "no"}
    assert load_settings(None, {}, environment).settings == Settings()


@pytest.mark.parametrize(
    ("name", "text", "path", "value"),
    [
        ("RAMPWARDEN_SIGNAL__LOST_AFTER", "20", "signal.lost_after", 20.0),
        ("RAMPWARDEN_SIGNAL__LOST_AFTER", "1 min 30 s", "signal.lost_after", 90.0),
        ("RAMPWARDEN_SIGNAL__JUNCTION_HIGHEST", "140 F", "signal.junction_highest", 60.0),
        ("RAMPWARDEN_SIGNAL__JUNCTION_LOWEST", "-5.5", "signal.junction_lowest", -5.5),
        ("RAMPWARDEN_BELL__ENABLED", "false", "bell.enabled", False),
        ("RAMPWARDEN_BOARD__COLUMNS", "adc, junction_c", "board.columns", (Column.ADC, Column.JUNCTION_C)),
        ("RAMPWARDEN_board__gain", "2.5", "board.gain", 2.5),
        ("RAMPWARDEN_ALARMS__RAMP_HIGH__ON_DELAY", "3 s", "alarms.ramp-high.on_delay", 3.0),
        ("RAMPWARDEN_ALARMS__SENSOR_OPEN__OUT_OF_SERVICE", "yes", "alarms.sensor-open.out_of_service", True),
    ],
)
def test_a_variable_is_written_as_people_write_it(name: str, text: str, path: str, value: object) -> None:
    """Numbers, quantities, lists with commas and the names of alarms, all without quotes and brackets."""
    result = load_settings(None, {}, {name: text})
    assert dict(leaves(result.settings.model_dump()))[path] == value
    assert result.origins == {path: "environment"}


def test_a_tilde_is_the_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody wants a folder named ~."""
    monkeypatch.setenv("HOME", str(tmp_path))
    assert loaded('[watch]\nrecords = "~/heats"\n', tmp_path).watch.records == tmp_path / "heats"


def test_a_file_from_when_only_terminals_got_sentences_is_still_read(tmp_path: Path) -> None:
    """Its "auto" is read as sentences everywhere."""
    file = tmp_path / "s.toml"
    file.write_text('[log]\nformat = "auto"\n', encoding="utf-8")
    assert load_settings(file, {}, {}).settings.log.format == Settings().log.format == "text"


def test_settings_cannot_be_changed_after_they_are_read() -> None:
    """What `rampwarden settings` printed is what is in force."""
    settings = load_settings(None, {}, {}).settings
    with pytest.raises(ValueError, match="frozen"):
        settings.board.port = "elsewhere"  # type: ignore[misc]
    with pytest.raises(ValueError, match="frozen"):
        settings.board = settings.board  # type: ignore[misc]


# What a wrong one is told


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[bord]\nport = 'x'", "unknown key bord; did you mean board?"),
        ("[watch]\nshedule = 'x'", "unknown key watch.shedule; did you mean schedule?"),
        ("[board]\nbauds = 1", "unknown key board.bauds; did you mean baud?"),
        ("[thermocouple]\ntyp = 'K'", "unknown key thermocouple.typ; did you mean type?"),
        ("[signal]\nlost_afer = 1", "unknown key signal.lost_afer; did you mean lost_after?"),
        ("[alarms.ramp-high]\non_dely = 1", "unknown key alarms.ramp-high.on_dely; did you mean on_delay?"),
        ("[bell]\nenable = true", "unknown key bell.enable; did you mean enabled?"),
        ("[log]\nfmt = 'json'", "unknown key log.fmt; did you mean format?"),
        ("[thermocouple]\nqq = 1", "unknown key thermocouple.qq; known: type, tolerance_class, place"),
        ("[alarms.ramp-hihg]\non_delay = 1", "unknown key alarms.ramp-hihg; did you mean ramp-high?"),
        ("[board]\nbaud = 12", "board.baud = 12: input should be greater than or equal to 300"),
        (
            "[board]\nbaud = 'fast'",
            "board.baud = 'fast': input should be a valid integer, unable to parse string as an integer",
        ),
        ("[thermocouple]\ntype = 'Q'", f"thermocouple.type = 'Q': {TYPES}"),
        ("[signal]\nlost_after = '10 minuets'", f"signal.lost_after = '10 minuets' {NO_DURATION}"),
        ("[signal]\nlost_after = 0", "signal.lost_after = 0: input should be greater than or equal to 1"),
        ("[signal]\nlost_after = true", f"signal.lost_after = True {NO_DURATION}"),
        ("[signal]\nlost_after = nan", "signal.lost_after = nan: input should be greater than or equal to 0"),
        (
            "[signal]\njunction_lowest = '5 K'",
            "signal.junction_lowest = '5 K': K is for differences; write a temperature in C or F",
        ),
        (
            "[signal]\njunction_lowest = 60",
            "signal = {'junction_lowest': 60}: junction_lowest must lie below junction_highest",
        ),
        (
            "[alarms.ramp-high]\npriority = 'highest'",
            "alarms.ramp-high.priority = 'highest': input should be 'low', 'medium' or 'high'",
        ),
        ("[board]\ninterval = 0", "board.interval = 0: input should be greater than or equal to 0.01"),
        ("board = 3", "board = 3: is a section; write its keys below [board]"),
    ],
)
def test_a_wrong_line_of_the_file_is_told_with_path_value_and_remedy(text: str, line: str, tmp_path: Path) -> None:
    """Exactly one line, which begins with the file."""
    assert refusal_of(text, tmp_path) == [line]


def test_a_key_of_the_board_that_stands_in_a_list_is_traced_to_the_file(tmp_path: Path) -> None:
    """The fault is in an element, the key is the list's."""
    (line,) = refusal_of("[board]\ncolumns = ['adc', 'frob']", tmp_path)
    assert line.startswith("board.columns.1 = 'frob': input should be 'emf_uv', ")


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    """Who mistyped three lines should not have to start three times."""
    lines = refusal_of("[board]\nbauds = 1\nbaud = 12\n[bell]\nenable = 1\n", tmp_path)
    assert [line.split(" ")[0:3] for line in lines] == [
        ["board.baud", "=", "12:"],
        ["unknown", "key", "board.bauds;"],
        ["unknown", "key", "bell.enable;"],
    ]


def test_an_unknown_variable_is_told_with_the_nearest_one() -> None:
    """A misspelt variable that did nothing would be found when the heat is over."""
    assert refusal(RAMPWARDEN_BORD__PORT="x", RAMPWARDEN_XYZ="y") == [
        "environment: unknown variable RAMPWARDEN_BORD__PORT; did you mean RAMPWARDEN_BOARD__PORT?",
        "environment: unknown variable RAMPWARDEN_XYZ; one that is known: RAMPWARDEN_WATCH__SCHEDULE",
    ]


@pytest.mark.parametrize(
    ("name", "text", "line"),
    [
        ("RAMPWARDEN_BOARD__PROT", "x", "unknown key board.prot; did you mean port?"),
        ("RAMPWARDEN_BOARD", "x", "board = 'x': is a section; write its keys below [board]"),
        ("RAMPWARDEN_BOARD__CHANNEL", "300", "board.channel = '300': input should be less than or equal to 255"),
        ("RAMPWARDEN_ALARMS__RAMP_HIHG__ON_DELAY", "3", "unknown key alarms.ramp-hihg; did you mean ramp-high?"),
    ],
)
def test_a_wrong_variable_is_told_as_such(name: str, text: str, line: str) -> None:
    """One line that begins with where the value came from; no traceback of the library's."""
    assert refusal(**{name: text}) == [f"environment: {line}"]


def test_a_wrong_flag_is_told_as_such() -> None:
    """Even where a file gave the section."""
    assert refusal(flags={"board.baud": 12}) == ["flag: board.baud = 12: input should be greater than or equal to 300"]


def test_a_file_that_cannot_be_read_is_told_with_the_reason(tmp_path: Path) -> None:
    """Missing, a folder, no TOML, no text, brackets without end."""
    missing, broken = tmp_path / "missing.toml", tmp_path / "broken.toml"
    assert refusal(missing) == [f"{missing}: cannot read the settings: No such file or directory"]
    assert refusal(tmp_path) == [f"{tmp_path}: cannot read the settings: Is a directory"]
    broken.write_text("[board\n", encoding="utf-8")
    assert refusal(broken)[0].startswith(f"{broken}: not a TOML file: ")
    broken.write_bytes(b'port = "\xff"\n')
    assert refusal(broken) == [f"{broken}: not a TOML file: line 1: byte 0xff is not UTF-8; save the file as UTF-8"]
    broken.write_text("a = " + "[" * 5000, encoding="utf-8")
    assert refusal(broken)[0].startswith(f"{broken}: not a TOML file: ")


def test_nothing_in_a_setting_is_evaluated(tmp_path: Path) -> None:
    """What looks like code or a variable stays the text it is."""
    settings = loaded('[watch]\ncrucible = "$(id) {HOME} __import__"\n', tmp_path)
    assert settings.watch.crucible == "$(id) {HOME} __import__"


# The example file


def with_every_key(text: str) -> dict[str, object]:
    """Parse the example with the keys that are switched off switched on."""
    return tomllib.loads(re.sub(r"^#(?=[\[a-z])", "", text, flags=re.MULTILINE))


def test_the_example_file_says_what_is_in_force_without_it() -> None:
    """Whoever copies it changes nothing by doing so."""
    assert load_settings(EXAMPLE, {}, {}).settings == Settings()


def test_the_example_file_holds_every_key_and_no_other() -> None:
    """A key that is not shown there is a key nobody finds."""
    shown = {path for path, _ in leaves(with_every_key(EXAMPLE.read_text(encoding="utf-8")))}
    known = {path for path, _ in leaves(Settings().model_dump())}
    known |= {f"alarms.{alarm}.{key}" for alarm in CATALOGUE for key in AlarmSection.model_fields}
    assert shown == known


def test_the_example_file_shows_the_catalogue_as_it_is(tmp_path: Path) -> None:
    """Its alarm sections, switched on, change no alarm; where the catalogue has changed, the file must follow."""
    file = tmp_path / "all.toml"
    file.write_text(re.sub(r"^#(?=[\[a-z])", "", EXAMPLE.read_text(encoding="utf-8"), flags=re.MULTILINE))
    parameters = monitor_parameters(load_settings(file, {}, {}).settings)
    assert parameters.alarms == dict(CATALOGUE)
    assert parameters == MonitorParameters(place="pot")  # the example names a place, and by default nobody has said


def test_each_key_of_the_example_file_has_a_comment_before_it() -> None:
    """Either a comment of its own just above, or that of its neighbour just above that."""
    lines = EXAMPLE.read_text(encoding="utf-8").splitlines()
    for number, line in enumerate(lines):
        if re.match(r"#?[a-z_]+ = ", line):
            above = [text for text in lines[max(0, number - 5) : number] if text.startswith("# ")]
            assert above, f"line {number + 1}: {line}"


def test_a_changed_alarm_changes_that_one_and_keeps_the_rest(tmp_path: Path) -> None:
    """What a section leaves out stays as the catalogue has it."""
    settings = loaded("[alarms.ramp-high]\npriority = 'low'\n[alarms.sensor-open]\nout_of_service = true\n", tmp_path)
    parameters = monitor_parameters(settings)
    changed = parameters.alarms["ramp-high"]
    assert (changed.priority, changed.off_delay_s) == (Priority.LOW, CATALOGUE["ramp-high"].off_delay_s)
    assert parameters.out_of_service == ("sensor-open",)
    assert parameters.alarms["ramp-low"] == CATALOGUE["ramp-low"]
