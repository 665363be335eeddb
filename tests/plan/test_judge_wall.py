"""What the plan says of the wall: the maker's sheet first, and its own estimate labelled as one."""

import re

import pytest

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.plan.bodies import CrucibleClass
from rampwarden.plan.judge_wall import judge_sheet, judge_wall
from rampwarden.plan.judgement import Verdict
from rampwarden.plan.sheet import parse_sheet_limit
from rampwarden.plan.timeline import Timeline, lay_out
from rampwarden.plan.workshop import Pot


def heat(up_k_per_h: float | None = 100.0, down_k_per_h: float | None = 50.0, least: float | None = None) -> Timeline:
    """Lay out a heat to 900 °C and back."""
    up = () if up_k_per_h is None else (Rate(up_k_per_h / 4.0, 900.0),)
    down = () if down_k_per_h is None else (Rate(down_k_per_h, 3600.0),)
    slowest = None if least is None else Rate(least, 3600.0)
    segments = (
        Segment("up", SegmentKind.RAMP, to_c=900.0, max_rates=up, min_rate=slowest),
        Segment("hold", SegmentKind.SOAK, at_c=900.0, hold_s=1800.0, band_c=(-20.0, 20.0)),
        Segment("down", SegmentKind.COOL, to_c=100.0, max_rates=down),
    )
    return lay_out(Schedule("t", segments), 20.0)


def sheet(*limits: str, top_c: float | None = None) -> Pot:
    return Pot(CrucibleClass.FIRECLAY, 20.0, tuple(map(parse_sheet_limit, limits)), top_c)


def test_a_wall_is_judged_by_what_its_budget_allows_at_once() -> None:
    """Heating and cooling apart, kelvin first, the share of the strength second, and called an estimate."""
    up, down = judge_wall(heat(100.0, 100.0), Pot(CrucibleClass.FIRECLAY, 20.0))
    assert (up.topic, down.topic) == ("wall, heating", "wall, cooling")
    assert (up.verdict, down.verdict) == (Verdict.FINE, Verdict.LOOK_AGAIN)
    assert down.finding.startswith(
        "'down' allows 100 °C/h: climbed evenly, it puts 11 °C through 20 mm; climbed all at once, "
    )
    for judgement in (up, down):
        assert "An estimate, good to a factor of two; the maker's sheet outranks it" in judgement.finding
        assert "without a source" in str(judgement.figures["basis"])


def test_no_line_names_a_rate_that_the_schedules_of_the_class_contradict() -> None:
    """A graphite wall is reckoned to stand far more than any schedule allows: the line says why they are slower."""
    up, _ = judge_wall(heat(), Pot(CrucibleClass.CLAY_GRAPHITE, 20.0))
    assert up.verdict is Verdict.FINE
    assert re.findall(r"(\d+) °C/h", up.finding) == ["100"]
    assert "No leave to go faster: schedules are slower for what this does not see" in up.finding
    assert not any("k_per_h" in name for name in up.figures)


@pytest.mark.parametrize(
    ("limits", "verdict"),
    [
        ((Rate(120.0, 600.0),), Verdict.LOOK_AGAIN),  # 1.2 times at once: less than handbooks scatter
        ((Rate(120.0, 600.0), Rate(24.0, 120.0)), Verdict.FINE),  # the same pace, not to be spent at once
        ((Rate(1000.0, 600.0),), Verdict.WILL_NOT_WORK),  # even the even ramp is too much
    ],
)
def test_a_shorter_limit_beside_it_makes_a_budget_fine_that_could_be_spent_at_once(
    limits: tuple[Rate, ...], verdict: Verdict
) -> None:
    """Ceramic-bonded silicon carbide of 20 mm, cooling."""
    segments = (
        Segment("up", SegmentKind.RAMP, to_c=900.0),
        Segment("down", SegmentKind.COOL, to_c=100.0, max_rates=limits),
    )
    [down] = judge_wall(lay_out(Schedule("t", segments), 20.0), Pot(CrucibleClass.CERAMIC_BONDED_SIC, 20.0))
    assert down.verdict is verdict
    assert ("a shorter limit beside it in 'down'" in down.remedy) is (verdict is not Verdict.FINE)


def test_of_several_limits_the_slowest_says_how_even_the_gentlest_course_pulls() -> None:
    """A generous limit beside a strict one allows nothing more, in whichever order they stand."""
    strict, generous = Rate(100.0, 3600.0), Rate(200.0, 1800.0)
    pulls_k = []
    for limits in ((strict,), (generous, strict), (strict, generous)):
        segments = (
            Segment("up", SegmentKind.RAMP, to_c=900.0),
            Segment("down", SegmentKind.COOL, to_c=100.0, max_rates=limits),
        )
        [down] = judge_wall(lay_out(Schedule("t", segments), 20.0), Pot(CrucibleClass.FIRECLAY, 20.0))
        pulls_k.append(down.figures["even_pull_k"])
    assert pulls_k == [pulls_k[0]] * 3


@pytest.mark.parametrize(
    ("pot", "finding"),
    [
        (Pot(), "the crucible's class is not known"),
        (Pot(CrucibleClass.OTHER, 20.0), "nothing is known of a wall of class other"),
        (Pot(CrucibleClass.FIRECLAY), "the thickness of its wall is not known"),
    ],
)
def test_a_wall_nobody_knows_is_to_be_looked_at(pot: Pot, finding: str) -> None:
    """And nothing is made up for it."""
    [judgement] = judge_wall(heat(), pot)
    assert (judgement.verdict, judgement.finding) == (Verdict.LOOK_AGAIN, finding)
    assert judgement.remedy


def test_segments_without_a_limit_ask_nothing_of_the_wall() -> None:
    """There is nothing to hold against the estimate; the schedule's own line says what is missing."""
    assert judge_wall(heat(None, None), Pot(CrucibleClass.FIRECLAY, 20.0)) == []


def test_a_sheet_that_is_kept_is_fine() -> None:
    """A rate rounded in writing is still kept: 16.7 C in 10 min is meant to be 100 K/h."""
    pot = sheet("20-900 C: at most 99.5 C / h", "cooling 900-100 C: at most 50 C / h", top_c=920.0)
    [judgement] = judge_sheet(heat(), pot)
    assert judgement.verdict is Verdict.FINE


@pytest.mark.parametrize(
    ("limit", "timeline", "fault"),
    [
        (
            "20-200 C: at most 30 C / h",
            heat(),
            "'up' allows 100 °C/h, and the sheet says 20-200 C: at most 30 C / 1 h",
        ),
        (
            "20-200 C: at most 30 C / h",
            heat(None),
            "'up' has no max_rate, and the sheet says 20-200 C: at most 30 C / 1 h",
        ),
        (
            "cooling 900-100 C: at most 40 C / h",
            heat(),
            "'down' allows 50 °C/h, and the sheet says cooling 100-900 C: at most 40 C / 1 h",
        ),
        (
            "300-650 C: at least 90 C / h",
            heat(),
            "'up' has no min_rate, and the sheet wants 300-650 C: at least 90 C / 1 h",
        ),
        (
            "300-650 C: at least 90 C / h",
            heat(least=80.0),
            "'up' lets it go as slowly as 80 °C/h, and the sheet wants 300-650 C: at least 90 C / 1 h",
        ),
    ],
)
def test_a_schedule_that_allows_what_the_sheet_forbids_will_not_work(
    limit: str, timeline: Timeline, fault: str
) -> None:
    """The watch would stay silent at it. What the estimate says does not matter then."""
    [judgement] = judge_sheet(timeline, sheet(limit))
    assert (judgement.verdict, judgement.finding) == (Verdict.WILL_NOT_WORK, fault)
    assert "outranks" in judgement.remedy


@pytest.mark.parametrize(
    "limit",
    ["950-1200 C: at most 1 C / h", "cooling 60-100 C: at most 1 C / h", "cooling 900-100 C: at least 900 C / h"],
)
def test_a_limit_for_elsewhere_is_not_held_against_it(limit: str) -> None:
    """Above the heat, below its end; and nobody can be made to cool faster."""
    [judgement] = judge_sheet(heat(), sheet(limit))
    assert judgement.verdict is Verdict.FINE


def test_a_heat_above_the_sheets_top_will_not_work() -> None:
    """The soak's band counts: 920 °C is allowed, and the sheet ends at 910."""
    [judgement] = judge_sheet(heat(), sheet(top_c=910.0))
    assert judgement.verdict is Verdict.WILL_NOT_WORK
    assert judgement.finding == "it may go to 920 °C, and the sheet ends at 910"


def test_without_a_sheet_nothing_is_said_of_it() -> None:
    """Silence is not a sheet that is kept."""
    assert judge_sheet(heat(), Pot(CrucibleClass.FIRECLAY, 20.0)) == []


def dried_then(*after: Segment) -> Timeline:
    """Dry in an oven, carry, and go on."""
    segments = (
        Segment("oven", SegmentKind.RAMP, to_c=180.0, max_rates=(Rate(25.0, 900.0),)),
        Segment("dry soak", SegmentKind.SOAK, at_c=180.0, hold_s=1800.0, band_c=(-15.0, 15.0)),
        Segment("carry", SegmentKind.TRANSFER, within_s=1200.0, arrive_above_c=100.0),
        *after,
    )
    return lay_out(Schedule("t", segments), 20.0)


TO_RED_HEAT = Segment("to red heat", SegmentKind.RAMP, to_c=650.0, max_rates=(Rate(30.0, 120.0),))


def test_a_drying_limit_is_for_drying() -> None:
    """The pot cools to 100 °C while it is carried; what it passes again after its dry soak is no first time."""
    [judgement] = judge_sheet(dried_then(TO_RED_HEAT), sheet("20-200 C: at most 100 C / h"))
    assert judgement.verdict is Verdict.FINE
    assert judgement.finding == (
        "every segment keeps within it; 20-200 C: at most 100 C / 1 h is taken for the drying, and not held against "
        "'to red heat' after it"
    )


def test_a_limit_that_reaches_beyond_drying_holds_after_it() -> None:
    """Up to 650 °C it is no drying limit; one up to 150 that the pot has passed already says nothing of it."""
    [judgement] = judge_sheet(dried_then(TO_RED_HEAT), sheet("20-650 C: at most 100 C / h"))
    assert judgement.verdict is Verdict.WILL_NOT_WORK
    [judgement] = judge_sheet(dried_then(TO_RED_HEAT), sheet("20-150 C: at most 100 C / h"))
    assert judgement.finding == "every segment keeps within it"


def test_a_drying_limit_holds_where_nothing_was_dried() -> None:
    """Without a dry soak before it, 20 to 200 °C is passed wet."""
    segments = (TO_RED_HEAT,)
    [judgement] = judge_sheet(lay_out(Schedule("t", segments), 20.0), sheet("20-200 C: at most 100 C / h"))
    assert judgement.verdict is Verdict.WILL_NOT_WORK
