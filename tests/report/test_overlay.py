"""Several heats over one another: each is moved so that all pass the chosen temperature at once."""

from itertools import pairwise

import pytest

from invented_heat import FAST, GOOD, write_record
from rampwarden.errors import ReportError
from rampwarden.report.course import Course, read_course
from rampwarden.report.overlay import draw_heats, passing_s
from rampwarden.report.units import Scale


@pytest.fixture(scope="module")
def courses(tmp_path_factory: pytest.TempPathFactory) -> list[Course]:
    """Two heats that pass 200 °C ten minutes or so from one another."""
    folder = tmp_path_factory.mktemp("heats")
    return [read_course(write_record(folder / f"{n}.jsonl", line)) for n, line in (("a", GOOD), ("b", FAST))]


def test_the_moment_a_heat_passes_a_temperature_is_found(courses: list[Course]) -> None:
    assert passing_s(courses[0], 200.0) == pytest.approx(4000.0 * 180.0 / 781.0, abs=8.0)
    assert passing_s(courses[1], 200.0) == pytest.approx(960.0, abs=8.0)


def test_every_line_passes_the_chosen_temperature_at_time_zero(courses: list[Course]) -> None:
    (axes,) = draw_heats(courses, Scale(), 200.0).axes
    lines = [line for line in axes.lines if len(line.get_xdata()) > 100]  # type: ignore[arg-type]
    assert len(lines) == 2
    for line in lines:
        points = list(zip(line.get_xdata(), line.get_ydata(), strict=True))  # type: ignore[arg-type]
        crossing = [after for before, after in pairwise(points) if before[1] < 200.0 <= after[1]]
        assert crossing[0][0] == pytest.approx(0.0, abs=10.0 / 3600.0)


def test_lines_differ_in_more_than_their_colour(courses: list[Course]) -> None:
    (axes,) = draw_heats(courses, Scale(), None).axes
    first, second = [line for line in axes.lines if len(line.get_xdata()) > 100]  # type: ignore[arg-type]
    assert first.get_linestyle() != second.get_linestyle()
    assert first.get_marker() != second.get_marker()


def test_a_heat_that_never_came_so_far_is_named(courses: list[Course]) -> None:
    with pytest.raises(ReportError, match=r"a\.jsonl: never came to 900 °C"):
        passing_s(courses[0], 900.0)
