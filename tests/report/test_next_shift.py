"""Five lines for whoever comes next: the pot, the heat, what broke, how it was left, what is to be done."""

from pathlib import Path

import pytest

from invented_heat import OVEN, write_record
from rampwarden.report.course import Course, read_course
from rampwarden.report.next_shift import five_lines
from rampwarden.report.units import Scale
from rampwarden.report.verdict import judge

SOUND = ((0.0, 20.0), (1200.0, 166.0), (3600.0, 166.0))


def lines_of(course: Course, *, fahrenheit: bool = False) -> tuple[str, ...]:
    scale = Scale(fahrenheit)
    return five_lines(course, judge(course, scale), scale)


def test_a_sound_heat_is_told_in_five_lines(tmp_path: Path) -> None:
    """Still warm, the schedule not run to its end, nothing broken; without a mark it is to be registered."""
    lines = lines_of(read_course(write_record(tmp_path / "heat.jsonl", SOUND, schedule=OVEN)))
    pot, heat, broken, left, to_do = lines
    assert pot.startswith("Pot without a mark: ")
    assert "did not run its schedule to the end; up to 167 °C" in heat
    assert broken == "Nothing was broken."
    assert left.startswith("Left at ")
    assert left.partition(". ")[0].removesuffix(".").endswith(" 166 °C and still hot")
    assert to_do.endswith("(register it: rampwarden crucible add).")


def test_what_broke_is_told_without_what_it_does_to_a_pot(tmp_path: Path) -> None:
    """That is in the report; a scale of one's own holds for every line."""
    fast = ((0.0, 20.0), (600.0, 166.0), (3600.0, 166.0))
    course = read_course(write_record(tmp_path / "heat.jsonl", fast, schedule=OVEN))
    lines = lines_of(course)
    assert lines[2].startswith("Broken: ramp-high in up: climbed ")
    assert lines[2].count(". ") == 0
    assert "332 °F" in lines_of(course, fahrenheit=True)[1]
    assert not any("°C" in line for line in lines_of(course, fahrenheit=True))


@pytest.mark.parametrize("ends_c", [30.0, 200.0])
def test_only_what_is_hot_is_called_hot(tmp_path: Path, ends_c: float) -> None:
    course = read_course(write_record(tmp_path / "heat.jsonl", ((0.0, 20.0), (3000.0, ends_c)), schedule=OVEN))
    assert ("still hot" in lines_of(course)[3]) is (ends_c > 60.0)
