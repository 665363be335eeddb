"""CSV in and out: any logger's file becomes readings, and a record becomes a file any analysis can read."""

import io
import math
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from rampwarden.core.instrument.calibration import UNCALIBRATED
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import Fault, ProbeReading, Reading
from rampwarden.errors import RecordError
from rampwarden.records.csv_files import ImportTally, parse_columns, read_csv, write_csv

_FIELDS = (
    "fields: time, temp_c, temp_f, emf_uv, emf_mv, junction_c, and those of further probes by their place, "
    "as in chamber:temp_c"
)


def imported(
    folder: Path, content: str | bytes, columns: str = "time=ts,temp_c=value"
) -> tuple[list[Reading | ProbeReading], ImportTally]:
    """Import a file with this content."""
    path = folder / "log.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    tally = ImportTally()
    return list(read_csv(path, parse_columns(columns), tally)), tally


def refusal(folder: Path, content: str | bytes, columns: str = "time=ts,temp_c=value") -> str:
    """Give the line somebody reads whose file cannot be imported, without the file's name."""
    with pytest.raises(RecordError) as caught:
        imported(folder, content, columns)
    return str(caught.value).removeprefix(f"{folder}/log.csv: ")


@pytest.fixture
def berlin(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Stand in a time zone with summer time."""
    with monkeypatch.context() as there:
        there.setenv("TZ", "Europe/Berlin")
        time.tzset()
        yield
    time.tzset()


# Times


def test_seconds_are_counted_from_the_first_row(tmp_path: Path) -> None:
    """A logger's own zero does not matter; fractions are kept."""
    readings, tally = imported(tmp_path, "ts,value\n1000,20\n1000.25,20.5\n1002,21\n")
    assert readings == [Reading(0.0, temp_c=20.0), Reading(0.25, temp_c=20.5), Reading(2.0, temp_c=21.0)]
    assert (tally.rows, tally.bad_rows, tally.gaps) == (3, 0, [])


@pytest.mark.parametrize(
    ("first", "second", "apart_s"),
    [
        ("2026-01-01T09:00:00Z", "2026-01-01T09:00:01.5Z", 1.5),
        ("2026-01-01T09:00:00+01:00", "2026-01-01T08:00:10Z", 10.0),
        ("2026-01-01 09:00:00", "2026-01-01 09:01:00", 60.0),
        ("2026-01-01", "2026-01-02", 86_400.0),
        ("20260101T090000Z", "20260101T090001Z", 1.0),
        # Without a zone it is taken as UTC, so no summer time makes an hour of heat vanish.
        ("2026-03-29T01:30:00", "2026-03-29T03:30:00", 7200.0),
        (" 5 ", "6", 1.0),
    ],
)
@pytest.mark.usefixtures("berlin")
def test_iso_times_with_and_without_zone_give_true_seconds(
    first: str, second: str, apart_s: float, tmp_path: Path
) -> None:
    """Zones are honoured, fractions kept; where this machine stands does not matter."""
    readings, _ = imported(tmp_path, f"ts,value\n{first},20\n{second},21\n")
    assert [reading.time_s for reading in readings] == [0.0, apart_s]


def test_time_counts_from_the_first_row_that_can_be_used(tmp_path: Path) -> None:
    """A row without a temperature before the heat does not move its zero."""
    readings, tally = imported(tmp_path, "ts,value\n0,\n100,20\n101,21\n")
    assert [reading.time_s for reading in readings] == [0.0, 1.0]
    assert tally.bad_rows == 1


def test_a_row_whose_time_runs_backwards_is_bad_and_equal_times_are_not(tmp_path: Path) -> None:
    """A clock that was set back must not turn the heat round."""
    readings, tally = imported(tmp_path, "ts,value\n0,20\n10,21\n10,22\n5,23\n11,24\n")
    assert [reading.temp_c for reading in readings] == [20.0, 21.0, 22.0, 24.0]
    assert tally.first_bad == ["line 5: time runs backwards"]


def test_a_gap_is_told_with_its_start_and_length(tmp_path: Path) -> None:
    """Ten times the usual step: nobody watched in between. A slower logger is no gap."""
    times = [*range(20), 40, *range(41, 50), *range(50, 80, 5)]
    rows = "".join(f"{time_s},20\n" for time_s in times)
    _, tally = imported(tmp_path, f"ts,value\n{rows}")
    assert tally.gaps == [(19.0, 21.0)]


# Values


@pytest.mark.parametrize(
    ("columns", "row", "reading"),
    [
        ("time=t,temp_c=v", "0,100.5", Reading(0.0, temp_c=100.5)),
        ("time=t,temp_f=v", "0,212", Reading(0.0, temp_c=100.0)),
        ("time=t,temp_f=v", "0,-40", Reading(0.0, temp_c=-40.0)),
        ("time=t,emf_uv=v,junction_c=j", "0,4096.25,0", Reading(0.0, emf_uv=4096.25, junction_c=0.0)),
        ("time=t,emf_mv=v,junction_c=j", "0,4.096,25.5", Reading(0.0, emf_uv=4096.0, junction_c=25.5)),
        ("time=t, emf_uv=v, junction_c=j", "0,1,2", Reading(0.0, emf_uv=1.0, junction_c=2.0)),
    ],
)
def test_columns_become_degrees_and_microvolts(columns: str, row: str, reading: Reading, tmp_path: Path) -> None:
    """°F and mV are converted; the junction goes along."""
    assert imported(tmp_path, f"t,v,j\n{row}\n", columns)[0] == [reading]


def test_one_junction_for_every_row_may_be_given_beside_the_columns(tmp_path: Path) -> None:
    """A logger that shows its own temperature and does not write it down."""
    path = tmp_path / "log.csv"
    path.write_text("t,v\n0,1000\n1,1041\n")
    readings = list(read_csv(path, parse_columns("time=t,emf_uv=v", 22.0), ImportTally()))
    assert [reading.junction_c for reading in readings] == [22.0, 22.0]


@pytest.mark.parametrize(
    ("columns", "junction_c", "why"),
    [
        ("time=t,emf_uv=v", None, "an EMF alone is no temperature; name the reference junction's column"),
        ("time=t,emf_mv=v", None, "or give one temperature for all rows: --junction 22"),
        ("time=t,temp_c=v", 22.0, "--junction belongs to an EMF column; temperatures have theirs in them"),
        ("time=t,emf_uv=v,junction_c=j", 22.0, "the reference junction is given twice, as a column and by --junction"),
    ],
)
def test_an_emf_is_refused_without_its_reference_junction(columns: str, junction_c: float | None, why: str) -> None:
    """Taken for 0 °C it would read as much too low as the junction is warm."""
    with pytest.raises(RecordError) as caught:
        parse_columns(columns, junction_c)
    assert why in str(caught.value)


@pytest.mark.parametrize("value", ["", "open", "nan", "inf", "-inf", "1e999", "20,5", "0x10", "--"])
def test_a_row_whose_value_is_no_number_is_counted_and_told(value: str, tmp_path: Path) -> None:
    """Never fatal: one bad row in a night's log is not the end of it."""
    readings, tally = imported(tmp_path, f'ts,value\n0,20\n1,"{value}"\n2,22\n')
    assert [reading.temp_c for reading in readings] == [20.0, 22.0]
    assert (tally.rows, tally.bad_rows, tally.first_bad) == (3, 1, [f"line 3: value = {value!r} is not a number"])


@pytest.mark.parametrize("stamp", ["", "yesterday", "29.03.2026 10:00", "2026-13-01T00:00:00", "nan"])
def test_a_row_without_a_time_is_counted_and_told(stamp: str, tmp_path: Path) -> None:
    """The message says what a time may look like."""
    _, tally = imported(tmp_path, f"ts,value\n0,20\n{stamp},21\n")
    assert tally.first_bad == [f"line 3: ts = {stamp!r} is neither seconds nor an ISO 8601 time"]


def test_the_first_and_last_day_of_the_calendar_end_in_no_traceback(tmp_path: Path) -> None:
    """Times a broken clock gives, with zones that lead out of the calendar."""
    _, tally = imported(tmp_path, "ts,value\n0001-01-01T00:00:00+14:00,20\n9999-12-31T23:59:59-14:00,21\n")
    assert tally.rows == 2


def test_short_rows_long_rows_and_blank_lines_do_no_harm(tmp_path: Path) -> None:
    """A row cut off is bad, one with extra fields is not, a blank line is nothing."""
    readings, tally = imported(tmp_path, "ts,value\n0,20\n1\n\n2,22,extra,fields\n")
    assert [reading.temp_c for reading in readings] == [20.0, 22.0]
    assert (tally.rows, tally.bad_rows) == (3, 1)


def test_only_the_first_bad_rows_are_told_but_all_are_counted(tmp_path: Path) -> None:
    """A thousand lines of complaint are read by nobody."""
    _, tally = imported(tmp_path, "ts,value\n" + "x,y\n" * 1000)
    assert (tally.bad_rows, len(tally.first_bad)) == (1000, 5)


# Files


def test_a_byte_order_mark_quotes_and_either_line_end_are_no_matter(tmp_path: Path) -> None:
    """As spreadsheets write them."""
    content = b'\xef\xbb\xbf"ts", "the value"\r\n"0", "20"\r\n'
    assert imported(tmp_path, content, "time=ts,temp_c=the value")[0] == [Reading(0.0, temp_c=20.0)]


def test_a_column_that_is_not_there_is_told_with_those_that_are(tmp_path: Path) -> None:
    """Most often it is spelt otherwise."""
    assert refusal(tmp_path, "ts,Value\n0,20\n") == "no column 'value'; the first line names: ts, Value"
    assert refusal(tmp_path, "") == "no column 'ts'; the first line names: nothing"


@pytest.mark.parametrize(
    "content",
    [b"ts,value \xb0C\n0,20\n", b"ts,value\n0,20\n1,\xff\n", b"\xff\xfet\x00s\x00"],
    ids=["in the first line", "in a row", "another encoding"],
)
def test_a_file_that_is_not_utf_8_is_told_as_such(content: bytes, tmp_path: Path) -> None:
    """One line, wherever in the file it shows."""
    assert "not a CSV file in UTF-8: 'utf-8' codec can't decode byte" in refusal(tmp_path, content)


def test_a_field_without_end_is_told_as_no_csv(tmp_path: Path) -> None:
    """A quote that is never closed swallows the file; its bound is met before memory is."""
    assert "not a CSV file" in refusal(tmp_path, 'ts,value\n0,"' + "x" * 200_000)


def test_a_file_that_is_not_there_is_told_with_the_reason(tmp_path: Path) -> None:
    """As every file is."""
    with pytest.raises(RecordError, match=r"no\.csv: cannot read: No such file or directory$"):
        list(read_csv(tmp_path / "no.csv", parse_columns("time=a,temp_c=b"), ImportTally()))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("time", f"'time' is not FIELD=COLUMN; {_FIELDS}"),
        ("time=a,heat=b", f"'heat=b' is not FIELD=COLUMN; {_FIELDS}"),
        ("time=,temp_c=b", f"'time=' is not FIELD=COLUMN; {_FIELDS}"),
        ("time=a", "needs time and one of temp_c, temp_f, emf_uv, emf_mv, as in time=ts,temp_c=value"),
        ("temp_c=b", "needs time and one of temp_c, temp_f, emf_uv, emf_mv, as in time=ts,temp_c=value"),
        ("time=a,temp_c=b,temp_f=c", "one temperature is enough; choose between temp_c and temp_f"),
        ("time=a,time=b,temp_c=c", "'time' stands twice"),
    ],
)
def test_columns_that_make_no_sense_are_refused(text: str, why: str) -> None:
    """With what was given and what would do."""
    with pytest.raises(RecordError) as caught:
        parse_columns(text)
    assert str(caught.value) == f"--csv {text!r}: {why}"


# Out and back in


def test_what_is_exported_and_imported_again_has_the_same_temperatures(tmp_path: Path) -> None:
    """Converted by the reference function, to the fourth decimal; the EMF is kept as it was measured."""
    couple = thermocouple("K")
    readings = [Reading(step * 1.5, emf_uv=step * 91.0, junction_c=20.0 + step / 100) for step in range(500)]
    stream = io.StringIO()
    write_csv(readings, couple, stream)
    assert stream.getvalue().splitlines()[0] == "time_s,emf_uv,junction_c,temp_c,faults"
    temperatures, _ = imported(tmp_path, stream.getvalue(), "time=time_s,temp_c=temp_c")
    for reading, again in zip(readings, temperatures, strict=True):
        expected_c = couple.temp_c(reading.emf_uv or 0.0, reading.junction_c or 0.0)
        assert again.temp_c is not None
        assert math.isclose(again.temp_c, expected_c, abs_tol=5e-5)
    raw, _ = imported(tmp_path, stream.getvalue(), "time=time_s,emf_uv=emf_uv,junction_c=junction_c")
    assert raw == readings


def test_a_reading_with_a_fault_or_out_of_range_is_exported_without_temperature() -> None:
    """What was measured stays for whoever looks for the fault; a temperature would be believed."""
    readings = [
        Reading(0.0, emf_uv=250_000.0, junction_c=25.0, faults=(Fault.OPEN, Fault.CONVERTER)),
        Reading(1.0, emf_uv=90_000.0, junction_c=25.0),
        Reading(2.0, temp_c=300.0, faults=(Fault.OPEN,)),
        Reading(3.0, temp_c=300.0),
        Reading(4.0),
    ]
    stream = io.StringIO()
    write_csv(readings, thermocouple("K"), stream)
    assert stream.getvalue().splitlines()[1:] == [
        "0.0,250000.0,25.0,,open converter",
        "1.0,90000.0,25.0,,",
        "2.0,,,,open",
        "3.0,,,300.0,",
        "4.0,,,,",
    ]


# Several probes


def test_further_probes_are_columns_named_by_their_place(tmp_path: Path) -> None:
    """One line of the file gives a reading of each; an empty cell is none, and no bad row."""
    text = "t,pot,air,mv,cj\n0,100,120,0.5,21\n1,,121,0.6,21\n2,102,,0.7,21\n3,x,123,0.8,21\n"
    readings, tally = imported(
        tmp_path, text, "time=t,temp_c=pot,chamber:temp_c=air,bottle:emf_mv=mv,bottle:junction_c=cj"
    )
    assert readings == [
        Reading(0.0, temp_c=100.0),
        ProbeReading(0.0, "chamber", temp_c=120.0),
        ProbeReading(0.0, "bottle", 500.0, 21.0),
        ProbeReading(1.0, "chamber", temp_c=121.0),
        ProbeReading(1.0, "bottle", 600.0, 21.0),
        Reading(2.0, temp_c=102.0),
        ProbeReading(2.0, "bottle", 700.0, 21.0),
    ]
    assert tally.first_bad == ["line 5: pot = 'x' is not a number"]


@pytest.mark.parametrize(
    ("columns", "why"),
    [
        ("time=t,temp_c=a,cellar:temp_c=b", "is not FIELD=COLUMN"),
        ("time=t,temp_c=a,chamber:time=b", "is not FIELD=COLUMN"),
        ("time=t,temp_c=a,chamber:temp_c=b,chamber:temp_c=c", "'chamber:temp_c' stands twice"),
        ("time=t,temp_c=a,chamber:temp_c=b,chamber:temp_f=c", "chamber needs one of"),
        ("time=t,temp_c=a,chamber:junction_c=b", "chamber needs one of"),
        ("time=t,temp_c=a,chamber:emf_uv=b", "needs chamber:junction_c=COLUMN"),
    ],
)
def test_a_further_probes_columns_must_make_a_temperature_as_well(columns: str, why: str) -> None:
    with pytest.raises(RecordError, match=re.escape(why)):
        parse_columns(columns)


def test_several_probes_are_exported_side_by_side_and_come_back(tmp_path: Path) -> None:
    """What came in one instant stands in one row; what came alone stands alone."""
    couple = thermocouple("K")
    lines = [
        Reading(0.0, emf_uv=4096.0, junction_c=0.0),
        ProbeReading(0.0, "chamber", temp_c=150.0),
        ProbeReading(0.7, "chamber", faults=(Fault.OPEN,)),
        Reading(1.0, emf_uv=4138.0, junction_c=0.0),
    ]
    stream = io.StringIO()
    write_csv(lines, couple, stream, probes={"chamber": (couple, UNCALIBRATED)})
    rows = stream.getvalue().splitlines()
    assert rows[0] == (
        "time_s,emf_uv,junction_c,temp_c,faults,chamber:emf_uv,chamber:junction_c,chamber:temp_c,chamber:faults"
    )
    assert rows[1].startswith("0.0,4096.0,0.0,")
    assert rows[1].endswith(",,,150.0,")
    assert rows[2] == "0.7,,,,,,,,open"
    again, _ = imported(tmp_path, stream.getvalue(), "time=time_s,temp_c=temp_c,chamber:temp_c=chamber:temp_c")
    assert [type(each) for each in again] == [Reading, ProbeReading, Reading]
