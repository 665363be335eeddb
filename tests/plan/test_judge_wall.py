"""What the plan says of the wall: the maker's sheet first, and its own estimate labelled as one."""

import pytest

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.plan.bodies import CLASSES, CrucibleClass
from rampwarden.plan.judge_wall import judge_sheet, judge_wall
from rampwarden.plan.judgement import Verdict
from rampwarden.plan.sheet import parse_sheet_limit
from rampwarden.plan.timeline import Timeline, lay_out
from rampwarden.plan.wall import limit_heating_k_per_h
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


@pytest.mark.parametrize(
    ("crucible_class", "heating", "cooling"),
    [
        # Worked numbers at 20 mm with a factor of 4, from the lower of two diffusivities: 504 and 230 become these.
        (CrucibleClass.FIRECLAY, 502.0, 251.0),
        (CrucibleClass.ZIRCONIA, 202.0, 101.0),
        (CrucibleClass.CLAY_GRAPHITE, 10_136.0, 5_068.0),
    ],
)
def test_what_a_wall_stands_is_stated_with_its_factor_and_as_an_estimate(
    crucible_class: CrucibleClass, heating: float, cooling: float
) -> None:
    """Heating and cooling apart, each with the difference, the tension and what it rests on."""
    up, down = judge_wall(heat(), Pot(crucible_class, 20.0))
    assert (up.topic, down.topic) == ("wall, heating", "wall, cooling")
    assert (up.verdict, down.verdict) == (Verdict.FINE, Verdict.FINE)
    assert up.figures["stands_k_per_h"] == pytest.approx(heating, abs=1.0)
    assert down.figures["stands_k_per_h"] == pytest.approx(cooling, abs=1.0)
    for judgement in (up, down):
        assert judgement.figures["safety_factor"] == 4.0
        assert "with a factor of 4 kept: an estimate; the maker's sheet outranks it" in judgement.finding
        assert "without a source" in str(judgement.figures["basis"])


def test_the_dense_alumina_wall_binds_from_some_30_mm() -> None:
    """Worked out: about 600 heating and 300 cooling there."""
    body = CLASSES[CrucibleClass.DENSE_ALUMINA].body
    assert body is not None
    assert limit_heating_k_per_h(body, 0.030) == pytest.approx(600.0, rel=0.05)


def test_heating_is_told_with_its_difference_and_tension() -> None:
    """W1's wall at 12 mm and 300 K/h: 11.7 K and 0.32 MPa in the inner face."""
    up, _ = judge_wall(heat(300.0), Pot(CrucibleClass.FIRECLAY, 12.0))
    assert up.finding.startswith(
        "'up' asks up to 300 °C/h: 11.7 °C through 12 mm, 0.32 MPa of tension in the inner face of some 6. "
    )


@pytest.mark.parametrize(
    ("down_k_per_h", "verdict"),
    [(250.0, Verdict.FINE), (255.0, Verdict.LOOK_AGAIN), (990.0, Verdict.LOOK_AGAIN), (1020.0, Verdict.WILL_NOT_WORK)],
)
def test_a_ramp_over_the_estimate_is_to_be_looked_at_and_one_over_the_strength_will_not_work(
    down_k_per_h: float, verdict: Verdict
) -> None:
    """Fireclay of 20 mm stands 251 K/h cooling with its factor of 4, and 1004 without."""
    _, down = judge_wall(heat(down_k_per_h=down_k_per_h), Pot(CrucibleClass.FIRECLAY, 20.0))
    assert down.verdict is verdict
    assert bool(down.remedy) is (verdict is not Verdict.FINE)


@pytest.mark.parametrize(
    ("pot", "finding"),
    [
        (Pot(), "of what class the crucible is, is not known"),
        (Pot(CrucibleClass.OTHER, 20.0), "nothing is known of a wall of class other"),
        (Pot(CrucibleClass.FIRECLAY), "how thick its wall is, is not known"),
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
