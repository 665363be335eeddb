"""The alarm desk: the table of states, delays on given time, shelving, suppression, and a tiny model of it all."""

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from msgspec.structs import replace

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.alarms.desk import TRANSITIONS, AlarmChange, AlarmDesk, AlarmInput, next_state
from rampwarden.core.model import AlarmState, Finding, Priority
from rampwarden.errors import AlarmTransitionError

NORMAL, UNACKNOWLEDGED, ACKNOWLEDGED = AlarmState.NORMAL, AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED
RETURNED, SHELVED = AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.SHELVED
SUPPRESSED, OUT_OF_SERVICE = AlarmState.SUPPRESSED, AlarmState.OUT_OF_SERVICE
SAID_WRONG = AlarmState.SAID_WRONG

# Names of the catalogue, with delays of our own: the desk does not know what an alarm means.
SLOW = "segment-overdue"  # by the clock, 5 s on, 20 s off
QUICK = "record-failing"  # by the clock, no delays
SEEN = "sensor-open"  # by readings, 5 s on, 20 s off


def entry(
    on_delay_s: float,
    off_delay_s: float,
    *,
    waits: bool = False,
    priority: Priority = Priority.MEDIUM,
    opinion: bool = False,
    deadband: float = 0.0,
) -> AlarmEntry:
    return AlarmEntry(
        "",
        "",
        priority,
        on_delay_s,
        off_delay_s,
        "",
        "",
        "",
        "",
        deadband,
        waits_for_reading=waits,
        is_opinion=opinion,
    )


CATALOGUE: dict[str, AlarmEntry] = {
    SLOW: entry(5.0, 20.0),
    QUICK: entry(0.0, 0.0, priority=Priority.HIGH),
    SEEN: entry(5.0, 20.0, waits=True, priority=Priority.LOW),
}


def found(value: float = 1.0) -> Finding:
    return Finding(value, 0.5, "°C", f"found {value:g}")


def appear(desk: AlarmDesk, time_s: float, name: str, value: float = 1.0) -> list[AlarmChange]:
    return desk.judge(time_s, (name,), {name: found(value)})


def vanish(desk: AlarmDesk, time_s: float, name: str) -> list[AlarmChange]:
    return desk.judge(time_s, (name,), {})


def states(changes: list[AlarmChange]) -> list[tuple[float, str, AlarmState]]:
    return [(change.time_s, change.alarm, change.state) for change in changes]


def desk_in(state: AlarmState) -> AlarmDesk:
    """Give a desk whose quick alarm is in `state` at 10 s."""
    desk = AlarmDesk(CATALOGUE, (QUICK,) if state is OUT_OF_SERVICE else ())
    if state in (UNACKNOWLEDGED, ACKNOWLEDGED, RETURNED):
        appear(desk, 10.0, QUICK)
    if state is ACKNOWLEDGED:
        desk.acknowledge(10.0, QUICK)
    if state is RETURNED:
        vanish(desk, 10.0, QUICK)
    if state is SHELVED:
        desk.shelve(10.0, QUICK, 70.0)
    if state is SUPPRESSED:
        desk.suppress(10.0, frozenset({QUICK}))
    if state is SAID_WRONG:
        appear(desk, 10.0, QUICK)
        desk.say_wrong(10.0, QUICK)
    assert desk.state(QUICK) is state
    return desk


def snapshot(desk: AlarmDesk) -> object:
    return [desk.state(name) for name in CATALOGUE], set(desk.raised), desk.due_s, desk.standing()


def expected_state(state: AlarmState, happening: AlarmInput) -> AlarmState | None:
    """State the table of IEC 62682 anew, row by row of what may happen."""
    annunciating = (NORMAL, UNACKNOWLEDGED, ACKNOWLEDGED, RETURNED)
    rows: dict[AlarmInput, dict[AlarmState, AlarmState]] = {
        AlarmInput.APPEAR: dict.fromkeys((NORMAL, RETURNED, SAID_WRONG), UNACKNOWLEDGED),
        # Ours: it asks for more than it did.
        AlarmInput.PRESS: dict.fromkeys((UNACKNOWLEDGED, ACKNOWLEDGED), UNACKNOWLEDGED),
        AlarmInput.CLEAR: {UNACKNOWLEDGED: RETURNED, ACKNOWLEDGED: NORMAL, SAID_WRONG: NORMAL},
        AlarmInput.ACKNOWLEDGE: {UNACKNOWLEDGED: ACKNOWLEDGED, RETURNED: NORMAL},
        AlarmInput.SHELVE: dict.fromkeys((*annunciating, SUPPRESSED, SAID_WRONG), SHELVED),
        AlarmInput.UNSHELVE: {SHELVED: NORMAL},
        AlarmInput.SUPPRESS: dict.fromkeys((*annunciating, SAID_WRONG), SUPPRESSED),
        AlarmInput.UNSUPPRESS: {SUPPRESSED: NORMAL},
        AlarmInput.REMOVE_FROM_SERVICE: dict.fromkeys((*annunciating, SHELVED, SUPPRESSED, SAID_WRONG), OUT_OF_SERVICE),
        AlarmInput.RETURN_TO_SERVICE: {OUT_OF_SERVICE: NORMAL},
        # Ours: what is present rests; what is over or suppressed is only taken note of.
        AlarmInput.SAY_WRONG: {
            **dict.fromkeys((UNACKNOWLEDGED, ACKNOWLEDGED, SHELVED), SAID_WRONG),
            **dict.fromkeys((RETURNED, NORMAL), NORMAL),
            SUPPRESSED: SUPPRESSED,
        },
        AlarmInput.UPHOLD: {SAID_WRONG: UNACKNOWLEDGED, NORMAL: NORMAL, SUPPRESSED: SUPPRESSED},
    }
    return rows[happening].get(state)


class TestTheTable:
    @pytest.mark.parametrize("happening", AlarmInput)
    @pytest.mark.parametrize("state", AlarmState)
    def test_allows_in_each_cell_what_it_should_and_refuses_the_rest(
        self, state: AlarmState, happening: AlarmInput
    ) -> None:
        """Every pair of state and happening, the refusal with its exact words."""
        expected = expected_state(state, happening)
        if expected is not None:
            assert next_state(state, happening) is expected
            return
        with pytest.raises(AlarmTransitionError) as refusal:
            next_state(state, happening)
        assert str(refusal.value) == f"an alarm that is {state} cannot {happening.value}"

    def test_cannot_be_changed_by_anybody(self) -> None:
        """One table for every desk of the process."""
        with pytest.raises(TypeError):
            TRANSITIONS[NORMAL, AlarmInput.CLEAR] = NORMAL  # type: ignore[index]

    @pytest.mark.parametrize(
        ("happening", "do"),
        [
            (AlarmInput.ACKNOWLEDGE, lambda desk: desk.acknowledge(11.0, QUICK)),
            (AlarmInput.SHELVE, lambda desk: desk.shelve(11.0, QUICK, 71.0)),
            (AlarmInput.UNSHELVE, lambda desk: desk.unshelve(11.0, QUICK)),
            (AlarmInput.SAY_WRONG, lambda desk: desk.say_wrong(11.0, QUICK)),
            (AlarmInput.UPHOLD, lambda desk: desk.uphold(11.0, QUICK)),
        ],
    )
    @pytest.mark.parametrize("state", AlarmState)
    def test_rules_what_a_person_may_do(
        self, state: AlarmState, happening: AlarmInput, do: Callable[[AlarmDesk], list[AlarmChange]]
    ) -> None:
        """A person's word moves the alarm as the table says, or is refused and changes nothing."""
        desk = desk_in(state)
        before = snapshot(desk)
        expected = expected_state(state, happening)
        if expected is None:
            with pytest.raises(AlarmTransitionError):
                do(desk)
            assert snapshot(desk) == before
        else:
            [change] = do(desk)
            assert (change.time_s, change.alarm, change.happening, change.state) == (11.0, QUICK, happening, expected)
            assert desk.state(QUICK) is expected


class TestDelays:
    def test_a_condition_must_stand_for_the_on_delay(self) -> None:
        """Not a moment less; the alarm is dated when the delay has run, with what was last found."""
        desk = AlarmDesk(CATALOGUE)
        assert appear(desk, 100.0, SLOW, 1.0) == []
        assert desk.due_s == 105.0
        assert appear(desk, 103.0, SLOW, 2.0) == []
        assert desk.tick(104.9) == []
        [change] = desk.tick(105.0)
        assert change == AlarmChange(
            105.0, SLOW, AlarmInput.APPEAR, UNACKNOWLEDGED, Priority.MEDIUM, found(2.0), lasted_s=0.0
        )
        assert desk.raised == {SLOW}
        assert desk.due_s == math.inf

    def test_a_condition_that_goes_within_the_on_delay_was_none(self) -> None:
        """And the next one waits its own delay from its own beginning."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 100.0, SLOW)
        assert vanish(desk, 104.0, SLOW) == []
        assert desk.due_s == math.inf
        assert desk.tick(1000.0) == []
        appear(desk, 1000.0, SLOW)
        assert desk.due_s == 1005.0

    def test_an_alarm_returns_when_its_condition_is_gone_for_the_off_delay(self) -> None:
        """Counted from the first judgement without it; later ones do not put it off."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 0.0, SLOW)
        desk.tick(5.0)
        assert vanish(desk, 50.0, SLOW) == []
        assert vanish(desk, 60.0, SLOW) == []
        assert desk.due_s == 70.0
        [change] = desk.tick(70.0)
        assert (change.state, change.lasted_s) == (RETURNED, 65.0)
        assert desk.raised == set()

    def test_a_condition_that_comes_back_within_the_off_delay_never_went(self) -> None:
        """No chatter; the off-delay starts anew when it goes again."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 0.0, SLOW)
        desk.tick(5.0)
        vanish(desk, 50.0, SLOW)
        assert appear(desk, 60.0, SLOW) == []
        assert desk.due_s == math.inf
        assert desk.tick(100.0) == []
        vanish(desk, 100.0, SLOW)
        assert desk.due_s == 120.0

    def test_without_delays_everything_happens_at_once(self) -> None:
        """In the judgement itself, without a tick."""
        desk = AlarmDesk(CATALOGUE)
        assert states(appear(desk, 1.5, QUICK)) == [(1.5, QUICK, UNACKNOWLEDGED)]
        assert states(vanish(desk, 2.5, QUICK)) == [(2.5, QUICK, RETURNED)]
        assert states(appear(desk, 3.5, QUICK)) == [(3.5, QUICK, UNACKNOWLEDGED)]

    def test_a_returned_alarm_is_raised_again_after_its_on_delay(self) -> None:
        """From returned and not acknowledged it is news again."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 0.0, SLOW)
        desk.tick(5.0)
        vanish(desk, 10.0, SLOW)
        desk.tick(30.0)
        assert desk.state(SLOW) is RETURNED
        assert appear(desk, 40.0, SLOW) == []
        assert states(desk.tick(45.0)) == [(45.0, SLOW, UNACKNOWLEDGED)]

    def test_alarms_not_judged_keep_what_was_known_of_them(self) -> None:
        """A judgement about one says nothing about another, neither for it nor against."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 0.0, SLOW)
        vanish(desk, 3.0, QUICK)
        assert states(desk.tick(5.0)) == [(5.0, SLOW, UNACKNOWLEDGED)]
        assert appear(desk, 6.0, QUICK) != []
        assert desk.state(SLOW) is UNACKNOWLEDGED

    def test_a_judgement_also_ends_delays_that_are_over(self) -> None:
        """Of whatever alarm runs by the clock; time that has passed has passed."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 0.0, SLOW)
        assert states(vanish(desk, 6.0, QUICK)) == [(6.0, SLOW, UNACKNOWLEDGED)]

    def test_what_readings_tell_waits_for_a_reading_that_confirms_it(self) -> None:
        """One reading out of range with the next still on its way is a spark: the clock alone raises nothing."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 0.0, SEEN)
        assert desk.due_s == math.inf
        assert desk.tick(3600.0) == []
        assert vanish(desk, 3600.0, QUICK) == []
        assert states(appear(desk, 3601.0, SEEN)) == [(3601.0, SEEN, UNACKNOWLEDGED)]

    def test_what_readings_tell_is_over_only_by_a_reading(self) -> None:
        """The off-delay too: one good reading before the silence is not a return."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 0.0, SEEN)
        appear(desk, 5.0, SEEN)
        vanish(desk, 10.0, SEEN)
        assert desk.tick(3600.0) == []
        assert states(vanish(desk, 3600.0, SEEN)) == [(3600.0, SEEN, RETURNED)]

    def test_several_that_end_together_come_in_one_order(self) -> None:
        """By name, whatever order they were judged in: a replay gives the same bytes."""
        for order in ((SLOW, SEEN), (SEEN, SLOW)):
            desk = AlarmDesk(CATALOGUE)
            desk.judge(0.0, order, {name: found() for name in order})
            changes = desk.judge(5.0, order, {name: found() for name in order})
            assert [change.alarm for change in changes] == sorted([SLOW, SEEN])


class TestAcknowledging:
    def test_is_not_clearing(self) -> None:
        """The condition stands, so the alarm does, and says so."""
        desk = desk_in(UNACKNOWLEDGED)
        desk.acknowledge(20.0, QUICK)
        assert desk.state(QUICK) is ACKNOWLEDGED
        assert desk.raised == {QUICK}
        assert [alarm.alarm for alarm in desk.standing()] == [QUICK]
        assert states(vanish(desk, 30.0, QUICK)) == [(30.0, QUICK, NORMAL)]

    def test_all_takes_exactly_those_that_wait_for_it(self) -> None:
        """Standing and returned alike; what is acknowledged or normal is left alone, and nothing is no fault."""
        desk = AlarmDesk(CATALOGUE)
        assert desk.acknowledge(0.0) == []
        appear(desk, 0.0, SLOW)
        appear(desk, 5.0, SLOW)
        appear(desk, 5.0, QUICK)
        vanish(desk, 6.0, QUICK)
        assert states(desk.acknowledge(7.0)) == [(7.0, SLOW, ACKNOWLEDGED), (7.0, QUICK, NORMAL)]
        assert desk.acknowledge(8.0) == []

    def test_does_not_put_off_the_return(self) -> None:
        """The off-delay that runs goes on running."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 0.0, SLOW)
        desk.tick(5.0)
        vanish(desk, 10.0, SLOW)
        desk.acknowledge(25.0, SLOW)
        assert states(desk.tick(30.0)) == [(30.0, SLOW, NORMAL)]

    def test_a_returned_alarm_does_not_put_off_its_coming_back(self) -> None:
        """The on-delay that runs goes on running, even for a condition that is told only once."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 0.0, SLOW)
        desk.tick(5.0)
        vanish(desk, 10.0, SLOW)
        desk.tick(30.0)
        appear(desk, 40.0, SLOW)
        assert states(desk.acknowledge(43.0, SLOW)) == [(43.0, SLOW, NORMAL)]
        assert states(desk.tick(45.0)) == [(45.0, SLOW, UNACKNOWLEDGED)]


class TestShelving:
    def test_ends_by_itself(self) -> None:
        """At its time and not before, with nothing else happening."""
        desk = AlarmDesk(CATALOGUE)
        assert states(desk.shelve(10.0, SEEN, 70.0)) == [(10.0, SEEN, SHELVED)]
        assert desk.due_s == 70.0
        assert desk.tick(69.9) == []
        assert states(desk.tick(70.0)) == [(70.0, SEEN, NORMAL)]
        assert desk.due_s == math.inf

    def test_silences_a_standing_alarm_and_what_comes_after(self) -> None:
        """Nothing is said of it meanwhile, but a display still shows that it is shelved."""
        desk = desk_in(UNACKNOWLEDGED)
        desk.shelve(10.0, QUICK, 70.0)
        assert desk.raised == set()
        assert vanish(desk, 20.0, QUICK) == []
        assert appear(desk, 30.0, QUICK) == []
        assert [(alarm.alarm, alarm.state) for alarm in desk.standing()] == [(QUICK, SHELVED)]

    def test_over_a_condition_that_was_told_once_gives_it_back(self) -> None:
        """Silence is told once: shelved for a minute and still silent, the alarm is there again without a new word."""
        desk = desk_in(UNACKNOWLEDGED)
        desk.shelve(10.0, QUICK, 70.0)
        assert states(desk.tick(70.0)) == [(70.0, QUICK, NORMAL), (70.0, QUICK, UNACKNOWLEDGED)]

    def test_over_a_condition_with_a_delay_lets_it_stand_its_delay_anew(self) -> None:
        """Coming back starts from normal."""
        desk = AlarmDesk(CATALOGUE)
        appear(desk, 0.0, SLOW)
        desk.tick(5.0)
        desk.shelve(10.0, SLOW, 70.0)
        assert states(desk.tick(70.0)) == [(70.0, SLOW, NORMAL)]
        assert desk.due_s == 75.0
        assert states(desk.tick(75.0)) == [(75.0, SLOW, UNACKNOWLEDGED)]

    def test_over_a_condition_that_went_meanwhile_gives_nothing_back(self) -> None:
        """What was last known is that it is gone."""
        desk = desk_in(UNACKNOWLEDGED)
        desk.shelve(10.0, QUICK, 70.0)
        vanish(desk, 20.0, QUICK)
        assert states(desk.tick(70.0)) == [(70.0, QUICK, NORMAL)]
        assert desk.due_s == math.inf

    def test_can_be_ended_by_hand(self) -> None:
        """The time it would have ended at means nothing then."""
        desk = desk_in(SHELVED)
        assert states(desk.unshelve(30.0, QUICK)) == [(30.0, QUICK, NORMAL)]
        assert desk.tick(70.0) == []

    def test_ends_into_suppression_where_the_heat_has_got_there(self) -> None:
        """Suppressing is the phase's business, and the phase has not ended."""
        desk = desk_in(SHELVED)
        assert desk.suppress(20.0, frozenset({QUICK})) == []
        assert desk.state(QUICK) is SHELVED
        assert states(desk.tick(70.0)) == [(70.0, QUICK, NORMAL)]
        assert desk.state(QUICK) is SUPPRESSED
        assert desk.suppress(80.0, frozenset()) == []
        assert desk.state(QUICK) is NORMAL


OPINION = "flame-out"  # by readings, no on-delay, 20 s off
FACT = "ramp-high"  # by readings, no on-delay, 20 s off
LEVEL = "temperature-high"  # by readings, 5 s on, deadband 5
ANSWERED = {
    **CATALOGUE,
    OPINION: entry(0.0, 20.0, waits=True, opinion=True),
    FACT: entry(0.0, 20.0, waits=True),
    LEVEL: entry(5.0, 20.0, waits=True, deadband=5.0),
}
REST_S = 300.0


def desk_saying(name: str, value: float = 26.0, limit: float = 25.0) -> AlarmDesk:
    """Give a desk whose alarm is raised at 10 s, and said to be wrong at 20 s."""
    desk = AlarmDesk(ANSWERED)
    for time_s in (5.0, 10.0):
        desk.judge(time_s, (name,), {name: Finding(value, limit, "°C", "so much")})
    assert desk.state(name) is UNACKNOWLEDGED
    [change] = desk.say_wrong(20.0, name)
    assert (change.happening, change.state) == (AlarmInput.SAY_WRONG, SAID_WRONG)
    return desk


def find(desk: AlarmDesk, time_s: float, name: str, value: float = 26.0, limit: float = 25.0) -> list[AlarmChange]:
    return desk.judge(time_s, (name,), {name: Finding(value, limit, "°C", f"as much as {value:g}")})


class TestSayingThatItWasWrong:
    def test_withdraws_it_and_shows_that(self) -> None:
        """It waits for nobody any more; its judge goes on as if it stood, so that its deadband holds."""
        desk = desk_saying(FACT)
        assert [(alarm.alarm, alarm.state) for alarm in desk.standing()] == [(FACT, SAID_WRONG)]
        assert (desk.raised, desk.stated) == ({FACT}, set())
        assert desk.acknowledge(21.0) == []

    def test_an_opinion_rests_until_it_has_been_gone_once(self) -> None:
        """Whoever stands at the furnace knows better, for hours if need be; the next one is another one."""
        desk = desk_saying(OPINION)
        for time_s in (30.0, 400.0, 7200.0):
            assert find(desk, time_s, OPINION, 500.0) == []
            assert desk.tick(time_s + 1.0) == []
        assert vanish(desk, 7210.0, OPINION) == []
        assert states(vanish(desk, 7230.0, OPINION)) == [(7230.0, OPINION, NORMAL)]
        assert states(find(desk, 7240.0, OPINION)) == [(7240.0, OPINION, UNACKNOWLEDGED)]

    def test_what_is_gone_for_less_than_its_off_delay_was_not_gone(self) -> None:
        """Else the next flicker of the same error rings again."""
        desk = desk_saying(OPINION)
        vanish(desk, 100.0, OPINION)
        assert find(desk, 110.0, OPINION) == []
        assert vanish(desk, 125.0, OPINION) == []
        assert find(desk, 130.0, OPINION) == []
        assert desk.state(OPINION) is SAID_WRONG

    def test_a_fact_rings_again_after_five_minutes_if_it_is_still_so(self) -> None:
        """Whoever erred must be told; by a reading that confirms it, with what is found then."""
        desk = desk_saying(FACT)
        assert find(desk, 20.0 + REST_S - 0.5, FACT) == []
        [change] = find(desk, 20.0 + REST_S, FACT, 25.9)
        assert (change.state, change.finding.what) == (UNACKNOWLEDGED, "as much as 25.9")

    def test_a_fact_that_no_reading_tells_rings_again_by_the_clock(self) -> None:
        """Silence is told once, and nothing comes that could confirm it."""
        desk = desk_in(SAID_WRONG)
        assert desk.due_s == 10.0 + REST_S
        assert desk.tick(10.0 + REST_S - 1.0) == []
        assert states(desk.tick(10.0 + REST_S)) == [(10.0 + REST_S, QUICK, UNACKNOWLEDGED)]

    def test_a_fact_that_grows_worse_rings_again_at_once(self) -> None:
        """By a tenth of its limit and by half of what it exceeded that; what it had reached before is no worse."""
        desk = desk_saying(FACT, 26.0, 25.0)
        assert find(desk, 30.0, FACT, 28.4) == []
        assert states(find(desk, 31.0, FACT, 28.5)) == [(31.0, FACT, UNACKNOWLEDGED)]
        desk = AlarmDesk(ANSWERED)
        for time_s, value in ((10.0, 26.0), (15.0, 35.0), (18.0, 30.0)):
            find(desk, time_s, FACT, value)
        desk.say_wrong(20.0, FACT)
        assert find(desk, 30.0, FACT, 39.9) == []
        assert states(find(desk, 31.0, FACT, 40.0)) == [(31.0, FACT, UNACKNOWLEDGED)]

    def test_too_little_grows_worse_downwards(self) -> None:
        """A least rate is broken the more the less there is."""
        desk = desk_saying(FACT, 30.0, 40.0)
        assert find(desk, 30.0, FACT, 25.1, 40.0) == []
        assert states(find(desk, 31.0, FACT, 25.0, 40.0)) == [(31.0, FACT, UNACKNOWLEDGED)]

    def test_worse_must_stand_for_the_on_delay_as_the_first_did(self) -> None:
        """A level grows worse by its deadband; one spark above that is none."""
        desk = desk_saying(LEVEL, 745.0, 735.0)
        for time_s, value in ((30.0, 749.9), (31.0, 750.0), (33.0, 749.0), (37.0, 750.0)):
            assert find(desk, time_s, LEVEL, value, 735.0) == []
        assert states(find(desk, 42.0, LEVEL, 750.0, 735.0)) == [(42.0, LEVEL, UNACKNOWLEDGED)]

    def test_what_occurs_again_rings_again(self) -> None:
        """An answer is given to one occurrence."""
        desk = desk_saying(FACT)
        vanish(desk, 30.0, FACT)
        assert states(vanish(desk, 50.0, FACT)) == [(50.0, FACT, NORMAL)]
        assert states(find(desk, 60.0, FACT)) == [(60.0, FACT, UNACKNOWLEDGED)]

    def test_once_more_after_it_rang_again(self) -> None:
        """It rests for five minutes more, and must grow worse than it has become."""
        desk = desk_saying(FACT)
        find(desk, 31.0, FACT, 30.0)
        desk.say_wrong(40.0, FACT)
        assert find(desk, 50.0, FACT, 32.0) == []
        assert states(find(desk, 51.0, FACT, 32.5)) == [(51.0, FACT, UNACKNOWLEDGED)]

    def test_of_what_is_over_only_takes_note(self) -> None:
        """It need not be acknowledged any more, and rings again when it occurs again."""
        desk = desk_in(RETURNED)
        assert states(desk.say_wrong(20.0, QUICK)) == [(20.0, QUICK, NORMAL)]
        assert states(appear(desk, 30.0, QUICK)) == [(30.0, QUICK, UNACKNOWLEDGED)]

    def test_of_what_is_over_puts_off_nothing(self) -> None:
        """Another occurrence may already wait its delay."""
        desk = AlarmDesk(ANSWERED)
        find(desk, 100.0, LEVEL)
        desk.say_wrong(103.0, LEVEL)
        assert states(find(desk, 105.0, LEVEL)) == [(105.0, LEVEL, UNACKNOWLEDGED)]

    def test_of_a_shelved_alarm_whose_condition_went_ends_by_its_off_delay(self) -> None:
        """It is withdrawn instead of shelved, and soon normal."""
        desk = AlarmDesk(ANSWERED)
        appear(desk, 0.0, SLOW)
        desk.tick(5.0)
        desk.shelve(10.0, SLOW, 3600.0)
        vanish(desk, 20.0, SLOW)
        assert states(desk.say_wrong(30.0, SLOW)) == [(30.0, SLOW, SAID_WRONG)]
        assert states(desk.tick(50.0)) == [(50.0, SLOW, NORMAL)]

    def test_suppression_ends_it(self) -> None:
        """Coming back starts from normal, as after any suppression."""
        desk = desk_saying(OPINION)
        assert states(desk.suppress(30.0, frozenset({OPINION}))) == [(30.0, OPINION, SUPPRESSED)]
        assert states(desk.suppress(40.0, frozenset())) == [(40.0, OPINION, NORMAL)]
        assert states(find(desk, 41.0, OPINION)) == [(41.0, OPINION, UNACKNOWLEDGED)]

    def test_into_suppression_where_the_heat_has_got_there(self) -> None:
        """What had returned waited for its acknowledgement; this is as good."""
        desk = desk_in(RETURNED)
        desk.suppress(15.0, frozenset({QUICK}))
        assert states(desk.say_wrong(20.0, QUICK)) == [(20.0, QUICK, NORMAL)]
        assert desk.state(QUICK) is SUPPRESSED


class TestTakingThatBack:
    def test_lets_the_alarm_stand_and_ring_at_once(self) -> None:
        """Whoever tapped beside it has what was there before."""
        desk = desk_saying(OPINION)
        assert states(desk.uphold(25.0, OPINION)) == [(25.0, OPINION, UNACKNOWLEDGED)]
        assert desk.stated == {OPINION}
        vanish(desk, 30.0, OPINION)
        assert states(vanish(desk, 50.0, OPINION)) == [(50.0, OPINION, RETURNED)]

    def test_puts_off_no_return_that_is_on_its_way(self) -> None:
        """The condition went before it was taken back."""
        desk = desk_saying(OPINION)
        vanish(desk, 30.0, OPINION)
        desk.uphold(35.0, OPINION)
        assert states(vanish(desk, 50.0, OPINION)) == [(50.0, OPINION, RETURNED)]


class TestSuppression:
    def test_of_a_normal_alarm_is_no_news_and_neither_is_its_end(self) -> None:
        """A transfer suppresses half the catalogue; nobody wants to read that list."""
        desk = AlarmDesk(CATALOGUE)
        assert desk.suppress(10.0, frozenset({QUICK, SLOW})) == []
        assert [desk.state(name) for name in CATALOGUE] == [SUPPRESSED, SUPPRESSED, NORMAL]
        assert desk.suppress(20.0, frozenset()) == []
        assert [desk.state(name) for name in CATALOGUE] == [NORMAL, NORMAL, NORMAL]

    def test_of_any_other_alarm_is_told_and_so_is_its_end(self) -> None:
        """Whoever was told that it is suppressed must hear that it is so no longer."""
        desk = desk_in(UNACKNOWLEDGED)
        vanish(desk, 10.0, SEEN)
        assert states(desk.suppress(10.0, frozenset({QUICK}))) == [(10.0, QUICK, SUPPRESSED)]
        assert desk.raised == set()
        assert desk.standing() == ()
        vanish(desk, 15.0, QUICK)
        assert states(desk.suppress(20.0, frozenset())) == [(20.0, QUICK, NORMAL)]

    def test_waits_until_somebody_has_acknowledged_what_has_returned(self) -> None:
        """Nobody has heard of it yet; it is not raised anew meanwhile, and suppressed once it is acknowledged."""
        desk = desk_in(RETURNED)
        assert desk.suppress(40.0, frozenset({QUICK})) == []
        assert appear(desk, 50.0, QUICK) == []
        assert desk.state(QUICK) is RETURNED
        assert states(desk.acknowledge(60.0)) == [(60.0, QUICK, NORMAL)]
        assert desk.state(QUICK) is SUPPRESSED

    def test_is_exactly_what_was_named_last(self) -> None:
        """A name no longer among them is suppressed no longer."""
        desk = AlarmDesk(CATALOGUE)
        desk.suppress(10.0, frozenset({QUICK}))
        desk.suppress(20.0, frozenset({SLOW}))
        assert [desk.state(name) for name in (QUICK, SLOW)] == [NORMAL, SUPPRESSED]

    def test_lets_nothing_through_and_then_what_still_stands_after_its_delay(self) -> None:
        """Remembered meanwhile, raised afterwards."""
        desk = AlarmDesk(CATALOGUE)
        desk.suppress(0.0, frozenset({SLOW}))
        assert appear(desk, 10.0, SLOW) == []
        assert desk.tick(100.0) == []
        desk.suppress(100.0, frozenset())
        assert states(desk.tick(105.0)) == [(105.0, SLOW, UNACKNOWLEDGED)]

    def test_gives_way_to_a_persons_shelving(self) -> None:
        """Shelved then, and no longer the phase's: its end leaves it shelved."""
        desk = desk_in(SUPPRESSED)
        assert states(desk.shelve(20.0, QUICK, 80.0)) == [(20.0, QUICK, SHELVED)]
        assert desk.suppress(30.0, frozenset()) == []
        assert desk.state(QUICK) is SHELVED


class TestOutOfService:
    def test_says_nothing_whatever_is_found(self) -> None:
        """And is shown to nobody."""
        desk = desk_in(OUT_OF_SERVICE)
        assert appear(desk, 20.0, QUICK) == []
        assert desk.tick(1000.0) == []
        assert desk.suppress(1000.0, frozenset({QUICK})) == []
        assert desk.standing() == ()
        assert desk.raised == set()
        assert desk.state(QUICK) is OUT_OF_SERVICE

    def test_twice_is_as_good_as_once(self) -> None:
        """A list of names may name one twice."""
        assert AlarmDesk(CATALOGUE, (QUICK, QUICK)).state(QUICK) is OUT_OF_SERVICE


class TestStanding:
    def test_shows_the_most_urgent_first_and_among_equals_the_oldest(self) -> None:
        """What a display has room for at the top."""
        low, high = entry(0.0, 0.0, priority=Priority.LOW), entry(0.0, 0.0, priority=Priority.HIGH)
        names = ["ramp-low", "ramp-high", "sensor-open", "cooling-fast"]
        desk = AlarmDesk(dict(zip(names, [low, high, high, entry(0.0, 0.0)], strict=True)))
        for time_s, name in enumerate((names[0], names[3], names[2], names[1])):
            appear(desk, float(time_s), name)
        assert [alarm.alarm for alarm in desk.standing()] == [names[2], names[1], names[3], names[0]]

    def test_tells_state_priority_fact_and_since_when(self) -> None:
        """Since the state began, not since the alarm did."""
        desk = desk_in(UNACKNOWLEDGED)
        desk.acknowledge(25.0, QUICK)
        [alarm] = desk.standing()
        assert (alarm.alarm, alarm.state, alarm.priority, alarm.text, alarm.since_s) == (
            QUICK,
            ACKNOWLEDGED,
            Priority.HIGH,
            "found 1",
            25.0,
        )

    def test_shows_what_is_found_now_and_tells_what_it_was_raised_for(self) -> None:
        """What is found while it stands rewrites what is shown, and nothing of what was said."""
        desk = desk_in(UNACKNOWLEDGED)
        appear(desk, 20.0, QUICK, 9.0)
        assert desk.standing()[0].text == "found 9"
        assert desk.acknowledge(21.0)[0].finding.what == "found 1"

    def test_knows_which_alarms_there_are(self) -> None:
        """A person mistypes names."""
        desk = AlarmDesk(CATALOGUE)
        assert desk.knows("segment-overdue")
        assert not desk.knows("segment-overdu")


# A tiny model of the desk. Each alarm is under pressure to change while its condition contradicts its state: present
# but not standing, or standing but not present. Pressure that has lasted the delay changes the state. That is all.


@dataclass
class ModelAlarm:
    entry: AlarmEntry
    state: AlarmState = NORMAL
    present: bool = False
    pressed_since_s: float | None = None
    shelved_until_s: float = math.inf
    held_back: bool = False
    rests_until_s: float = math.inf
    is_falling: bool = False
    known: bool = False

    def find(self, time_s: float) -> None:
        """See whether this is worse than all before: of a fact the first is that is ever found, others are alike."""
        if self.state is not SAID_WRONG:
            self.known = True
        elif not self.known and not self.entry.is_opinion and self.pressed_since_s is None:
            self.pressed_since_s = time_s

    def comes_back(self, time_s: float) -> None:
        """See whether what was said to be wrong has rested long enough."""
        if self.state is SAID_WRONG and self.pressed_since_s is None and self.rests_until_s <= time_s:
            self.pressed_since_s = time_s

    def press(self, time_s: float) -> None:
        """See whether there is pressure now, and since when."""
        if self.state is SAID_WRONG:
            # Only its end presses by itself; that it comes back is seen where its condition is judged or its rest ends.
            if self.present is self.is_falling:
                self.is_falling = not self.present
                self.pressed_since_s = None if self.present else time_s
            return
        rises = self.present and (self.state is NORMAL or (self.state is RETURNED and not self.held_back))
        falls = self.state in (UNACKNOWLEDGED, ACKNOWLEDGED) and not self.present
        if not (rises or falls):
            self.pressed_since_s = None
        elif self.pressed_since_s is None:
            self.pressed_since_s = time_s

    @property
    def gives_way_s(self) -> float:
        if self.pressed_since_s is None:
            return math.inf
        rises = self.state in (NORMAL, RETURNED) or (self.state is SAID_WRONG and not self.is_falling)
        return self.pressed_since_s + (self.entry.on_delay_s if rises else self.entry.off_delay_s)


MACHINE_CATALOGUE = {
    **CATALOGUE,
    "ramp-high": entry(0.0, 7.0, waits=True),
    "flame-out": entry(1.0, 7.0, waits=True, opinion=True),
}
NAMES = sorted(MACHINE_CATALOGUE)
SOME_NAMES = st.sets(st.sampled_from(NAMES))
A_NAME = st.sampled_from(NAMES)


def test_what_asked_for_little_rings_again_once_when_it_asks_for_more() -> None:
    """Acknowledged or not; what asked for all at once has nothing to add, and what is shelved is silent."""
    little, more = replace(found(), milder=True), found()
    for acknowledged in (False, True):
        desk = AlarmDesk(CATALOGUE)
        desk.judge(10.0, (QUICK,), {QUICK: little})
        if acknowledged:
            desk.acknowledge(11.0, QUICK)
        changes = desk.judge(12.0, (QUICK,), {QUICK: more})
        assert states(changes) == [(12.0, QUICK, UNACKNOWLEDGED)]
        assert (changes[0].happening, changes[0].finding, changes[0].lasted_s) == (AlarmInput.PRESS, more, 2.0)
        desk.acknowledge(13.0, QUICK)
        for finding in (little, more, more):
            assert desk.judge(14.0, (QUICK,), {QUICK: finding}) == []
        assert states(vanish(desk, 15.0, QUICK)) == [(15.0, QUICK, NORMAL)]
    desk = AlarmDesk(CATALOGUE)
    desk.judge(10.0, (QUICK,), {QUICK: little})
    desk.shelve(11.0, QUICK, 71.0)
    assert desk.judge(12.0, (QUICK,), {QUICK: more}) == []


class DeskMachine(RuleBasedStateMachine):
    """The desk beside the model, whatever happens to both in whatever order."""

    @initialize(removed=st.sets(A_NAME, max_size=1))
    def open(self, removed: set[str]) -> None:
        self.desk = AlarmDesk(MACHINE_CATALOGUE, removed)
        self.model = {name: ModelAlarm(MACHINE_CATALOGUE[name]) for name in NAMES}
        for name in removed:
            self.model[name].state = OUT_OF_SERVICE
        self.suppressed: frozenset[str] = frozenset()
        self.time_s = 0.0
        # The state each alarm was last told to be in; one that was normal is suppressed without a word.
        self.told: dict[str, AlarmState] = {name: self.model[name].state for name in NAMES}

    def model_becomes(self, name: str, state: AlarmState) -> tuple[str, AlarmState]:
        self.model[name].state = state
        self.model[name].press(self.time_s)
        return (name, state)

    def model_suppresses(self, names: Collection[str]) -> list[tuple[str, AlarmState]]:
        changes = []
        for name in MACHINE_CATALOGUE:
            before = self.model[name].state
            self.model[name].held_back = name in names
            self.model[name].press(self.time_s)
            if name in names and before in (NORMAL, UNACKNOWLEDGED, ACKNOWLEDGED, SAID_WRONG):
                change = self.model_becomes(name, SUPPRESSED)
                if before is not NORMAL:
                    changes.append(change)
            elif name not in names and before is SUPPRESSED:
                change = self.model_becomes(name, NORMAL)
                if self.told[name] is SUPPRESSED:
                    changes.append(change)
        return changes

    def model_unshelves(self, name: str) -> list[tuple[str, AlarmState]]:
        change = self.model_becomes(name, NORMAL)
        self.told[name] = NORMAL
        return [change, *self.model_suppresses(self.suppressed)]

    def model_settles(self, judged: Collection[str]) -> list[tuple[str, AlarmState]]:
        changes: list[tuple[str, AlarmState]] = []
        for name in NAMES:
            alarm = self.model[name]
            if alarm.state is SHELVED and alarm.shelved_until_s <= self.time_s:
                changes += self.model_unshelves(name)
            alarm.comes_back(self.time_s)
        flip = {NORMAL: UNACKNOWLEDGED, RETURNED: UNACKNOWLEDGED, UNACKNOWLEDGED: RETURNED, ACKNOWLEDGED: NORMAL}
        for name in NAMES:
            alarm = self.model[name]
            flip[SAID_WRONG] = NORMAL if alarm.is_falling else UNACKNOWLEDGED
            if alarm.gives_way_s <= self.time_s and (name in judged or not alarm.entry.waits_for_reading):
                alarm.known = True
                changes.append(self.model_becomes(name, flip[alarm.state]))
        return changes

    def agree(self, changes: list[AlarmChange], expected: list[tuple[str, AlarmState]]) -> None:
        """The desk tells exactly what the model expects, now, in that order."""
        assert [(change.alarm, change.state) for change in changes] == expected
        assert all(change.time_s == self.time_s for change in changes)
        for change in changes:
            self.told[change.alarm] = change.state

    @rule(step_s=st.sampled_from([0.0, 0.5, 1.0, 2.0, 4.5, 5.0, 20.0, 100.0, 300.0]))
    def time_passes(self, step_s: float) -> None:
        self.time_s += step_s
        self.agree(self.desk.tick(self.time_s), self.model_settles(()))

    @rule(judged=SOME_NAMES, found_names=SOME_NAMES)
    def judge(self, judged: set[str], found_names: set[str]) -> None:
        findings: Mapping[str, Finding] = {name: found() for name in found_names & judged}
        for name in judged:
            self.model[name].present = name in findings
            self.model[name].press(self.time_s)
            if name in findings:
                self.model[name].find(self.time_s)
        self.agree(self.desk.judge(self.time_s, sorted(judged), findings), self.model_settles(judged))

    @rule()
    def acknowledge_all(self) -> None:
        expected = []
        for name in MACHINE_CATALOGUE:
            if self.model[name].state is UNACKNOWLEDGED:
                expected.append(self.model_becomes(name, ACKNOWLEDGED))
            elif self.model[name].state is RETURNED:
                expected.append(self.model_becomes(name, NORMAL))
        self.agree(self.desk.acknowledge(self.time_s), [*expected, *self.model_suppresses(self.suppressed)])

    @rule(name=A_NAME)
    def acknowledge(self, name: str) -> None:
        becomes = {UNACKNOWLEDGED: ACKNOWLEDGED, RETURNED: NORMAL}.get(self.model[name].state)
        if becomes is None:
            with pytest.raises(AlarmTransitionError):
                self.desk.acknowledge(self.time_s, name)
        else:
            expected = [self.model_becomes(name, becomes)]
            if becomes is NORMAL:
                self.told[name] = NORMAL
            expected += self.model_suppresses(self.suppressed)
            self.agree(self.desk.acknowledge(self.time_s, name), expected)

    @rule(name=A_NAME, for_s=st.sampled_from([1.0, 10.0, 60.0]))
    def shelve(self, name: str, for_s: float) -> None:
        if self.model[name].state in (SHELVED, OUT_OF_SERVICE):
            with pytest.raises(AlarmTransitionError):
                self.desk.shelve(self.time_s, name, self.time_s + for_s)
        else:
            expected = [self.model_becomes(name, SHELVED)]
            self.model[name].shelved_until_s = self.time_s + for_s
            self.agree(self.desk.shelve(self.time_s, name, self.time_s + for_s), expected)

    @rule(name=A_NAME)
    def unshelve(self, name: str) -> None:
        if self.model[name].state is not SHELVED:
            with pytest.raises(AlarmTransitionError):
                self.desk.unshelve(self.time_s, name)
        else:
            self.agree(self.desk.unshelve(self.time_s, name), self.model_unshelves(name))

    @rule(name=A_NAME)
    def say_wrong(self, name: str) -> None:
        alarm = self.model[name]
        if alarm.state in (SAID_WRONG, OUT_OF_SERVICE):
            with pytest.raises(AlarmTransitionError):
                self.desk.say_wrong(self.time_s, name)
            return
        becomes = SAID_WRONG
        if alarm.state in (RETURNED, NORMAL, SUPPRESSED):
            becomes = SUPPRESSED if alarm.state is SUPPRESSED else NORMAL
        if alarm.state is RETURNED:
            alarm.pressed_since_s = None
        if becomes is SAID_WRONG:
            alarm.is_falling = not alarm.present
            if alarm.state is SHELVED and alarm.is_falling:
                alarm.pressed_since_s = self.time_s
            alarm.rests_until_s = math.inf if alarm.entry.is_opinion else self.time_s + REST_S
        expected = [self.model_becomes(name, becomes)]
        self.told[name] = becomes
        expected += self.model_suppresses(self.suppressed)
        self.agree(self.desk.say_wrong(self.time_s, name), expected)

    @rule(name=A_NAME)
    def uphold(self, name: str) -> None:
        alarm = self.model[name]
        becomes = {SAID_WRONG: UNACKNOWLEDGED, NORMAL: NORMAL, SUPPRESSED: SUPPRESSED}.get(alarm.state)
        if becomes is None:
            with pytest.raises(AlarmTransitionError):
                self.desk.uphold(self.time_s, name)
        else:
            self.agree(self.desk.uphold(self.time_s, name), [self.model_becomes(name, becomes)])

    @rule(names=SOME_NAMES)
    def suppress(self, names: set[str]) -> None:
        self.suppressed = frozenset(names)
        self.agree(self.desk.suppress(self.time_s, self.suppressed), self.model_suppresses(names))

    @invariant()
    def every_state_is_the_models(self) -> None:
        """No alarm is ever in a state that nothing brought it to."""
        if hasattr(self, "desk"):
            assert {name: self.desk.state(name) for name in NAMES} == {n: a.state for n, a in self.model.items()}

    @invariant()
    def raised_and_due_follow_from_the_states(self) -> None:
        """What others read beside the states never disagrees with them."""
        if not hasattr(self, "desk"):
            return
        standing = {name for name in NAMES if self.desk.state(name) in (UNACKNOWLEDGED, ACKNOWLEDGED)}
        assert self.desk.stated == standing
        assert self.desk.raised == standing | {name for name in NAMES if self.desk.state(name) is SAID_WRONG}
        due_s = [alarm.gives_way_s for alarm in self.model.values() if not alarm.entry.waits_for_reading]
        due_s += [
            alarm.rests_until_s
            for alarm in self.model.values()
            if alarm.state is SAID_WRONG and alarm.pressed_since_s is None
        ]
        due_s += [alarm.shelved_until_s for alarm in self.model.values() if alarm.state is SHELVED]
        assert self.desk.due_s == min(due_s)

    @invariant()
    def whoever_listens_knows_every_state_but_silent_suppression(self) -> None:
        """The changes told add up to the states that are."""
        if hasattr(self, "desk"):
            for name in NAMES:
                state = self.desk.state(name)
                assert self.told[name] is state or (state is SUPPRESSED and self.told[name] is NORMAL)


TestAgainstTheModel = DeskMachine.TestCase
TestAgainstTheModel.settings = settings(
    max_examples=120, stateful_step_count=40, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
