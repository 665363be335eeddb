"""One explanation at a time: what is told of made-up heats, when, and how it ends."""

import math

import pytest

from rampwarden.core.explanation import Cause, Context, Ended, Explanation
from rampwarden.core.explanation.slow_rules import Candidate, Glance
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import SegmentKind

from .heats import CLIMB, HOLD, Shape, ended, explained, readings, told


def climb(time_s: float) -> float:
    return 500.0 + 0.4 * time_s


def hold(_: float) -> float:
    return 1000.0


def lid(opened_s: float, shut_s: float, share: float = 0.1) -> Shape:
    """A lid takes a share of what the probe sees."""

    def course(time_s: float) -> float:
        return 1000.0 - (share * 980.0 if opened_s <= time_s < shut_s else 0.0)

    return course


def lost(
    out_s: float, relit_s: float = math.inf, before: float = 0.4, falls: float = -0.3, lag_s: float = 70.0
) -> Shape:
    """A climb from 600 °C whose heat is gone from one moment to another, the pot following its furnace."""

    def course(time_s: float) -> float:
        since_s = max(min(time_s, relit_s) - out_s, 0.0)
        back_s = max(time_s - relit_s, 0.0)
        bent = (falls - before) * (since_s - lag_s * (1.0 - math.exp(-since_s / lag_s)))
        slope = (falls - before) * (1.0 - math.exp(-since_s / lag_s))
        return 600.0 + before * time_s + bent + slope * lag_s * (1.0 - math.exp(-back_s / lag_s))

    return course


@pytest.mark.parametrize("context", [CLIMB, HOLD])
def test_of_a_sound_heat_nothing_is_said(context: Context) -> None:
    course = climb if context is CLIMB else hold
    for seed in range(4):
        assert explained(readings(course, 1100, seed=seed), context) == []


def test_a_lid_is_told_within_half_a_minute_and_is_over_when_it_is_shut() -> None:
    said = explained(readings(lid(700.0, 760.0), 1100), HOLD)
    assert [cause for _, cause in told(said)] == ["lid-or-probe"]
    assert 700.0 <= told(said)[0][0] <= 715.0
    assert [(cause, why) for _, cause, why in ended(said)] == [("lid-or-probe", Ended.OVER)]
    assert 760.0 <= ended(said)[0][0] <= 790.0


def test_heat_that_is_taken_back_and_turned_up_again_is_no_lid() -> None:
    """The reading comes back to the old course, but it never fell: what is heated more does so too."""

    def course(time_s: float) -> float:
        return 120.0 + 0.9 * min(time_s, 300.0) + 3.0 * max(time_s - 335.0, 0.0)

    for seed in range(6):
        heat = [one for one in readings(course, 380, lag_s=1.0, flicker_c=0.1, seed=seed) if not 297 < one[0] < 304]
        assert told(explained(heat, CLIMB)) == []


def test_heat_that_is_taken_back_in_a_gap_is_no_lid() -> None:
    """What lies behind the course after fifty seconds without a reading had fifty seconds for it."""
    heat = [one for one in readings(lambda t: 120.0 + 0.9 * min(t, 300.0), 420, lag_s=1.0) if not 300 < one[0] < 350]
    assert "lid-or-probe" not in [cause for _, cause in told(explained(heat, CLIMB))]


def test_a_statement_says_since_when_and_how_sure_it_is() -> None:
    explanation = Explanation()
    said = explained(readings(lid(700.0, 5000.0), 730), HOLD, explanation)
    statement = explanation.statement
    assert statement is not None
    assert statement is said[0][1].told
    assert statement.cause is Cause.LID_OR_PROBE
    assert abs(statement.since_s - 700.0) < 10.0
    assert statement.told_s <= 730.0
    assert 0.9 < statement.sure <= 0.99
    assert statement.figures.change_c is not None
    assert statement.figures.change_c < -20.0


def test_cold_metal_is_told_within_two_minutes() -> None:
    def course(time_s: float) -> float:
        since_s = time_s - 700.0
        if since_s < 0.0:
            return 1000.0
        return 1000.0 - 230.0 * (1.0 - math.exp(-since_s / 45.0)) - (90.0 if since_s < 20.0 else 0.0)

    said = explained(readings(course, 900), HOLD)
    assert [cause for _, cause in told(said)] == ["lid-or-probe", "charge"]
    assert told(said)[1][0] <= 820.0


def test_a_step_that_stands_is_the_probes() -> None:
    said = explained(readings(lid(700.0, 5000.0, share=0.06), 1000), HOLD)
    assert [cause for _, cause in told(said)] == ["lid-or-probe", "probe-moved"]


def test_a_probe_in_the_flame_is_told() -> None:
    said = explained(readings(lid(700.0, 900.0, share=-0.12), 800), HOLD)
    assert [cause for _, cause in told(said)] == ["in-flame"]


@pytest.mark.parametrize("flicker_c", [0.5, 0.0])
def test_a_flame_lost_in_a_climb_is_told_with_and_without_flicker(flicker_c: float) -> None:
    course = lost(600.0)
    lit = readings(course, 850, flicker=lambda time_s: float(time_s < 600.0), flicker_c=flicker_c)
    said = explained(lit, CLIMB)
    assert [cause for _, cause in told(said)] == ["flame-out"]
    assert 620.0 < told(said)[0][0] < 780.0


def test_a_flame_that_has_hardly_been_seen_burning_is_not_said_to_be_lost() -> None:
    lit = readings(lost(190.0), 268, flicker=lambda time_s: float(time_s < 190.0))
    assert told(explained(lit, CLIMB)) == []


def test_a_steady_fall_across_a_gap_is_no_lost_flame() -> None:
    falls = [one for one in readings(lambda t: 1030.0 - 0.05 * t, 700) if not 560.0 < one[0] < 599.0]
    assert "flame-out" not in [cause for _, cause in told(explained(falls, HOLD))]


def test_a_flame_that_is_back_ends_its_statement() -> None:
    lit = readings(lost(600.0, 760.0), 1000, flicker=lambda time_s: float(not 600.0 <= time_s < 760.0))
    said = explained(lit, CLIMB)
    assert told(said)[0][1] == "flame-out"
    assert ended(said)[0][1:] == ("flame-out", Ended.OVER)
    assert 760.0 < ended(said)[0][0] < 900.0


def test_a_climb_that_stands_still_at_a_metals_point_is_no_lost_flame() -> None:
    def course(time_s: float) -> float:
        return 460.0 + 0.4 * min(time_s, 500.0)

    plateau = readings(course, 720)
    assert "flame-out" not in [cause for _, cause in told(explained(plateau, CLIMB))]


def test_below_red_heat_nobody_asks_for_a_flame() -> None:
    oven = Context(SegmentKind.RAMP, target_c=180.0, limit=Rate(25.0, 900.0))

    def course(time_s: float) -> float:
        return 60.0 + 0.05 * min(time_s, 500.0) - 0.04 * max(time_s - 500.0, 0.0)

    assert "flame-out" not in [cause for _, cause in told(explained(readings(course, 900, flicker_c=0.0), oven))]


def test_interference_is_told_and_is_over_when_it_has_been_quiet() -> None:
    course = readings(hold, 1500)
    for second in range(600, 900):
        if second % 7 < 2:
            course[second] = (float(second), course[second][1] + (60.0 if second % 2 else -80.0))
    said = explained(course, HOLD)
    assert [cause for _, cause in told(said)] == ["interference"]
    assert told(said)[0][0] < 780.0
    assert [cause for _, cause, _ in ended(said)] == ["interference"]


def test_a_reading_that_stands_still_is_told_and_its_end_is_no_step() -> None:
    course = readings(climb, 1000)
    course = [(time_s, course[500][1] if 500 <= time_s < 700 else temp_c) for time_s, temp_c in course]
    said = explained(course, CLIMB)
    assert [cause for _, cause in told(said)] == ["stuck"]
    assert 515.0 < told(said)[0][0] <= 540.0
    assert 700.0 <= ended(said)[0][0] <= 715.0


ARRIVES = Context(SegmentKind.RAMP, target_c=1100.0, limit=Rate(150.0, 180.0), after_transfer=True)


def test_of_an_arrival_nothing_is_said_and_the_pot_is_vouched_for() -> None:
    explanation = Explanation()
    explanation.enter(Context(SegmentKind.TRANSFER), 0.0)

    def course(time_s: float) -> float:
        return 40.0 + 0.2 * time_s + 140.0 * (1.0 - math.exp(-max(time_s - 30.0, 0.0) / 25.0))

    assert explained(readings(course, 130), ARRIVES, explanation) == []
    assert explanation.withholds_ramp(131.0)


def test_a_probe_settled_in_its_place_after_an_arrival_is_no_step() -> None:
    settled = readings(lambda t: 300.0 + 0.2 * t + (80.0 if t > 200.0 else 0.0), 290)
    assert explained(settled, ARRIVES) == []
    assert told(explained(settled, CLIMB)) != [], "in a climb without a transfer it is one"


def test_what_a_mark_has_told_is_not_told_again() -> None:
    explanation = Explanation()
    explanation.enter(HOLD, 0.0)
    explanation.mark(699.0, "Lid open")
    assert told(explained(readings(lid(700.0, 760.0), 900), HOLD, explanation)) == []


def test_across_a_blind_time_no_course_is_drawn() -> None:
    explanation = Explanation()
    explained(readings(hold, 600), HOLD, explanation)
    explanation.resume(1200.0)
    later = [(time_s + 1200.0, temp_c - 200.0) for time_s, temp_c in readings(hold, 200)]
    assert explained(later, HOLD, explanation) == []


def test_after_a_short_time_nobody_watched_no_course_is_drawn_either() -> None:
    explanation = Explanation()
    explained(readings(hold, 600), HOLD, explanation)
    explanation.resume(610.0)
    later = [(time_s + 610.0, temp_c - 200.0) for time_s, temp_c in readings(hold, 100)]
    assert explained(later, HOLD, explanation) == []


class StandsStill:
    """A slow rule that always sees a plateau, from 430 s on."""

    def feed(self, glance: Glance) -> Candidate | None:
        return Candidate(Cause.PLATEAU, 300.0, 5.0) if glance.slot.time_s > 430.0 else None

    def restart(self) -> None:
        pass


def test_what_stands_still_without_a_flame_is_no_plateau(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("rampwarden.core.explanation.explanation.half_minute_rules", lambda _: (StandsStill(),))
    lit = explained(readings(lambda _: 900.0, 500), CLIMB)
    assert [cause for _, cause in told(lit)] == ["plateau"]
    unlit = explained(readings(lambda _: 900.0, 500, flicker=lambda time_s: float(time_s < 340.0)), CLIMB)
    assert told(unlit) == []


def test_at_most_one_statement_stands() -> None:
    explanation = Explanation()
    standing = None
    both = lid(700.0, 5000.0)
    course = readings(both, 1000)
    for second in range(800, 1000, 3):
        course[second] = (float(second), course[second][1] + 90.0)
    for _, saying in explained(course, HOLD, explanation):
        if saying.told is not None:
            assert (saying.withdrawn is not None) == (standing is not None)
        standing = saying.told
    assert explanation.statement is standing
