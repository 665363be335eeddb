"""The drawing of one heat: where the schedule leads each segment, and what it holds a soak in."""

from pathlib import Path

import numpy as np
import pytest
from matplotlib.collections import PolyCollection

from invented_heat import GOOD, write_record
from rampwarden.report.course import Course, read_course
from rampwarden.report.drawing import draw_heat
from rampwarden.report.strokes import BLUE, hours
from rampwarden.report.units import Scale


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Course:
    """A heat that was kept: up, a soak at 800 °C, down."""
    record: Path = tmp_path_factory.mktemp("heat") / "a.jsonl"
    return read_course(write_record(record, GOOD))


def test_a_soak_is_drawn_as_its_band_for_as_long_as_it_ran(course: Course) -> None:
    """785 to 815 °C, hatched, and no other segment has one."""
    temperature, *_ = draw_heat(course, Scale()).axes
    [soak] = [stretch for stretch in course.stretches if stretch.index == 1]
    [band] = [each for each in temperature.collections if each.get_hatch()]
    assert isinstance(band, PolyCollection)
    corners = np.concatenate([path.vertices for path in band.get_paths()])
    assert corners.min(axis=0) == pytest.approx([hours(soak.from_s), 785.0])
    assert corners.max(axis=0) == pytest.approx([hours(soak.to_s), 815.0])


def test_each_segment_with_a_limit_is_drawn_with_the_fastest_way_from_where_it_began(course: Course) -> None:
    """Dashed: one line up, one down, and none where the schedule holds."""
    temperature, *_ = draw_heat(course, Scale()).axes
    dashed = [line for line in temperature.lines if (line.get_linestyle(), line.get_color()) == ("--", BLUE)]
    began_h = [float(np.asarray(line.get_xdata())[0]) for line in dashed]
    assert began_h == pytest.approx([hours(stretch.from_s) for stretch in course.stretches if stretch.index != 1])


def test_the_clock_of_a_soak_has_room_for_the_whole_hold(course: Course) -> None:
    """Five minutes were asked for: the line of what was soaked meets that line within the axes."""
    soaked = next(axes for axes in draw_heat(course, Scale()).axes if axes.get_ylabel() == "soaked, min")
    lowest, highest = soaked.get_ylim()
    assert lowest == 0.0
    assert 5.0 < highest < 7.5
