"""Who runs the heats of `make bench-help`: hears, goes, does, and listens no more to a voice that was wrong twice."""

import numpy as np
import pytest

from benchmarks.furnaces.scenarios import Stream
from benchmarks.help.drawn import Drawn, draw
from benchmarks.help.ears import AGAIN_S, Ears
from benchmarks.help.errands import Matters
from benchmarks.help.outcome import LABELS, Outcome, PotTruth, compare
from benchmarks.help.person import HOT, OVEN, Person
from benchmarks.help.world import World
from rampwarden.core.model import AlarmState, Priority, StandingAlarm
from rampwarden.core.short_orders import ShortOrder

ORDER = "LOWER THE HEAT"


def standing(alarm: str = "ramp-high", order: str = ORDER, *, is_first: bool = True) -> StandingAlarm:
    return StandingAlarm(
        alarm, AlarmState.UNACKNOWLEDGED, Priority.HIGH, "it is", 0.0, "do it", order, is_first=is_first
    )


@pytest.fixture
def drawn() -> Drawn:
    return draw("two-mass", 3, Stream.TUNING)


def first_done(ears: Ears, alarms: tuple[StandingAlarm, ...], from_s: int = 0) -> int | None:
    for second in range(from_s, from_s + 200):
        ears.listen(second, alarms)
        if ears.due(second, alarms) is not None:
            return second
    return None


def test_an_order_is_done_within_a_minute_of_hearing_it_and_given_time_to_work() -> None:
    ears = Ears(np.random.default_rng(1))
    done_s = first_done(ears, (standing(),))
    assert done_s is not None
    assert 10 <= done_s <= 60
    again_s = first_done(ears, (standing(),), done_s + 1)
    assert again_s is not None
    assert again_s >= done_s + AGAIN_S


def test_only_the_first_order_is_done_and_only_if_it_stands_when_one_gets_there() -> None:
    ears = Ears(np.random.default_rng(1))
    assert first_done(ears, (standing(is_first=False),)) is None
    assert ears.listen(300, (standing(),)) == "ramp-high"
    assert [ears.due(second, ()) for second in range(300, 400)] == [None] * 100


def test_a_voice_that_was_wrong_twice_is_listened_to_no_more_and_others_are() -> None:
    ears = Ears(np.random.default_rng(1))
    ears.learn(5, "ramp-high", ORDER, was_so=False)
    assert ears.believes("ramp-high")
    ears.learn(6, "ramp-high", ORDER, was_so=True)
    ears.learn(7, "ramp-high", ORDER, was_so=False)
    assert first_done(ears, (standing(),)) is None
    assert first_done(ears, (standing("flame-out", "CLOSE THE GAS VALVE"),), 300) is not None
    assert ears.false_errands == 2


@pytest.mark.parametrize(("order", "turns"), [("EASE THE HEAT", -1), (ORDER, -1), ("RAISE THE HEAT", 1)])
def test_who_obeys_turns_the_dial_or_the_valve_the_right_way(drawn: Drawn, order: str, turns: int) -> None:
    world = World(drawn)
    person = Person(drawn, world)
    before_c = world.dial_c = 120.0
    person.obey(order)
    assert np.sign(world.dial_c - before_c) == turns
    world.lift()
    world.set_down()
    person.index, person.valve = HOT, 0.5
    world.light(0.5)
    person.obey(order)
    assert np.sign(world.controls.valve - 0.5) == turns


def test_the_flame_is_looked_after_and_the_lid_shut(drawn: Drawn) -> None:
    world = World(drawn)
    person = Person(drawn, world)
    world.lift()
    world.set_down()
    person.index, world.controls.lid_open = HOT, True
    person.obey(ShortOrder.CLOSE_LID)
    assert not world.lid_open
    person.valve, world.controls.lit = 0.4, False
    person.obey(ShortOrder.CLOSE_GAS)
    assert person.busy
    for second in range(300):
        world.step()
        person.live(second)
    assert world.burns


def test_both_ways_of_running_a_heat_meet_the_same_day() -> None:
    """Nothing that is drawn depends on who is told what."""
    one, other = draw("layered", 5, Stream.TUNING), draw("layered", 5, Stream.TUNING)
    assert (one.absences, one.gas, one.habits, one.mishap) == (other.absences, other.gas, other.habits, other.mishap)
    assert np.array_equal(one.chance, other.chance)
    assert np.array_equal(one.spot, other.spot)
    assert one.gas != draw("layered", 5, Stream.REPORTING).gas


def test_the_pots_lot_is_judged_by_its_own_temperature(drawn: Drawn) -> None:
    """A climb of 50 °C in a quarter of an hour is twice the oven's limit; a pot never dried is carried over undried."""
    truth = PotTruth(drawn.schedule)
    for second in range(1800):
        truth.follow(float(second), 20.0 + 50.0 * second / 900.0, OVEN, starved=False)
    truth.carried()
    out = truth.finish(done=False)
    assert out.wet_ratio == pytest.approx(2.0, abs=0.01)
    assert out.over_min == pytest.approx(22.5, abs=0.1)
    assert (out.undried, out.unfinished) == (1.0, 1.0)
    assert out.soak_off_min == pytest.approx(30.0)


def test_a_pot_that_falls_for_want_of_gas_is_lost(drawn: Drawn) -> None:
    truth = PotTruth(drawn.schedule)
    for second, temp_c in enumerate((800.0, 790.0, 660.0)):
        truth.follow(float(second), temp_c, HOT, starved=True)
    assert truth.outcome.lost == 0.0
    truth.follow(3.0, 640.0, HOT, starved=True)
    assert truth.outcome.lost == 1.0


def test_pairs_are_compared_heat_by_heat() -> None:
    """Large heats and small ones differ more from each other than either way of running them."""
    pairs = [(Outcome(dose_min=base), Outcome(dose_min=base - 5.0)) for base in (20.0, 200.0, 90.0)]
    row = next(each for each in compare(pairs) if each.name == "dose_min")
    assert (row.difference, row.half, row.verdict) == (pytest.approx(-5.0), pytest.approx(0.0), "better")
    assert {each.name for each in compare(pairs)} == set(LABELS)


@pytest.mark.parametrize(("turned_up_c", "was_so"), [(150.0, True), (2.0, False)])
def test_to_ease_the_heat_is_no_errand_for_nothing_ahead_of_a_climb_that_comes(
    drawn: Drawn, turned_up_c: float, was_so: bool
) -> None:
    world, truth = World(drawn), PotTruth(drawn.schedule)
    matters = Matters(world, truth)
    world.dial_c += turned_up_c
    for second in range(60):
        world.step()
        truth.follow(float(second), world.pot_c, OVEN, starved=False)
        matters.follow()
    pot_c = world.pot_c
    assert truth.ratio < 0.9
    assert matters.is_so(ShortOrder.EASE_HEAT, OVEN) is was_so
    assert world.pot_c == pot_c
