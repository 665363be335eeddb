"""Which of several boards `rampwarden board` listens to."""

import pytest

from command_line import CommandLine
from rampwarden.cli.board.chosen import loaded_for, section_of
from rampwarden.cli.board.settings_block import settings_block
from rampwarden.errors import SettingsError
from rampwarden.settings import BoardSection, LoadedSettings, ProbeSection, Settings

TWO = LoadedSettings(
    settings=Settings(
        board=BoardSection(port="/dev/one", format="columns", columns=("ms", "temp_c")),
        boards={"second": BoardSection(port="/dev/two", baud=9600)},
        probes={"bottle": ProbeSection(board="second", channel=3, place="bottle", type="T")},
    ),
    origins={"board.port": "s.toml", "board.format": "s.toml", "boards.second.port": "s.toml"},
)


def test_a_further_board_takes_the_place_of_the_first_with_its_own_probe() -> None:
    """Its channel and its thermocouple; of the first board nothing is left."""
    chosen = loaded_for(TWO, "second", None)
    board = chosen.settings.board
    assert (board.port, board.baud, board.format, board.channel) == ("/dev/two", 9600, "frames", 3)
    assert chosen.settings.thermocouple.type == "T"
    assert "board.format" not in chosen.origins
    assert chosen.origins["board.port"] == "s.toml"
    assert loaded_for(TWO, "second", "/dev/other").settings.board.port == "/dev/other"


def test_unless_told_it_is_the_first() -> None:
    """By its own name too."""
    assert loaded_for(TWO, None, None) is TWO
    assert loaded_for(TWO, "board", None) is TWO


def test_a_board_that_is_not_there_is_refused_with_those_that_are(rampwarden: CommandLine) -> None:
    """In one line."""
    with pytest.raises(SettingsError, match="no such board in the settings; known: board, second"):
        loaded_for(TWO, "third", None)
    told = rampwarden.refusal("board", "--board", "third")
    assert told == "--board third: there is no such board in the settings; known: board"


def test_its_settings_are_pasted_into_its_own_section() -> None:
    """Without what belongs to its probe, which would be refused there."""
    keys = {"port": "/dev/two", "channel": 3, "baud": 9600}
    assert settings_block(keys, section_of("second")) == '[boards.second]\nport = "/dev/two"\nbaud = 9600'
    assert settings_block(keys, section_of(None)).splitlines()[0] == "[board]"
