"""The ledger: what readings come to, how doubt reaches back, what a gap leaves."""

from collections.abc import Callable

import pytest

from rampwarden.core.pot import (
    Belief,
    Breach,
    BreachKind,
    ClaimDoubt,
    ClaimName,
    ClaimShown,
    Limit,
    Place,
    PotFacts,
    PotLedger,
    SegmentFacts,
    SegmentSort,
    SoakFacts,
    account_of,
)

_SLOW = Limit(25.0, 900.0)
_OVEN = SegmentFacts(1, "dry soak", SegmentSort.SOAK, in_furnace=False, at_c=180.0, hold_s=1800.0, limits=(_SLOW,))
_WORKING = SegmentFacts(2, "working", SegmentSort.SOAK, at_c=1150.0, hold_s=1800.0, ceiling_c=1220.0)
_COOL = SegmentFacts(3, "cooling", SegmentSort.COOL, limits=(Limit(120.0, 600.0),))


def _ledger(*, top_c: float | None = None) -> PotLedger:
    facts = PotFacts(place=Place.POT, top_c=top_c)
    return PotLedger((_OVEN, _WORKING, _COOL), facts, longest_credited_s=15.0)


def _run(ledger: PotLedger, from_s: int, to_s: int, temp_c: Callable[[float], float]) -> None:
    for time_s in range(from_s, to_s + 1):
        ledger.feed(float(time_s), temp_c(time_s))


def test_three_sparks_fire_no_pot_and_minutes_above_red_heat_do() -> None:
    ledger = _ledger()
    ledger.enter(2, 0.0)
    _run(ledger, 0, 3600, lambda time_s: 703.0 if time_s % 1000 in (5, 6, 7) else 180.0)
    fired = account_of(ledger.evidence()).claim(ClaimName.FIRED)
    assert (fired.shown, fired.evidence) == (ClaimShown.NOT_SHOWN, None)
    _run(ledger, 3601, 3601 + 320, lambda _: 703.0)
    assert account_of(ledger.evidence()).claim(ClaimName.FIRED).shown is ClaimShown.SHOWN


def test_red_heat_in_a_drying_oven_is_no_firing() -> None:
    ledger = _ledger()
    _run(ledger, 0, 900, lambda _: 700.0)
    assert account_of(ledger.evidence()).claim(ClaimName.FIRED).shown is ClaimShown.NOT_SHOWN


def test_half_an_hour_at_180_dries_by_the_clock_and_stays_in_doubt_until_weighed() -> None:
    ledger = _ledger()
    _run(ledger, 0, 1810, lambda time_s: 180.0 + 0.1 * (time_s % 2))
    dried = account_of(ledger.evidence()).claim(ClaimName.DRIED)
    assert (dried.shown, dried.doubts) == (ClaimShown.IN_DOUBT, (ClaimDoubt.NOT_WEIGHED,))


def test_hours_at_105_degrees_dry_nothing() -> None:
    ledger = _ledger()
    _run(ledger, 0, 4 * 3600, lambda _: 105.0)
    assert account_of(ledger.evidence()).claim(ClaimName.DRIED).shown is ClaimShown.NOT_SHOWN


def test_a_reading_that_is_found_frozen_takes_its_drying_back_to_where_the_stillness_began() -> None:
    ledger = _ledger()
    _run(ledger, 0, 900, lambda time_s: 180.0 + 0.1 * (time_s % 2))
    _run(ledger, 901, 3000, lambda _: 180.0)
    assert account_of(ledger.evidence()).claim(ClaimName.DRIED).shown is ClaimShown.IN_DOUBT
    ledger.doubt(900.0)
    account = account_of(ledger.evidence())
    dried = account.claim(ClaimName.DRIED)
    assert dried.shown is ClaimShown.NOT_SHOWN
    assert dried.evidence is not None
    assert dried.evidence.measure == pytest.approx(0.5, abs=0.04)
    assert account.claim(ClaimName.UNWATCHED).shown is ClaimShown.SHOWN


def test_a_stillness_counts_again_once_it_is_confirmed_and_never_what_was_doubted() -> None:
    ledger = _ledger()
    _run(ledger, 0, 2000, lambda _: 180.0)
    ledger.stand_still(0.0)
    assert ClaimDoubt.UNCONFIRMED in account_of(ledger.evidence()).claim(ClaimName.DRIED).doubts
    ledger.confirm(0.0)
    assert account_of(ledger.evidence()).claim(ClaimName.DRIED).doubts == (ClaimDoubt.NOT_WEIGHED,)
    ledger.doubt(0.0)
    ledger.believe()
    ledger.confirm(0.0)
    assert account_of(ledger.evidence()).claim(ClaimName.DRIED).shown is ClaimShown.NOT_SHOWN


def test_a_climb_across_a_crash_is_proven_by_the_levels_around_it() -> None:
    ledger = _ledger()
    _run(ledger, 0, 600, lambda _: 100.0)
    _run(ledger, 1200, 1800, lambda _: 160.0)
    climbed = account_of(ledger.evidence()).claim(ClaimName.CLIMBED_WHILE_WET)
    assert climbed.shown is ClaimShown.SHOWN
    assert climbed.evidence is not None
    assert (climbed.evidence.low_c, climbed.evidence.high_c, climbed.evidence.measure) == (100.0, 160.0, 60.0)


def test_a_gap_with_the_same_level_before_and_after_is_unwatched_and_not_forgiven() -> None:
    ledger = _ledger()
    _run(ledger, 0, 600, lambda _: 150.0)
    _run(ledger, 1800, 2400, lambda _: 150.0)
    account = account_of(ledger.evidence())
    climbed = account.claim(ClaimName.CLIMBED_WHILE_WET)
    assert (climbed.shown, climbed.doubts) == (ClaimShown.IN_DOUBT, (ClaimDoubt.UNSEEN,))
    assert account.claim(ClaimName.UNWATCHED).shown is ClaimShown.SHOWN


def test_a_claim_that_only_gaps_leave_in_doubt_names_the_levels_around_them_and_how_good_the_highest_is() -> None:
    ledger = _ledger()
    _run(ledger, 0, 600, lambda _: 200.0)
    _run(ledger, 1800, 2400, lambda _: 190.0)
    climbed = account_of(ledger.evidence(), lambda temp_c: temp_c / 100.0).claim(ClaimName.CLIMBED_WHILE_WET)
    assert (climbed.shown, climbed.doubts) == (ClaimShown.IN_DOUBT, (ClaimDoubt.UNSEEN,))
    assert climbed.evidence is not None
    assert (climbed.evidence.low_c, climbed.evidence.high_c, climbed.evidence.expanded_c) == (190.0, 200.0, 2.0)


def test_half_a_minute_without_readings_hides_nothing() -> None:
    ledger = _ledger()
    _run(ledger, 0, 600, lambda time_s: 30.0 + 0.01 * time_s)
    _run(ledger, 630, 2400, lambda time_s: 30.0 + 0.01 * time_s)
    account = account_of(ledger.evidence())
    assert account.claim(ClaimName.CLIMBED_WHILE_WET).shown is ClaimShown.NOT_SHOWN
    assert account.claim(ClaimName.UNWATCHED).shown is ClaimShown.NOT_SHOWN


def test_overheating_shows_by_a_broken_ceiling_and_by_the_makers_top() -> None:
    ledger = _ledger(top_c=1250.0)
    ledger.enter(2, 0.0)
    _run(ledger, 0, 600, lambda _: 1284.0)
    assert account_of(ledger.evidence()).claim(ClaimName.OVERHEATED).shown is ClaimShown.SHOWN
    ledger = _ledger()
    ledger.enter(2, 0.0)
    _run(ledger, 0, 600, lambda _: 1230.0)
    for time_s in (100.0, 101.0, 102.0):
        ledger.breach(Breach(BreachKind.OVERHEATED, 2, 100.0, time_s, 1221.0, 1230.0, 1230.0, 1220.0))
    evidence = ledger.evidence()
    assert len(evidence.breaches) == 1
    assert account_of(evidence).claim(ClaimName.OVERHEATED).shown is ClaimShown.SHOWN


def test_a_breach_by_a_sensor_in_doubt_is_in_doubt_and_not_forgotten() -> None:
    ledger = _ledger()
    ledger.enter(2, 0.0)
    _run(ledger, 0, 600, lambda _: 1230.0)
    ledger.breach(Breach(BreachKind.OVERHEATED, 2, 100.0, 600.0, 1221.0, 1230.0, 1230.0, 1220.0))
    ledger.doubt(50.0)
    overheated = account_of(ledger.evidence()).claim(ClaimName.OVERHEATED)
    assert (overheated.shown, overheated.doubts) == (ClaimShown.IN_DOUBT, (ClaimDoubt.SENSOR,))


def test_a_record_closed_over_a_hot_pot_says_that_its_cooling_was_not_seen() -> None:
    ledger = _ledger()
    ledger.enter(2, 0.0)
    _run(ledger, 0, 600, lambda _: 1150.0)
    ledger.close(602.0)
    account = account_of(ledger.evidence())
    assert account.claim(ClaimName.COOLING_SEEN).doubts == (ClaimDoubt.CLOSED_WARM,)
    assert account.claim(ClaimName.COOLED_TOO_FAST).shown is ClaimShown.IN_DOUBT


def test_silence_before_the_close_was_not_seen() -> None:
    ledger = _ledger()
    _run(ledger, 0, 600, lambda _: 30.0)
    ledger.close(3600.0)
    last = ledger.evidence().stretches[-1]
    assert (last.belief, last.from_s, last.to_s) == (Belief.UNSEEN, 600.0, 3600.0)


def test_a_heat_of_days_costs_bounded_memory_and_doubt_still_reaches_all_of_it() -> None:
    ledger = _ledger()
    hours = 60
    for number in range(hours * 360):
        ledger.feed(10.0 * number, 180.0 + 0.1 * (number % 2))
    evidence = ledger.evidence()
    assert len(evidence.stretches) <= 2048
    assert sum(each.seconds for each in evidence.stretches) == pytest.approx(hours * 3600.0, abs=20.0)
    ledger.doubt(0.0)
    assert {each.belief for each in ledger.evidence().stretches} == {Belief.DOUBTED}


def test_the_evidence_is_the_same_however_often_it_was_asked_for() -> None:
    asked, left = _ledger(), _ledger()
    for time_s in range(1200):
        for ledger in (asked, left):
            ledger.feed(float(time_s), 120.0 + 0.05 * time_s)
        if time_s % 37 == 0:
            asked.evidence()
    one, other = asked.evidence(), left.evidence()
    assert sum(each.drying for each in one.stretches) == pytest.approx(sum(each.drying for each in other.stretches))
    assert one.stretches[-1].to_s == other.stretches[-1].to_s


def test_unconfirmed_soak_credit_leaves_the_soak_in_doubt_and_credit_taken_back_does_not_count() -> None:
    ledger = _ledger()
    ledger.enter(2, 0.0)
    _run(ledger, 0, 60, lambda _: 1150.0)
    for facts, shown in (
        (SoakFacts(2, 1800.0), ClaimShown.SHOWN),
        (SoakFacts(2, 1500.0, unconfirmed_s=300.0), ClaimShown.IN_DOUBT),
        (SoakFacts(2, 1500.0, withdrawn_s=300.0), ClaimShown.NOT_SHOWN),
    ):
        ledger.soak(facts)
        assert account_of(ledger.evidence()).claim(ClaimName.SOAKED).shown is shown


def test_a_climb_shown_by_a_few_doubted_seconds_is_in_doubt_though_so_short_a_time_hides_none() -> None:
    ledger = _ledger()
    _run(ledger, 0, 600, lambda time_s: 100.0 + 0.05 * time_s)
    ledger.breach(Breach(BreachKind.CLIMBED, 1, 0.0, 590.0, 100.0, 129.5, 29.5, 25.0, 900.0))
    ledger.doubt(580.0)
    ledger.believe()
    climbed = account_of(ledger.evidence()).claim(ClaimName.CLIMBED_WHILE_WET)
    assert (climbed.shown, climbed.doubts) == (ClaimShown.IN_DOUBT, (ClaimDoubt.SENSOR,))


def test_minutes_without_readings_near_a_ceiling_may_hide_that_it_was_passed() -> None:
    ledger = _ledger()
    ledger.enter(2, 0.0)
    _run(ledger, 0, 600, lambda _: 1150.0)
    _run(ledger, 900, 1500, lambda _: 1150.0)
    overheated = account_of(ledger.evidence()).claim(ClaimName.OVERHEATED)
    assert (overheated.shown, overheated.doubts) == (ClaimShown.IN_DOUBT, (ClaimDoubt.UNSEEN,))


def test_a_breach_found_while_the_sensor_is_in_doubt_is_doubted_from_the_first() -> None:
    ledger = _ledger()
    _run(ledger, 0, 60, lambda _: 100.0)
    ledger.doubt(0.0)
    ledger.breach(Breach(BreachKind.CLIMBED, 1, 0.0, 60.0, 100.0, 130.0, 30.0, 25.0, 900.0))
    assert [breach.doubted for breach in ledger.evidence().breaches] == [True]


def test_of_a_thousand_breaches_the_worst_is_kept_and_memory_is_bounded() -> None:
    ledger = _ledger()
    for number in range(1000):
        at_s = 2000.0 * number
        level_c = 60.0 if number == 900 else 26.0 + 0.001 * number
        ledger.breach(Breach(BreachKind.CLIMBED, 1, at_s, at_s + 900.0, 100.0, 160.0, level_c, 25.0, 900.0))
    breaches = ledger.evidence().breaches
    assert len(breaches) == 256
    assert max(breach.level_c for breach in breaches) == 60.0


def test_a_reading_dated_before_the_last_adds_nothing() -> None:
    late, orderly = _ledger(), _ledger()
    for ledger in (late, orderly):
        _run(ledger, 0, 100, lambda _: 180.0)
    late.feed(40.0, 900.0)
    assert late.evidence() == orderly.evidence()


def test_warmth_after_a_time_in_which_the_pot_may_have_been_fired_is_no_drying() -> None:
    ledger = _ledger()
    _run(ledger, 0, 600, lambda _: 120.0)
    _run(ledger, 600 + 3 * 3600, 600 + 4 * 3600, lambda _: 180.0)
    assert account_of(ledger.evidence()).claim(ClaimName.DRIED).shown is ClaimShown.NOT_SHOWN


def test_a_doubted_reading_above_the_ceiling_may_have_been_a_true_one_however_short() -> None:
    ledger = _ledger()
    ledger.enter(2, 0.0)
    _run(ledger, 0, 600, lambda _: 1150.0)
    _run(ledger, 601, 620, lambda _: 1230.0)
    _run(ledger, 621, 630, lambda _: 1150.0)
    ledger.doubt(600.0)
    ledger.believe()
    _run(ledger, 631, 1200, lambda _: 1150.0)
    overheated = account_of(ledger.evidence()).claim(ClaimName.OVERHEATED)
    assert (overheated.shown, overheated.doubts) == (ClaimShown.IN_DOUBT, (ClaimDoubt.SENSOR,))
