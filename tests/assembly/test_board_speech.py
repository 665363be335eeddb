"""What of a board's settings belongs together, and what its channels are called."""

import re

import pytest

from rampwarden.assembly import board_speech
from rampwarden.assembly.board_speech import board_channels, board_source, channel_number
from rampwarden.errors import SettingsError
from rampwarden.settings import BoardSection

BUS = {"format": "modbus", "registers": [0, 1]}
LABELS = {"format": "labels", "values": ["T1", "T2"]}


@pytest.mark.parametrize(
    ("section", "channels"),
    [
        ({}, ()),
        ({"format": "columns", "columns": ["temp_c", "junction_c"]}, ("temp_c",)),
        ({"format": "columns", "columns": ["temp_c", "skip", "temp_c"]}, ("temp_c 0", "temp_c 1")),
        (LABELS, ("T1", "T2")),
        (BUS, ("register 0", "register 1")),
    ],
)
def test_channels_have_names_where_the_format_has(section: dict, channels: tuple[str, ...]) -> None:
    """Their position is the number that readings carry."""
    board = BoardSection(**section)
    assert board_channels(board) == channels
    assert [channel_number(board, name) for name in channels] == list(range(len(channels)))


@pytest.mark.parametrize(
    ("section", "said"),
    [
        ({**LABELS, "channel": "T3"}, "board.channel = 'T3': there is no such channel; known: T1, T2"),
        ({**LABELS, "channel": 2}, "board.channel = 2: the board has channels 0 to 1: T1, T2"),
        ({"channel": "T1"}, "board.channel = 'T1': there is no such channel; frames number their channels from 0"),
        ({"ask": ["T?"]}, 'answers in format "columns", "labels" or "json"'),
        ({**LABELS, "ask": ["T?"], "buzzer": True}, "gets its questions and nothing else"),
        ({**LABELS, "ask": ["T?"], "interval": 0.05}, "is asked each 0.1 s at most"),
        ({"values": ["T1"]}, 'board.values: belongs to format "labels" or "json", and the format is "frames"'),
        ({**LABELS, "registers": [0]}, 'board.registers: belongs to format "modbus", and the format is "labels"'),
        ({"format": "json"}, "name the keys of 1 to 32 temperatures"),
        ({"format": "modbus"}, "name the first register of 1 to 32 values"),
    ],
)
def test_settings_that_do_not_fit_are_refused_in_a_line(section: dict, said: str) -> None:
    """Before a port is opened."""
    with pytest.raises(SettingsError, match=re.escape(said)) as refused:
        board_source(BoardSection(port="/dev/x", **section))
    assert "\n" not in str(refused.value)


def test_a_bus_without_pymodbus_is_refused_with_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """In settings, not in the middle of a heat."""
    monkeypatch.setattr("rampwarden.sources.asking.bus_asker.find_spec", lambda _name: None)
    with pytest.raises(SettingsError, match=re.escape("pip install 'rampwarden[modbus]'")):
        board_source(BoardSection(port="/dev/x", **BUS))
    assert board_speech.board_source(BoardSection(port="/dev/x", **LABELS)).registers is None


def test_one_question_may_have_commas() -> None:
    """A text is one question, however it is punctuated; several are a list."""
    board = BoardSection(port="/dev/x", format="columns", columns="temp_c,temp_c", ask="MEAS:TEMP? (@101,102)")
    source = board_source(board)
    assert source.asking is not None
    assert source.asking.questions == ("MEAS:TEMP? (@101,102)",)
