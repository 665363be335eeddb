"""Logs of instruments nobody knows: what each column is taken for, and that every reading is as it was written."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from rampwarden.core.written_numbers import DecimalSign
from rampwarden.errors import ForeignLogError, LogQuestionError
from rampwarden.foreign_logs import ColumnChoices, DateOrder, LogChoices, LogLook, look_at_log

LOGS = Path(__file__).parent / "logs"
UNKNOWN_SCALE = "°C (nothing in the file says so; if it is °F: --unit F)"


def look(text: str, **choices: object) -> LogLook:
    return look_at_log(text.encode(), LogChoices(**choices))  # type: ignore[arg-type]


def asked(text: str) -> LogQuestionError:
    with pytest.raises(LogQuestionError) as question:
        look(text)
    return question.value


def invented_c(seconds: float) -> float:
    """The course that the invented logs were written from, °C."""
    return 21.0 + seconds / 7200.0 * 158.5 + (0.3 if int(seconds / 60.0) % 3 == 0 else 0.0)


@pytest.mark.parametrize(
    ("name", "probe", "words", "step_s", "off_c", "start"),
    [
        (
            "semicolons_decimal_comma.csv",
            "",
            [
                "Windows-1252 or Latin-1, columns parted by semicolons, decimal comma, 2 lines before it passed over",
                "1  'Datum': the date, day first",
                "2  'Uhrzeit': the time of day",
                "3  'Ofen [°C]': the temperature, °C",
                "4  'Feuchte [%]': not used",
            ],
            60.0,
            0.0,
            "2026-04-03T09:15",
        ),
        (
            "tabs_am_pm_fahrenheit.txt",
            "",
            [
                "UTF-8, columns parted by tabs, decimal point",
                "1  'When': the date and the time, month first",
                "2  'Pot (°F)': the temperature, °F",
                "3  'Battery V': not used",
            ],
            120.0,
            0.0,
            "2026-04-13T11:40",
        ),
        (
            "three_probes.csv",
            "lower",
            [
                "plain ASCII, columns parted by commas, decimal point",
                "1  'stamp': the date and the time, year first",
                "2  'upper': not used",
                "3  'lower': the temperature, " + UNKNOWN_SCALE,
                "4  'lid': not used",
                "5  'cold junction': not used",
            ],
            30.0,
            -4.0,
            "2026-04-03T09:15",
        ),
        (
            "elapsed_minutes.csv",
            "",
            [
                "UTF-8, columns parted by commas, decimal point",
                "1  't [min]': the time, min",
                "2  'Tiegel [C]': the temperature, °C",
            ],
            30.0,
            0.0,
            None,
        ),
        (
            "blanks_without_names.txt",
            "",
            [
                "plain ASCII, columns parted by blanks, decimal point, without names",
                "1  'column 1': the date, year first",
                "2  'column 2': the time of day",
                "3  'column 3': the temperature, " + UNKNOWN_SCALE,
            ],
            15.0,
            0.0,
            "2026-04-03T09:15",
        ),
        (
            "newest_first.txt",
            "",
            [
                "UTF-8, columns parted by upright lines, decimal point",
                "1  'moment': the date and the time, day first",
                "2  'probe one': the temperature, °C (as its cells say)",
                "its newest row stands first, so it was read from its end",
            ],
            60.0,
            0.0,
            "2026-04-03T09:15",
        ),
        (
            "epoch_in_quotes.csv",
            "",
            [
                "plain ASCII, columns parted by commas, decimal point",
                "1  'no.': not used",
                "2  'unix time': the time, s (seconds since 1970)",
                "3  'setpoint': not used",
                "4  'chamber_c': the temperature, °C",
            ],
            10.0,
            0.0,
            "2026-04-03T09:15",
        ),
        (
            "minutes_over_midnight.csv",
            "",
            [
                "Windows-1252 or Latin-1, columns parted by semicolons, decimal comma",
                "1  'Heure': the time of day",
                "2  'Température': the temperature, " + UNKNOWN_SCALE,
                "several rows share one time, so they were spread evenly until the next",
            ],
            20.0,
            0.125,
            None,
        ),
        (
            "units_below_names.csv",
            "",
            [
                "UTF-8, columns parted by commas, decimal point, 2 lines before it passed over",
                "1  'elapsed hh:mm:ss': the time of day",
                "2  'charge kg': not used",
                "3  'furnace °F': the temperature, °F",
            ],
            60.0,
            0.0,
            None,
        ),
    ],
)
def test_an_invented_log_is_read_as_it_was_written(
    name: str, probe: str, words: list[str], step_s: float, off_c: float, start: str | None
) -> None:
    """Every word of what it was taken for, every reading's time and temperature, and when it began."""
    seen = look_at_log((LOGS / name).read_bytes(), LogChoices(ColumnChoices(probe=probe)))
    assert list(seen.words) == words
    times_s = [n * step_s for n in range(40) if name != "newest_first.txt" or n not in (7, 8)]
    assert [reading.time_s for reading in seen.readings] == pytest.approx(times_s)
    # To the last digit that the files have, in °F a little more.
    expected = [invented_c(at_s) + off_c for at_s in times_s]
    assert [reading.temp_c for reading in seen.readings] == pytest.approx(expected, abs=0.051)
    began = None if seen.started_s is None else datetime.fromtimestamp(seen.started_s, UTC)
    assert began == (None if start is None else datetime.fromisoformat(f"{start}:00+00:00"))


def test_a_night_that_is_passed_decides_between_day_and_month() -> None:
    """04/05 and then 05/05: a minute later by the day first, a month by the other. Thousands have points there."""
    seen = look_at_log((LOGS / "sixteen_bits_over_night.txt").read_bytes(), LogChoices())
    assert seen.words[:2] == (
        "UTF-16, columns parted by tabs, decimal comma",
        "1  'zeitpunkt': the date and the time, day first",
    )
    assert [reading.temp_c for reading in seen.readings] == [995.0 + 2.5 * n for n in range(40)]
    assert [reading.time_s for reading in seen.readings] == [60.0 * n for n in range(40)]


def test_an_open_data_set_is_read() -> None:
    """Occupancy Detection, an office's climate: its one temperature among six numbers, and a column without a name."""
    seen = look_at_log((LOGS / "open_room_log.csv").read_bytes(), LogChoices())
    assert [line for line in seen.words if "not used" not in line] == [
        "plain ASCII, columns parted by commas, decimal point",
        "2  'date': the date and the time, year first",
        "3  'Temperature': the temperature, " + UNKNOWN_SCALE,
    ]
    assert (len(seen.readings), seen.bad_rows) == (40, 0)
    assert (seen.readings[0].temp_c, seen.readings[-1].temp_c) == (23.18, 22.6)
    assert seen.readings[-1].time_s == 38 * 60 + 59


def test_some_log_that_is_partly_readable_says_how_much() -> None:
    """Rows that are no readings cost themselves, and the first few are told with their lines."""
    name = "newest_first.txt"
    seen = look_at_log((LOGS / name).read_bytes(), LogChoices())
    assert (seen.rows, seen.bad_rows) == (40, 2)
    assert seen.first_bad == (
        "line 33: probe one = 'OPEN' is no number",
        "line 34: probe one = 'OPEN' is no number",
    )
    backwards = look("time s,temp\n0,20\n10,21\n5,22\n20,23\n30,24\n")
    assert backwards.first_bad == ("line 4: time runs backwards",)
    gappy = look("time s,temp\n" + "".join(f"{at},20\n" for at in (0, 10, 20, 30, 40, 400, 410)))
    assert gappy.gaps == ((40.0, 360.0),)


# What is not guessed

AMBIGUOUS_DATES = "when;temp °C\n03/04/2026 09:15;20,5\n03/04/2026 09:16;21,5\n"
AMBIGUOUS_COMMAS = "time s;temp °C\n0;1,200\n10;1,210\n20;1,220\n"


def test_a_date_that_may_be_two_is_asked_with_both_readings() -> None:
    """3 April or 4 March: nothing in one day's file says which."""
    question = asked(AMBIGUOUS_DATES)
    assert str(question) == "03/04/2026 may mean 3 April 2026 or 4 March 2026, and nothing in the file decides it"
    assert question.options == (("--dates day-first", "3 April 2026"), ("--dates month-first", "4 March 2026"))
    began = {order: look(AMBIGUOUS_DATES, dates=order).started_s for order in DateOrder if order != "year-first"}
    months = {order: datetime.fromtimestamp(at_s or 0.0, UTC).month for order, at_s in began.items()}
    assert months == {DateOrder.DAY_FIRST: 4, DateOrder.MONTH_FIRST: 3}


@pytest.mark.parametrize(
    ("date", "order"),
    [
        ("13/04/2026", "day"),
        ("04/13/2026", "month"),
        ("04/04/2026", "day"),
        ("03.04.2026", "day"),
        ("2026/04/03", "year"),
    ],
)
def test_a_date_that_can_only_be_one_is_not_asked(date: str, order: str) -> None:
    """A thirteenth month, twice the same number, points between, or the year before."""
    seen = look(f"when;temp °C\n{date} 09:15;20,5\n{date} 09:16;21,5\n")
    assert seen.words[1].endswith(f", {order} first")
    assert datetime.fromtimestamp(seen.started_s or 0.0, UTC).month == 4


def test_a_comma_and_three_digits_are_asked_with_both_readings() -> None:
    """1.2 °C or 1200 °C; any other number of the file decides it."""
    question = asked(AMBIGUOUS_COMMAS)
    assert str(question) == "1,200 may mean 1.2 or 1200, and nothing in the file decides it"
    assert question.options == (("--decimal comma", "1.2"), ("--decimal point", "1200"))
    assert look(AMBIGUOUS_COMMAS, decimal=DecimalSign.POINT).readings[1].temp_c == 1210.0
    assert look(AMBIGUOUS_COMMAS, decimal=DecimalSign.COMMA).readings[1].temp_c == 1.21
    assert look(AMBIGUOUS_COMMAS + "30;1,23\n").readings[0].temp_c == 1.2
    assert look(AMBIGUOUS_COMMAS + "30;1,230.5\n").readings[0].temp_c == 1200.0
    assert look("time s;temp °C\n0;20,125\n10;20,250\n").readings[1].temp_c == 20.25


def test_a_time_without_a_unit_is_asked_unless_its_steps_are_too_long_for_minutes() -> None:
    """Sixty times too fast or too slow would be a false verdict on every ramp."""
    question = asked("time,temp\n0,20\n1,21\n2,22\n")
    assert str(question) == "'time' counts in steps of 1, and nothing says of what"
    assert [option for option, _ in question.options] == ["--time-unit s", "--time-unit min", "--time-unit h"]
    columns = ColumnChoices(time_unit="min")
    assert look("time,temp\n0,20\n1,21\n", columns=columns).readings[1].time_s == 60.0
    assert look("time,temp\n0,20\n60,21\n").readings[1].time_s == 60.0


def test_of_several_probes_one_is_chosen_by_name_part_or_number() -> None:
    """Never the first, and never one that is no column."""
    text = "time s,probe a,probe b\n0,20,30\n10,21,31\n"
    question = asked(text)
    assert str(question) == "several columns may be the temperature"
    assert question.options == (("--probe 'probe a'", "20 to 21"), ("--probe 'probe b'", "30 to 31"))
    for name in ("probe b", "PROBE B", "be b", "3"):
        assert look(text, columns=ColumnChoices(probe=name)).readings[0].temp_c == 30.0
    for name in ("probe", "4", "x", "1"):
        with pytest.raises(
            ForeignLogError, match="no one column of numbers is called so; there are: 'probe a', 'probe b'"
        ):
            look(text, columns=ColumnChoices(probe=name))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no line of it looks like a reading"),
        ("Dear Ada,\nthe furnace is fine.\nYours, B.\n", "no line of it looks like a reading"),
        ("a,b\nx,y\n", "no line of it looks like a reading"),
        ("temp,other\n20,5\n21,4\n19,7\n", "no column tells the time"),
        ("time s,humidity %\n0,20\n10,21\n", "no column holds a temperature"),
        ("time s,emf mV\n0,1\n10,1.1\n", "'emf mV' is an EMF, which alone is no temperature; .* --junction 22"),
        ("time s,temp\n0,20,5\n10,21,5\n", "do commas part its decimals as well as its columns"),
        ("time s;temp\n0;20\n10;21\n\0", "is no text"),
    ],
)
def test_where_nothing_can_be_read_it_is_an_error_in_words(text: str, why: str) -> None:
    """Never a heat of no readings."""
    with pytest.raises(ForeignLogError, match=why):
        look(text)


def test_cells_of_which_none_is_a_number_in_the_chosen_way_are_an_error() -> None:
    """The first is told."""
    with pytest.raises(ForeignLogError, match=r"none of its 2 rows can be read: line 2: temp = '2,5' is no number"):
        look("time s;temp\n0;2,5\n10;3,5\n", decimal=DecimalSign.POINT)
