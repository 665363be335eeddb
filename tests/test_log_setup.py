"""Log lines as they are read: sentences, JSON where it was asked for, nothing that steers a terminal."""

import json
import os
import pty
import tty
from collections.abc import Callable
from typing import Literal

import pytest
import structlog

from rampwarden.log_lines import LogLines
from rampwarden.log_setup import configure_logging
from rampwarden.outputs.in_fahrenheit import in_fahrenheit
from rampwarden.terminal_text import elapsed, printable


def logged(form: Literal["text", "json"], *, on_terminal: bool, said_as: Callable[[str], str] = str) -> list[str]:
    """Give the lines of one event each way the service logs them."""
    if on_terminal:
        reading, writing = pty.openpty()
        tty.setraw(writing)
    else:
        reading, writing = os.pipe()
    lines = LogLines(writing)
    configure_logging(form, lines, said_as=said_as)
    log = structlog.get_logger()
    log.warning("ramp-high · 142 °C/h", time_s=3725.5, kind="alarm", priority="high", segment="drying")
    log.info("watching\x1b[2J\nagain")
    if said_as is not str:
        log.info("note · 20 °C", kind="note")
    lines.close()
    text = os.read(reading, 65_536).decode()
    os.close(writing)
    os.close(reading)
    return text.splitlines()


@pytest.mark.parametrize("on_terminal", [False, True])
def test_whoever_asks_for_json_gets_one_object_a_line(on_terminal: bool) -> None:
    """With level, wall time and the fields of the event, letters as they are."""
    first, second = logged("json", on_terminal=on_terminal)
    assert "°C/h" in first
    entry = json.loads(first)
    assert entry.pop("timestamp").endswith("Z")
    assert entry == {
        "event": "ramp-high · 142 °C/h",
        "level": "warning",
        "time_s": 3725.5,
        "kind": "alarm",
        "priority": "high",
        "segment": "drying",
    }
    assert json.loads(second)["event"] == "watching\x1b[2J\nagain"
    assert "\x1b" not in second


def test_a_person_gets_sentences_with_the_heat_s_own_time_and_colour() -> None:
    """Elapsed time, then the sentence; control characters show as what they are: damage."""
    assert logged("text", on_terminal=True) == [
        " 1:02:05  \x1b[1;31mramp-high · 142 °C/h\x1b[0m",
        "          watching�[2J�again",
    ]


def test_on_a_terminal_a_sentence_is_folded_beside_its_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Between words; what follows stands clear of the column of times."""
    monkeypatch.setattr(LogLines, "columns", 25)
    assert logged("text", on_terminal=False) == [
        " 1:02:05  ramp-high · 142",
        "          °C/h",
        "          watching\ufffd[2J\ufffdagain",
    ]


def test_text_in_a_file_has_no_colour() -> None:
    """Escape sequences are for terminals alone."""
    assert logged("text", on_terminal=False)[0] == " 1:02:05  ramp-high · 142 °C/h"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("25 °C · µV – «ok»", "25 °C · µV – «ok»"),
        ("\x1b[31mred", "�[31mred"),
        ("a\r\nb\tc\x07", "a��b�c�"),
        ("\x9b2J", "�2J"),
        ("\u202eevil\u2066", "�evil�"),
        ("\udcff\ue000", "��"),
        ("", ""),
    ],
)
def test_control_characters_become_a_visible_mark(text: str, shown: str) -> None:
    """Escapes, C1 controls, direction marks, stray bytes; letters and signs stay."""
    assert printable(text) == shown


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.0, "0:00:00"), (59.99, "0:00:59"), (3725.0, "1:02:05"), (360_000.0, "100:00:00"), (-1.0, "0:00:00")],
)
def test_elapsed_time_reads_as_hours_minutes_seconds(seconds: float, text: str) -> None:
    """Hours go on counting past a day; nothing is negative."""
    assert elapsed(seconds) == text


def test_what_a_person_reads_may_be_turned_but_neither_json_nor_what_people_wrote() -> None:
    """As into °F."""
    assert [line[10:] for line in logged("text", on_terminal=False, said_as=in_fahrenheit)] == [
        "ramp-high · 256 °F/h",
        "watching\ufffd[2J\ufffdagain",
        "note · 20 °C",
    ]
    assert "142 °C/h" in logged("json", on_terminal=False, said_as=in_fahrenheit)[0]
