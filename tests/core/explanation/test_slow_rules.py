"""The slow rules, one by one: what each tells, when, what it leaves alone, and how it ends."""

import math

import pytest
from msgspec.structs import replace

from rampwarden.core.explanation import Cause, Context
from rampwarden.core.explanation.slow import LOOKS_BACK, HalfMinutes, half_minute_rules
from rampwarden.core.explanation.slow.cycling import BurnerRule, ThermostatRule
from rampwarden.core.explanation.slow.fading import FadingRule
from rampwarden.core.explanation.slow.heat_direction import HeatOffRule, LeftOnRule
from rampwarden.core.explanation.slow.plateau import PlateauRule
from rampwarden.core.explanation.slow.sagging import SagRule
from rampwarden.core.explanation.slow_rules import LEAST_LOG_ODDS
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import SegmentKind

from .slow_courses import COOL, OVEN, RAMP, SOAK, climb_with, corners, fed, glances, heard, heard_of_burner

RULES = (ThermostatRule, PlateauRule, HeatOffRule, LeftOnRule, FadingRule, SagRule)
NEAR = Context(SegmentKind.RAMP, target_c=750.0)


def dying(time_s: float) -> float:
    return 1.0 if time_s < 700.0 else max(0.1, math.exp(-(time_s - 700.0) / 180.0))


def turned(time_s: float) -> float:
    return 1.0 if time_s < 700.0 else 0.2


# Fading


def test_a_climb_that_dies_away_is_told_as_gas_or_turned_down_within_ten_minutes() -> None:
    said = heard(FadingRule, climb_with(dying), 1500.0, RAMP)
    time_s, candidate = said[0]
    assert 1000.0 < time_s < 1300.0
    assert candidate is not None
    assert candidate.cause is Cause.FADING
    assert candidate.log_odds >= LEAST_LOG_ODDS
    assert 650.0 < candidate.since_s < 850.0
    assert candidate.figures.before_c_per_s == pytest.approx(0.5, abs=0.03)
    assert len(said) == 1


def test_one_turn_of_a_hand_is_left_alone() -> None:
    assert heard(FadingRule, climb_with(turned), 1500.0, RAMP) == []


def test_a_climb_that_closes_in_on_its_target_is_left_alone() -> None:
    assert heard(FadingRule, climb_with(dying), 1500.0, NEAR) == []


def test_fading_is_over_when_the_climb_goes_on() -> None:
    said = heard(FadingRule, climb_with(lambda time_s: 1.0 if time_s > 1400.0 else dying(time_s)), 1700.0, RAMP)
    assert [candidate is None for _, candidate in said] == [False, True]
    assert 1400.0 < said[1][0] < 1650.0


@pytest.mark.parametrize("why", [{"undisturbed_s": 100.0}, {"marked_s": 100.0}])
def test_what_a_step_or_a_mark_explains_is_no_fading(why: dict[str, float]) -> None:
    assert heard(FadingRule, climb_with(dying), 1500.0, RAMP, **why) == []


def test_a_soak_does_not_fade_and_a_restart_forgets() -> None:
    assert heard(FadingRule, climb_with(dying), 1500.0, SOAK) == []
    half_minutes = HalfMinutes(LOOKS_BACK)
    rule = FadingRule(half_minutes)
    for glance, said in fed((rule,), half_minutes, glances(climb_with(dying), 1500.0, RAMP)):
        if 1000.0 < glance.slot.time_s < 1006.0:
            half_minutes.restart()
            rule.restart()
        assert said == [None]


# Sag


def sagging(time_s: float) -> float:
    since_s = max(time_s - 1200.0, 0.0)
    return 1000.0 - 3.0e-5 * since_s * since_s


def test_a_soak_that_sags_is_told_before_it_leaves_its_band() -> None:
    said = heard(SagRule, sagging, 2200.0, SOAK)
    time_s, candidate = said[0]
    assert candidate is not None
    assert candidate.cause is Cause.SAG
    assert sagging(time_s) > 980.0
    assert candidate.figures.change_c == pytest.approx(sagging(time_s) - 1000.0, abs=2.0)
    assert 1050.0 < candidate.since_s < 1400.0


def test_a_sag_that_is_mended_is_over() -> None:
    course = corners((0.0, 1000.0), (1200.0, 1000.0), (1800.0, 975.0), (2400.0, 1000.0))
    said = heard(SagRule, course, 2400.0, SOAK)
    assert [candidate is None for _, candidate in said] == [False, True]
    assert 1800.0 < said[1][0] < 2000.0


def test_a_soak_that_swings_by_a_hand_is_left_alone() -> None:
    assert heard(SagRule, lambda time_s: 1000.0 + 7.0 * math.sin(time_s / 80.0), 3000.0, SOAK) == []


def test_the_first_minutes_of_a_soak_its_far_outside_and_an_oven_have_no_sag() -> None:
    assert heard(SagRule, corners((0.0, 1000.0), (460.0, 975.0), (500.0, 975.0)), 700.0, SOAK) == []
    assert heard(SagRule, corners((0.0, 960.0), (2000.0, 900.0)), 2000.0, SOAK) == []
    assert heard(SagRule, lambda time_s: sagging(time_s) - 820.0, 2000.0, OVEN) == []


def test_without_flicker_or_after_an_event_a_fall_is_no_sag() -> None:
    assert heard(SagRule, sagging, 1900.0, SOAK, flicker=0.02) == []
    assert heard(SagRule, sagging, 1900.0, SOAK, undisturbed_s=60.0) == []
    assert heard(SagRule, sagging, 1900.0, RAMP) == []


# Heat off, heat left on


def tripped(time_s: float) -> float:
    return 180.0 if time_s < 900.0 else 20.0 + 160.0 * math.exp(-(time_s - 900.0) / 3500.0)


def test_an_oven_that_trips_is_told_within_eight_minutes() -> None:
    time_s, candidate = heard(HeatOffRule, tripped, 1600.0, OVEN, noise_c=0.05)[0]
    assert time_s < 900.0 + 480.0
    assert candidate is not None
    assert candidate.cause is Cause.HEAT_OFF
    assert candidate.figures.change_c == pytest.approx(tripped(time_s) - 180.0, abs=1.0)


def test_a_fall_no_deeper_than_the_thermostat_s_is_its_own() -> None:
    swings = lambda time_s: 180.0 + 6.0 * math.sin(2.0 * math.pi * time_s / 700.0)  # noqa: E731
    said = heard(HeatOffRule, swings, 5000.0, OVEN, noise_c=0.05)
    # The first fall is said as the pair, and is over when it comes back; the next ones are known.
    assert len(said) <= 2
    assert said[-1][1] is None


def test_heat_off_is_over_when_the_oven_warms_again() -> None:
    course = corners((0.0, 180.0), (600.0, 180.0), (1200.0, 170.0), (1500.0, 180.0))
    said = heard(HeatOffRule, course, 1600.0, OVEN, noise_c=0.05)
    assert [candidate is None for _, candidate in said] == [False, True]
    assert 1200.0 < said[1][0] < 1500.0


def test_a_fall_from_the_first_minute_is_left_alone() -> None:
    assert heard(HeatOffRule, lambda time_s: tripped(time_s + 880.0), 900.0, OVEN, noise_c=0.05) == []


def test_a_furnace_s_fall_is_not_an_oven_s() -> None:
    assert heard(HeatOffRule, tripped, 1600.0, SOAK) == []


def test_heat_left_on_is_told_within_twenty_minutes_and_is_over_when_it_is_turned_off() -> None:
    course = corners((0.0, 1000.0), (1500.0, 1005.0), (2400.0, 800.0))
    said = heard(LeftOnRule, course, 2400.0, COOL)
    time_s, candidate = said[0]
    assert time_s < 600.0
    assert candidate is not None
    assert candidate.cause is Cause.LEFT_ON
    assert candidate.since_s == pytest.approx(0.0, abs=6.0)
    assert 1500.0 < said[1][0] < 1800.0


def test_a_shut_furnace_cools_and_nothing_is_said() -> None:
    assert heard(LeftOnRule, lambda time_s: 20.0 + 980.0 * math.exp(-time_s / 6000.0), 3000.0, COOL) == []
    assert heard(LeftOnRule, lambda time_s: 300.0, 3000.0, COOL) == []


def test_a_slow_fall_with_a_flame_s_flicker_is_heat_left_on_too() -> None:
    course = corners((0.0, 1000.0), (2000.0, 930.0))
    assert heard(LeftOnRule, course, 1500.0, COOL) == []
    assert heard(LeftOnRule, course, 1500.0, COOL, flicker=0.8)[0][1] is not None


def test_a_schedule_that_lets_a_furnace_cool_only_slowly_keeps_the_fire_in() -> None:
    held_back = replace(COOL, limit=Rate(50.0, 3600.0))
    kept_to = corners((0.0, 1300.0), (36000.0, 850.0))
    assert heard(LeftOnRule, kept_to, 36000.0, held_back, noise_c=0.5) == []
    assert heard(LeftOnRule, kept_to, 1500.0, COOL)[0][1] is not None
    stays = heard(LeftOnRule, lambda _: 1300.0, 1800.0, held_back, noise_c=0.5)
    assert stays[0][0] < 1200.0


# Plateau


@pytest.mark.parametrize(
    ("metal", "level_c", "c_per_min"), [("zinc", 425.0, 12.0), ("aluminium", 690.0, 25.0), ("copper", 1085.0, 10.0)]
)
def test_a_plateau_at_a_metal_s_point_is_told_and_named_while_it_lasts(
    metal: str, level_c: float, c_per_min: float
) -> None:
    course = corners(
        (0.0, level_c - 10.0 * c_per_min), (600.0, level_c), (900.0, level_c + 1.0), (1200.0, level_c + 5.0 * c_per_min)
    )
    said = heard(PlateauRule, course, 1200.0, RAMP)
    time_s, candidate = said[0]
    assert time_s < 810.0
    assert candidate is not None
    assert candidate.figures.metal == metal
    assert candidate.figures.temp_c == pytest.approx(level_c, abs=2.0)
    assert [one is None for _, one in said] == [False, True]


def test_a_level_far_from_any_point_or_just_below_the_target_is_no_plateau() -> None:
    assert heard(PlateauRule, corners((0.0, 400.0), (600.0, 550.0), (900.0, 551.0)), 900.0, RAMP) == []
    near = Context(SegmentKind.RAMP, target_c=440.0)
    assert heard(PlateauRule, corners((0.0, 270.0), (600.0, 420.0), (900.0, 421.0)), 900.0, near) == []


def test_saws_of_a_hundred_degrees_a_minute_have_no_plateau() -> None:
    for period_s in (60.0, 120.0, 240.0, 480.0):

        def saw(time_s: float, period_s: float = period_s) -> float:
            part = (time_s % period_s) / period_s
            return 660.0 + 100.0 / 60.0 * period_s * (0.5 - abs(part - 0.5))

        assert heard(PlateauRule, saw, 2400.0, RAMP) == []


def test_what_slows_over_minutes_or_turns_back_is_no_plateau() -> None:
    assert heard(PlateauRule, climb_with(dying, start_c=10.0), 1800.0, RAMP) == []
    assert heard(PlateauRule, corners((0.0, 300.0), (600.0, 420.0), (900.0, 405.0)), 900.0, RAMP) == []


def test_a_metal_that_freezes_is_told_in_a_cooling() -> None:
    course = corners((0.0, 880.0), (1100.0, 660.0), (1400.0, 659.0), (1800.0, 580.0))
    said = heard(PlateauRule, course, 1800.0, COOL)
    assert said[0][1] is not None
    assert said[0][1].figures.metal == "aluminium"
    assert said[1][1] is None


def test_a_plateau_that_falls_after_all_is_withdrawn_as_wrong() -> None:
    half_minutes = HalfMinutes(LOOKS_BACK)
    rules = (PlateauRule(half_minutes),)
    course = corners((0.0, 300.0), (600.0, 420.0), (780.0, 420.5), (900.0, 400.0), (1000.0, 380.0))
    said = [one for _, (one,) in fed(rules, half_minutes, glances(course, 1000.0, RAMP))]
    odds = [one.log_odds for one in said if one is not None]
    assert odds[0] >= LEAST_LOG_ODDS
    assert odds[-1] < 0.0


# Cycling


def test_a_thermostat_is_told_after_two_cycles_and_is_over_when_it_holds() -> None:
    def course(time_s: float) -> float:
        return 180.0 + (5.0 * math.sin(2.0 * math.pi * time_s / 600.0) if time_s < 3000.0 else 0.0)

    said = heard(ThermostatRule, course, 5000.0, OVEN, noise_c=0.05)
    time_s, candidate = said[0]
    assert 1200.0 < time_s < 1700.0
    assert candidate is not None
    assert candidate.figures.period_s == pytest.approx(600.0, abs=60.0)
    assert candidate.figures.change_c == pytest.approx(10.0, abs=1.5)
    assert [one is None for _, one in said] == [False, True]


def test_a_quiet_oven_and_unequal_swings_are_no_thermostat() -> None:
    assert heard(ThermostatRule, lambda time_s: 180.0 + 0.3 * math.sin(time_s / 90.0), 4000.0, OVEN) == []
    course = corners((0.0, 180.0), (600.0, 190.0), (700.0, 175.0), (2000.0, 200.0), (2050.0, 190.0), (2600.0, 199.0))
    assert heard(ThermostatRule, course, 2600.0, OVEN) == []
    assert heard(ThermostatRule, lambda time_s: 1000.0 + 5.0 * math.sin(time_s / 90.0), 3000.0, SOAK) == []


@pytest.mark.parametrize("period_s", [80.0, 150.0, 280.0])
def test_a_burner_that_switches_is_told_in_a_climb(period_s: float) -> None:
    course = climb_with(lambda time_s: 2.0 if time_s % period_s < 0.5 * period_s else 0.0, 15.0, 60.0)
    said = heard_of_burner(course, 1300.0, RAMP, noise_c=0.2)
    time_s, candidate = said[0]
    assert time_s < 1000.0
    assert candidate is not None
    assert candidate.cause is Cause.CYCLING
    assert candidate.figures.period_s == pytest.approx(period_s, rel=0.1)
    assert len(said) == 1


def test_a_burner_that_burns_on_cycles_no_more() -> None:
    def switched(time_s: float) -> float:
        return 1.0 if time_s > 1000.0 else 2.0 * (time_s % 150.0 < 75.0)

    said = heard_of_burner(climb_with(switched, 15.0, 60.0), 3000.0, RAMP, noise_c=0.2)
    assert [one is None for _, one in said] == [False, True]


def test_a_burner_that_cycles_on_in_the_soak_is_not_over() -> None:
    course = climb_with(lambda time_s: 2.0 * (time_s % 150.0 < 75.0), 15.0, 60.0)
    rule, said = BurnerRule(), []
    for glance in glances(course, 2000.0, RAMP, noise_c=0.2):
        in_soak = replace(glance, context=SOAK, entered_s=glance.slot.time_s - 1200.0)
        said.append(rule.feed(glance if glance.slot.time_s < 1200.0 else in_soak))
    assert said[-1] is not None
    assert said[-1].figures.count > 8


def test_noise_a_bend_and_a_soak_are_no_burner() -> None:
    for seed in range(3):
        assert heard_of_burner(climb_with(lambda _: 1.0), 2500.0, RAMP, noise_c=1.0, seed=seed) == []
    assert heard_of_burner(climb_with(dying), 2500.0, RAMP, noise_c=0.2) == []
    assert heard_of_burner(lambda time_s: 1000.0 + 5.0 * math.sin(time_s / 24.0), 1500.0, SOAK) == []


def test_gaps_neither_break_a_rhythm_nor_make_one() -> None:
    course = climb_with(lambda time_s: 2.0 * (time_s % 150.0 < 75.0), 15.0, 60.0)
    short, long = [(400.0, 415.0), (700.0, 720.0)], [(1000.0, 1050.0)]
    assert heard_of_burner(course, 1000.0, RAMP, noise_c=0.2, gaps=short)
    assert heard_of_burner(course, 1200.0, RAMP, noise_c=0.2, gaps=long)[0][0] < 1000.0
    assert heard_of_burner(climb_with(lambda _: 1.0), 2500.0, RAMP, gaps=long) == []


# All of them


def test_of_a_sound_heat_no_rule_says_anything() -> None:
    climb, soak = climb_with(lambda _: 1.0), corners((0.0, 985.0), (400.0, 1003.0), (700.0, 999.0), (3000.0, 1000.0))
    oven = corners((0.0, 170.0), (600.0, 180.0), (3000.0, 180.0))
    for course, lasts_s, context in ((climb, 1600.0, RAMP), (soak, 3000.0, SOAK), (oven, 3000.0, OVEN)):
        for rule in RULES:
            assert heard(rule, course, lasts_s, context, noise_c=0.3) == []
        assert heard_of_burner(course, lasts_s, context, noise_c=0.3) == []


def test_outside_every_segment_no_rule_says_anything() -> None:
    for rule in RULES:
        assert heard(rule, tripped, 2000.0, None) == []
    assert heard_of_burner(tripped, 2000.0, None) == []


def test_these_are_all_the_rules_of_half_minutes() -> None:
    assert tuple(map(type, half_minute_rules(HalfMinutes(LOOKS_BACK)))) == RULES


def test_a_burner_rule_that_rests_would_not_have_changed() -> None:
    course = climb_with(lambda time_s: 2.0 * (time_s % 150.0 < 75.0) if time_s < 1000.0 else 1.0, 15.0, 60.0)
    rule, spared = BurnerRule(), BurnerRule()
    said, fed_for = None, 0
    for glance in glances(course, 2500.0, RAMP, noise_c=0.2):
        over = replace(glance, context=SOAK) if 1900.0 < glance.slot.time_s < 2200.0 else glance
        if not spared.rests(over.context, over.slot.time_s):
            said, fed_for = spared.feed(over), fed_for + 1
        assert rule.feed(over) == said
    assert 30 < fed_for < 60


def test_a_restart_ends_what_is_said() -> None:
    half_minutes = HalfMinutes(LOOKS_BACK)
    rules = half_minute_rules(half_minutes)
    courses = ((tripped, 1600.0, OVEN), (sagging, 1900.0, SOAK), (lambda _: 1000.0, 900.0, COOL))
    for course, lasts_s, context in courses:
        *_, (_, last) = fed(rules, half_minutes, glances(course, lasts_s, context, noise_c=0.05))
        assert any(last)
        half_minutes.restart()
        for rule in rules:
            rule.restart()
        for _, said in fed(rules, half_minutes, glances(course, 70.0, context)):
            assert not any(said)
