"""One table of hostile texts and numbers, and every door they may come in by: bounded, refused in words, never raw."""

import json
import os
import re
import tomllib
import unicodedata
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
import structlog

from rampwarden.control.messages import FORMAT, LONGEST_TEXT, read_request
from rampwarden.control.orders import command_of
from rampwarden.core.instrument import Column, ColumnFormat
from rampwarden.core.instrument.framing import ColumnDecoder, FrameDecoder
from rampwarden.core.model import Reading
from rampwarden.errors import ControlError, RampwardenError, RecordError, ScheduleError, SettingsError
from rampwarden.log_lines import LogLines
from rampwarden.log_setup import configure_logging
from rampwarden.records.calibration_file import read_calibration
from rampwarden.records.csv_files import ImportTally, parse_columns, read_csv
from rampwarden.records.register_rows import CRUCIBLE_COLUMNS, _from_json, crucible_from
from rampwarden.schedule_files import read_schedule
from rampwarden.settings import load_settings
from rampwarden.sources.board_lines import what_it_looks_like
from rampwarden.terminal_text import error_lines, printable, shortened
from rampwarden.toml_files import LONGEST_TEXT as LONGEST_TOML_TEXT
from rampwarden.toml_files import bounded_toml

STEERING = "x\x1b[31m\x9b\u202e\u2028\x85=cmd\x07"
ESCAPED = "x\\u001b[31m\\u009b\\u202e\\u2028\\u0085=cmd\\u0007"
DIGITS = "9" * 5000
HOSTILE_TOML = {
    "5,000 digits": f"{{key}} = {DIGITS}",
    "6,000 digits to base 16": f"{{key}} = 0x{'f' * 6000}",
    "beyond 64 bits": "{key} = 9223372036854775808",
    "deep lists": "{key} = " + "[" * 900,
    "deep tables": "[{key}." + ".".join("a" * 5000) + "]\nx = 1",
    "nested as far as no table of ours": "{key} = " + "[" * 9 + "]" * 9,
    "a text without end": f'{{key}} = "{"x" * 100_000}"',
    "a key without end": f"{{key}}{'k' * 100_000} = 1",
    "a name that ends early": '{key} = "a\\u0000b"',
    "a file without end": "# " + "x" * 2_000_000,
    "no text": "{key} = \udcff",
    "steering": f'{{key}} = 3\n"{ESCAPED}" = "{ESCAPED}"',
    "not a number": "{key} = nan",
    "beyond all numbers": "{key} = 1e999",
    "a date": "{key} = 0001-01-01",
}


def shows_nothing_raw(text: str) -> bool:
    """Tell whether every letter of a line can be seen."""
    return not {unicodedata.category(letter) for letter in text} & {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}


def said(error: RampwardenError) -> list[str]:
    """Give what a person reads of an error, having seen that it is bounded and harmless."""
    lines = error_lines(str(error))
    assert len(lines) <= 41
    assert all(len(line) <= 1000 and shows_nothing_raw(line) for line in lines)
    return lines


def calibration(path: Path) -> None:
    read_calibration(path)


@pytest.mark.parametrize("name", HOSTILE_TOML)
@pytest.mark.parametrize(
    ("key", "read", "refusal"),
    [
        ("title", read_schedule, ScheduleError),
        ("board", lambda path: load_settings(path, {}, {}), SettingsError),
        ("format", calibration, RecordError),
    ],
)
def test_hostile_files_are_refused_in_a_few_words(
    tmp_path: Path, name: str, key: str, read: Callable[[Path], object], refusal: type[RampwardenError]
) -> None:
    """Schedule, settings and calibration; the words name the file."""
    path = tmp_path / "file.toml"
    path.write_bytes(HOSTILE_TOML[name].replace("{key}", key).encode(errors="surrogateescape"))
    if name == "a file without end" and key == "board":
        # A file of comments alone would be no settings, and so no fault.
        path.write_text(path.read_text() + "\n[board]\n")
    with pytest.raises(refusal) as refused:
        read(path)
    assert str(path) in said(refused.value)[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("x = " + "[" * 9 + "]" * 9, "x: more than 8 tables or lists"),
        (f"x = -{2**63 + 1}", "x: a whole number beyond 64 bits"),
        (f"[a]\nb = '{'x' * (LONGEST_TOML_TEXT + 1)}'", "a: b: a text of 4,001 letters"),
        ('x = ["a", "b\\u0000"]', "x: holds the letter NUL"),
        ("k" * 101 + " = 1", "a key of 101 letters"),
        ("#" * 1_048_577, "more than 1,048,576 bytes"),
        (f"x = {DIGITS}", "a number of thousands of digits"),
    ],
)
def test_each_bound_of_a_file_says_what_it_found(text: str, words: str) -> None:
    """With the place, where there is one."""
    with pytest.raises(ValueError, match=re.escape(words)):
        bounded_toml(text.encode())


def test_what_is_just_within_the_bounds_is_read() -> None:
    """So is a text with marks of direction: whatever shows it makes them harmless."""
    table: dict[str, object] = {"x": 2**63 - 1, "k" * 100: "y" * LONGEST_TOML_TEXT, "odd": STEERING.replace("\x1b", "")}
    text = "\n".join(f"{json.dumps(key)} = {json.dumps(value)}" for key, value in table.items())
    assert bounded_toml(text.encode()) == table
    assert bounded_toml(b"x = " + b"[" * 7 + b"]" * 7) == tomllib.loads("x = " + "[" * 7 + "]" * 7)


@pytest.mark.parametrize("field", [DIGITS, "1e999", "nan", "-inf", STEERING, "x" * 100_000, "\0", "=1+1", "9999-12-31"])
@pytest.mark.parametrize("row", ["1,{}", "{},20"])
def test_a_hostile_row_of_a_csv_file_costs_itself_alone(tmp_path: Path, field: str, row: str) -> None:
    """What is told of it is short."""
    path = tmp_path / "log.csv"
    path.write_text(f"time,temp\n0,20\n{row.format(field)}\n2,21\n")
    tally = ImportTally()
    readings = list(read_csv(path, parse_columns("time=time,temp_c=temp"), tally))
    assert [reading.temp_c for reading in readings] == [20.0, 21.0]
    assert tally.bad_rows == 1
    assert len(tally.first_bad[0]) < 200
    assert shows_nothing_raw(tally.first_bad[0])


def test_a_row_months_after_the_first_is_damage(tmp_path: Path) -> None:
    """Else one digit too many makes years of a watch."""
    path = tmp_path / "log.csv"
    path.write_text("time,temp\n0,20\n1e300,21\n20000000,22\n60,23\n")
    tally = ImportTally()
    readings = list(read_csv(path, parse_columns("time=time,temp_c=temp"), tally))
    assert (readings[-1], tally.bad_rows) == (Reading(60.0, temp_c=23.0), 2)


@pytest.mark.parametrize(
    "body",
    [
        {"request": "shelve", "alarm": "ramp-high", "minutes": 1e-300},
        {"request": "shelve", "alarm": "ramp-high", "minutes": 1e300},
        {"request": STEERING},
        {"request": "shelve", "alarm": STEERING, "minutes": 5},
        {"request": "note", "text": "x" * (LONGEST_TEXT + 1)},
        {"request": "mark", "text": "\u202e"[:0]},
        f'{{"format":"{FORMAT}","request":"note","text":' + "[" * 30_000,
        f'{{"format":"{FORMAT}","request":"shelve","alarm":"ramp-high","minutes":{DIGITS}}}',
        f'{{"format":"{FORMAT}","request":"shelve","alarm":"ramp-high","minutes":NaN}}',
        '{"format":"' + STEERING + '"}',
        "\udcff\udcfe",
    ],
)
def test_a_hostile_request_at_the_socket_is_refused_in_a_few_words(body: dict[str, object] | str) -> None:
    """And nothing of it is passed on."""
    line = body if isinstance(body, str) else json.dumps({"format": FORMAT, **body})
    with pytest.raises(ControlError) as refused:
        command_of(read_request(line.encode(errors="surrogateescape")), "socket:me")
    said(refused.value)


def test_a_text_at_the_socket_loses_what_steers() -> None:
    """It goes into the record, and from there everywhere."""
    line = json.dumps({"format": FORMAT, "request": "note", "text": STEERING}).encode()
    assert shows_nothing_raw(command_of(read_request(line), "socket:me").text)


HOSTILE_LINES = [
    DIGITS.encode(),
    b"1e999,20",
    b"nan,nan",
    b"-inf,20",
    STEERING.encode(),
    b"x" * 1_000_000,
    b"\0" * 1000,
    b"\xff\xfe",
    b"$TC," * 1000,
    b"1_000,2_0",
    "٣٠,٣٠".encode(),
    b"0x10,20",
]


@pytest.mark.parametrize("line", HOSTILE_LINES)
@pytest.mark.parametrize(
    "decoder", [FrameDecoder, lambda: ColumnDecoder(ColumnFormat((Column.TEMP_C, Column.JUNCTION_C)))]
)
def test_a_hostile_line_of_a_board_makes_no_frame_and_is_shown_harmless(
    decoder: Callable[[], FrameDecoder | ColumnDecoder], line: bytes
) -> None:
    """A board that has lost its mind, or another device on the same port."""
    made = decoder()
    made.feed(b"\n")
    assert made.feed(line + b"\n") == []
    shown = what_it_looks_like(made.sample)
    assert len(shown) < 200
    assert shows_nothing_raw(shown)


@pytest.mark.parametrize("sheet", ["[" * 3000, "\x00", DIGITS, '{"a": 1}', "[1]", ""])
def test_a_register_that_another_program_wrote_to_is_refused(sheet: str) -> None:
    """With what the register takes for damage, and nothing else."""
    row = [{"mark": "A3", "crucible_class": "sic", "sheet": sheet}.get(name, "") for name in CRUCIBLE_COLUMNS]
    with pytest.raises(msgspec.MsgspecError):
        crucible_from(row)


@pytest.mark.parametrize("column", ["[" * 3000, '{"a":' * 3000, "\x00", "nan"])
def test_a_column_that_may_hold_anything_is_refused_as_damage_too(column: str) -> None:
    """Endless brackets are no other fault than a wrong letter."""
    with pytest.raises(msgspec.MsgspecError):
        _from_json(column, object)


@pytest.mark.parametrize("form", ["json", "text"])
def test_nothing_raw_reaches_a_log_reader(form: str) -> None:
    """Neither in a sentence, nor in a field, nor in what a fault says; and no line is longer than a person reads."""
    reading, writing = os.pipe()
    lines = LogLines(writing)
    configure_logging("json" if form == "json" else "text", lines)
    log = structlog.get_logger()
    log.warning(STEERING, segment=STEERING)
    log.warning("x" * 100_000)
    try:
        raise OSError(STEERING)
    except OSError:
        log.error("a fault", exc_info=True)
    lines.close()
    os.close(writing)
    with os.fdopen(reading, encoding="utf-8", newline="\n") as pipe:
        text = pipe.read()
    told = text.split("\n")[:-1]
    assert all(shows_nothing_raw(line) for line in told)
    assert len(told[1]) < 1200
    if form == "json":
        assert json.loads(told[0])["segment"] == STEERING


def test_a_long_error_is_told_by_its_beginning_and_its_end() -> None:
    """So are a thousand faults, and what only some readers take for a line's end forges no line."""
    assert error_lines("short") == ["short"]
    assert error_lines("a\u2028rampwarden: all is well") == ["a�rampwarden: all is well"]
    (line,) = error_lines("begin" + "x" * 5000 + "end")
    assert (line[:5], line[-3:], len(line)) == ("begin", "end", 1000)
    assert error_lines("\n".join(map(str, range(45))))[39:] == ["39", "and 5 more"]
    assert [shortened("abcdef", longest) for longest in (6, 5, 4)] == ["abcdef", "ab…ef", "ab…f"]
    assert shows_nothing_raw(printable(STEERING))
