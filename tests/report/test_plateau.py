"""Melting plateaus: found over their whole length, worded as a check, and never a correction."""

from pathlib import Path

import pytest

from invented_heat import write_record
from rampwarden.core.explanation import Cause, Figures, Statement
from rampwarden.core.model import FREEZING_POINTS_C
from rampwarden.core.watching.statement_words import told_words
from rampwarden.report.course import read_course
from rampwarden.report.plateau import _OBSERVED, melting_points, sentence
from rampwarden.report.units import Scale

MELT = ((0.0, 20.0), (3220.0, 664.3), (4120.0, 664.3), (4800.0, 801.0), (5300.0, 801.0), (6100.0, 698.0))
"""15 minutes at 664.3 °C, 4 °C above the freezing point of aluminium."""


@pytest.fixture(scope="module")
def melt(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record with a charge of aluminium that melts."""
    return write_record(tmp_path_factory.mktemp("melt") / "a.jsonl", MELT)


def test_a_plateau_is_measured_from_end_to_end(melt: Path) -> None:
    (found,) = melting_points(read_course(melt))
    assert (found.metal, found.verb, found.point_c) == ("aluminium", "melts", 660.323)
    assert found.offset_c == pytest.approx(4.0, abs=0.3)
    assert found.from_s == pytest.approx(3220.0, abs=90.0)
    assert found.to_s == pytest.approx(4120.0, abs=90.0)


def test_it_is_stated_as_an_offset_and_corrects_nothing(melt: Path) -> None:
    course = read_course(melt)
    (found,) = melting_points(course)
    text = sentence(found, 8.0, Scale())
    assert "+4." in text
    assert "within the ± 8.0 °C" in text
    assert "nothing has been corrected" in text
    assert max(each.high_c for each in course.samples) == pytest.approx(801.0, abs=1.5), "the record's own temperatures"


def test_an_offset_beyond_the_uncertainty_asks_for_a_fresh_thermocouple(melt: Path) -> None:
    (found,) = melting_points(read_course(melt))
    assert "more than the ± 3.0 °C" in sentence(found, 3.0, Scale())
    assert "fresh thermocouple" in sentence(found, 3.0, Scale())


def test_a_heat_without_a_plateau_has_none(tmp_path: Path) -> None:
    straight = ((0.0, 20.0), (3900.0, 801.0), (4400.0, 801.0), (5200.0, 698.0))
    assert list(melting_points(read_course(write_record(tmp_path / "a.jsonl", straight)))) == []


@pytest.mark.parametrize("metal", FREEZING_POINTS_C)
@pytest.mark.parametrize("falling", [False, True])
@pytest.mark.parametrize("sure", [0.5, 0.9, 0.97, 0.99])
def test_what_the_watch_says_of_a_plateau_is_understood(metal: str, falling: bool, sure: float) -> None:
    """The report recognises the watch's own words: who changes them meets this test."""
    figures = Figures(temp_c=663.0, before_c_per_s=-0.2 if falling else 0.2, lasted_s=300.0, metal=metal)
    match = _OBSERVED.match(told_words(Statement(Cause.PLATEAU, 1000.0, 1300.0, sure, figures)))
    assert match is not None
    assert match.groups() == (metal, "freezes" if falling else "melts")


def test_what_the_first_version_said_of_one_is_understood_too() -> None:
    """Its records are read as ever."""
    match = _OBSERVED.match("possibly copper melts: 1086 °C for 5 min; pure copper melts at 1084.6, 1 °C below this")
    assert match is not None
    assert match.groups() == ("copper", "melts")
