"""The gas followed through a heat: how early a bottle that falls short is told, what a weight and a change do."""

import pytest

from rampwarden.core.model import GasState
from rampwarden.core.physics.bottle import NET_MJ_PER_KG, Bottle, BottleUnderWay
from rampwarden.core.physics.bottle_watch import BottleWatch, Burning, gas_words
from rampwarden.core.physics.gas_supply import GasSupply, burns_kw
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.plan.gas import Demand, Withdrawal, withdraw

NINE_KG = Bottle(full_kg=9.0, content_kg=8.8, steel_kg=8.0, diameter_m=0.31)
LONG = [Burning(8 * 3600.0, 20.0)]


def supply(bottle: Bottle = NINE_KG, ambient_c: float = 10.0, kw: float = 20.0, **known: object) -> GasSupply:
    """Give a bottle with a burner of one power."""
    return GasSupply(bottle, ambient_c, ambient_c, 1.0, {"*": kw}, **known)  # type: ignore[arg-type]


def run(
    watch: BottleWatch, seconds: int, kw: float = 20.0, from_s: int = 0, needs: list[Burning] | None = None
) -> None:
    """Burn for so long, a reading every five seconds, looking ahead as it is asked for."""
    for time_s in range(from_s, from_s + seconds + 1, 5):
        if watch.feed(float(time_s), kw):
            watch.look_ahead(float(time_s), LONG if needs is None else needs)


def told_s(watch: BottleWatch, kw: float, until_s: float) -> float | None:
    """Burn on until a time; gives when it was first found short, s."""
    for time_s in range(0, int(until_s), 5):
        if watch.feed(float(time_s), kw):
            watch.look_ahead(float(time_s), [Burning(8 * 3600.0, kw)])
            if watch.finding(raised=False) is not None:
                return float(time_s)
    return None


def fares(bottle: Bottle, ambient_c: float, kw: float) -> Withdrawal:
    """Give how the plan's reckoning has it fare."""
    return withdraw(bottle, ambient_c, 1.0, [Demand(86_400.0, kw)])


WORKED = pytest.mark.parametrize(
    ("kw", "ambient_c", "butane_share", "short_min", "left_kg"),
    [
        (20.0, 10.0, 0.0, 103, 6.1),
        (12.0, 0.0, 0.0, 135, 6.7),
        (20.0, 10.0, 0.1, 96, 6.4),
        (20.0, 10.0, 0.2, 88, 6.6),
        (20.0, 10.0, 0.4, 70, 7.1),
    ],
)
"""8.8 kg in a bottle of 9, worked out apart from this."""


@WORKED
def test_the_worked_bottles_are_told_at_least_a_quarter_of_an_hour_ahead(
    kw: float, ambient_c: float, butane_share: float, short_min: float, left_kg: float
) -> None:
    """With what will be left in them; and butane brings it sooner."""
    bottle = Bottle(9.0, 8.8, 8.0, 0.31, butane_share)
    truth = fares(bottle, ambient_c, kw)
    assert truth.short_at_s is not None
    assert truth.short_at_s / 60.0 == pytest.approx(short_min, rel=0.10)
    assert truth.short_left_kg == pytest.approx(left_kg, abs=0.15)
    watch = BottleWatch(supply(bottle, ambient_c, kw))
    first_s = told_s(watch, kw, truth.short_at_s)
    assert first_s is not None
    assert truth.short_at_s - first_s >= 35 * 60.0
    finding = watch.finding(raised=False)
    assert finding is not None
    minutes = float(finding.what.split("short in about ")[1].split(" min")[0])
    assert 60.0 * minutes == pytest.approx(truth.short_at_s - first_s, abs=120.0)
    assert float(finding.what.split(" with ")[1].split(" kg")[0]) == pytest.approx(truth.short_left_kg, abs=0.1)


@WORKED
def test_a_bottle_that_is_worse_than_reckoned_is_still_told_in_time(
    kw: float, ambient_c: float, butane_share: float, short_min: float, left_kg: float
) -> None:
    """A burner that takes a tenth more, three degrees colder than it was set: a quarter of an hour is left."""
    bottle = Bottle(9.0, 8.8, 8.0, 0.31, butane_share)
    truth = fares(bottle, ambient_c - 3.0, 1.1 * kw)
    assert truth.short_at_s is not None
    first_s = told_s(BottleWatch(supply(bottle, ambient_c, kw)), kw, truth.short_at_s)
    assert first_s is not None
    assert truth.short_at_s - first_s >= 15 * 60.0


def test_it_takes_what_the_burner_takes_and_the_plan_reckons_the_same() -> None:
    """One bottle for both: content, temperature and pressure to rounding."""
    watch = BottleWatch(supply())
    run(watch, 3600)
    truth = withdraw(NINE_KG, 10.0, 1.0, [Demand(3600.0, 20.0)])
    state, figures = watch.state(), watch.figures()
    assert state.left_kg == pytest.approx(truth.left_kg, abs=0.01)
    assert state.liquid_c == pytest.approx(truth.coldest_c, abs=0.1)
    assert state.gauge_bar == pytest.approx(truth.lowest_bar, abs=0.02)
    assert figures.used_kg == pytest.approx(20.0 * 3600.0 / (NET_MJ_PER_KG * 1000.0), abs=0.01)
    assert (figures.burned_s, figures.short_at_s, figures.weighed_kg) == (3600.0, None, None)


def test_a_heat_that_is_done_in_time_is_not_told_of_a_bottle_that_would_not_have_lasted() -> None:
    """Then it says what will be left; and when the heat drags on, it is reckoned again."""
    watch = BottleWatch(supply())
    run(watch, 3600, needs=[Burning(600.0, 20.0)])
    assert watch.finding(raised=False) is None
    state = watch.state()
    assert state.short_in_s is None
    assert state.end_left_kg == pytest.approx(8.8 - 4200.0 * 20.0 / (NET_MJ_PER_KG * 1000.0), abs=0.05)
    run(watch, 600, from_s=3605, needs=[Burning(3600.0, 20.0)])
    finding = watch.finding(raised=False)
    assert finding is not None
    assert (watch.state().short_in_s or 0.0) > (finding.value or 0.0)
    assert watch.state().end_left_kg is None


def test_what_is_told_is_not_taken_back_for_a_minute_more_or_less() -> None:
    """What the heat still needs is guessed anew each time: short a little beyond it counts for one that was told."""
    watch = BottleWatch(supply())
    run(watch, 4200)
    finding = watch.finding(raised=False)
    assert finding is not None
    spare_s = finding.value or 0.0
    watch.look_ahead(4200.0, [Burning(spare_s / 1.2, 20.0)])
    assert watch.finding(raised=False) is None
    assert watch.finding(raised=True) is not None
    watch.look_ahead(4200.0, [Burning(spare_s / 1.4, 20.0)])
    assert watch.finding(raised=True) is None


def test_gas_that_burns_for_nobody_knows_how_long_is_looked_at_to_the_horizon() -> None:
    """Short is told, and nothing is promised of an end."""
    watch = BottleWatch(supply())
    run(watch, 60, needs=[Burning(None, 20.0)])
    assert watch.state().short_in_s == pytest.approx(102 * 60.0, abs=180.0)
    watch = BottleWatch(supply(kw=2.0))
    run(watch, 60, kw=2.0, needs=[Burning(None, 2.0)])
    state = watch.state()
    assert (state.short_in_s, state.end_left_kg) == (None, None)


def test_a_bottle_that_is_not_drawn_from_warms_up_again_and_nothing_is_needed() -> None:
    """The flame is out, or the pot cools."""
    watch = BottleWatch(supply())
    run(watch, 3600)
    cold = watch.state()
    run(watch, 3600, kw=0.0, from_s=3605, needs=[])
    warm = watch.state()
    assert warm.left_kg == cold.left_kg
    assert warm.liquid_c > cold.liquid_c + 3.0
    assert (warm.kw, warm.short_in_s, watch.finding(raised=True)) == (0.0, None, None)


def test_a_changed_bottle_is_full_and_as_warm_as_the_air() -> None:
    """And what was about to fall short is so no longer."""
    watch = BottleWatch(supply())
    run(watch, 5400)
    assert watch.finding(raised=False) is not None
    watch.change()
    assert watch.finding(raised=True) is None
    run(watch, 10, from_s=5405)
    state = watch.state()
    assert state.left_kg == pytest.approx(9.0, abs=0.01)
    assert state.liquid_c == pytest.approx(10.0, abs=0.3)
    assert watch.figures().changes == 1


def test_two_bottles_share_what_the_burner_takes() -> None:
    """Each is drawn on half as hard and lasts more than twice as long; kilograms are told of both."""
    one, two = BottleWatch(supply()), BottleWatch(supply(count=2))
    for watch in (one, two):
        run(watch, 3600)
    assert two.figures().used_kg == pytest.approx(one.figures().used_kg, abs=0.02)
    assert two.state().left_kg == pytest.approx(2 * 8.8 - one.figures().used_kg, abs=0.02)
    assert two.state().gauge_bar > one.state().gauge_bar + 1.0


def test_a_weight_sets_right_what_is_left_and_how_fast_it_goes() -> None:
    """The burner takes a fifth more than was set: from the weight on it is reckoned with that."""
    watch = BottleWatch(supply(tare_kg=8.0, weighed=True))
    run(watch, 3600)
    reckoned_kg = 8.8 - watch.state().left_kg
    said = watch.weigh(8.0 + 8.8 - 1.2 * reckoned_kg)
    assert said == (
        f"{8.8 - 1.2 * reckoned_kg:.1f} kg left by weight, {8.8 - reckoned_kg:.1f} had been reckoned; "
        "reckoned on by the weight"
    )
    before_kg = watch.state().left_kg
    run(watch, 3600, from_s=3605)
    assert before_kg - watch.state().left_kg == pytest.approx(1.2 * reckoned_kg, rel=0.01)
    watch.weigh(8.0 + watch.state().left_kg)
    assert watch.figures().weighed_kg == pytest.approx(2.4 * reckoned_kg, abs=0.03)
    watch.change()
    assert watch.figures().weighed_kg is None


@pytest.mark.parametrize(
    ("tare_kg", "gross_kg", "words"),
    [
        (None, 14.0, "a weight tells nothing without the empty bottle's: [workshop] tare_kg"),
        (8.0, 3.0, "3 kg cannot be: a bottle weighs 8 to 17 kg"),
        (8.0, 41.0, "41 kg cannot be: a bottle weighs 8 to 17 kg"),
    ],
)
def test_a_weight_that_tells_nothing_changes_nothing(tare_kg: float | None, gross_kg: float, words: str) -> None:
    """Another scale's, or one without the empty bottle's."""
    watch = BottleWatch(supply(tare_kg=tare_kg, weighed=True))
    run(watch, 1800)
    before = watch.state()
    assert watch.weigh(gross_kg) == words
    assert watch.state().left_kg == before.left_kg


def test_a_probe_on_the_bottle_outweighs_the_reckoning() -> None:
    """What is seen is not reckoned, and the way ahead begins there."""
    watch = BottleWatch(supply())
    run(watch, 1800)
    before_s = watch.state().short_in_s
    watch.see_liquid(-15.0)
    assert watch.state().liquid_c == -15.0
    watch.look_ahead(1800.0, LONG)
    after_s = watch.state().short_in_s
    assert before_s is not None
    assert after_s is not None
    assert after_s < before_s - 600.0


def test_a_bottle_frozen_solid_stays_within_the_model() -> None:
    """Drawn on far beyond what it gives, it stops instead of leaving the curve of its pressure."""
    watch = BottleWatch(supply(kw=200.0))
    run(watch, 3600, kw=200.0, needs=[Burning(3600.0, 200.0)])
    assert -65.0 < watch.state().liquid_c < -40.0
    assert watch.state().short_in_s == 60.0
    assert "short now" in gas_words(watch.state())
    under_way = BottleUnderWay(Bottle(9.0, 0.0, 8.0, 0.31), 10.0)
    under_way.step(10.0, 1.0, 10.0)
    assert under_way.content_kg == 0.0


def test_where_gas_burns_is_one_rule() -> None:
    """Not in the oven, not while the pot is carried or cools; a segment that is named burns what it says."""
    schedule = Schedule(
        "heat",
        (
            Segment("oven", SegmentKind.RAMP, to_c=180.0),
            Segment("over", SegmentKind.TRANSFER),
            Segment("up", SegmentKind.RAMP, to_c=900.0),
            Segment("hold", SegmentKind.SOAK, at_c=900.0),
            Segment("down", SegmentKind.COOL, to_c=60.0),
        ),
    )
    kw = [burns_kw(schedule, index, {"*": 12.0, "hold": 9.0, "oven": 2.0}) for index in range(5)]
    assert kw == [2.0, 0.0, 12.0, 9.0, 0.0]
    assert [burns_kw(schedule, index, {"hold": 9.0}) for index in range(5)] == [0.0, 0.0, 0.0, 9.0, 0.0]
    assert burns_kw(schedule, 0, {"*": 12.0}) == 0.0


@pytest.mark.parametrize(
    ("gas", "words"),
    [
        (
            GasState(2, 13.26, -8.4, 3.1, 1.0, 20.0, None, None, 2.4),
            "2 bottles 13.3 kg left, liquid -8 °C, 3.1 bar · lasts, about 2.4 kg left at the end",
        ),
        (GasState(1, 8.8, 10.0, 5.35, 1.0, 0.0), "bottle 8.8 kg left, liquid 10 °C, 5.3 bar"),
    ],
)
def test_what_is_reckoned_is_said_in_one_line(gas: GasState, words: str) -> None:
    """How much, how cold, at what pressure, and how long."""
    assert gas_words(gas) == words


def lead_s(watch: BottleWatch, burns_kw: float, ambient_c: float, *, seen: bool) -> float:
    """Give how long before a true bottle that burns more and stands colder is short it is found, s."""
    truth = BottleUnderWay(NINE_KG, ambient_c)
    told_at_s: float | None = None
    for time_s in range(0, 4 * 3600, 5):
        if seen:
            watch.see_liquid(truth.liquid_c)
        if watch.feed(float(time_s), 20.0):
            watch.look_ahead(float(time_s), LONG)
        if told_at_s is None and watch.finding(raised=False) is not None:
            told_at_s = float(time_s)
        truth.step(5.0, burns_kw / (NET_MJ_PER_KG * 1000.0), ambient_c)
        if truth.gauge_bar < 1.0:
            return -1.0 if told_at_s is None else time_s - told_at_s
    raise AssertionError("it lasts")


def test_a_probe_on_the_bottle_tells_of_one_that_fares_far_worse_than_reckoned() -> None:
    """A burner that takes half as much again, six degrees colder: reckoned it is never told, seen 15 min ahead."""
    assert lead_s(BottleWatch(supply()), 30.0, 4.0, seen=False) < 0.0
    assert lead_s(BottleWatch(supply()), 30.0, 4.0, seen=True) >= 15 * 60.0


def test_what_a_probe_shows_is_shown_as_read_and_a_fallen_probe_is_not_believed() -> None:
    """In words and in the state; after a minute of silence it is reckoned again."""
    watch = BottleWatch(supply())
    run(watch, 600)
    watch.see_liquid(-3.0)
    assert "liquid -3 °C by its probe" in gas_words(watch.state())
    assert watch.state().liquid_seen
    watch.see_liquid(180.0)
    assert watch.state().liquid_c == pytest.approx(-3.0, abs=0.1)
    run(watch, 120, from_s=605)
    assert not watch.state().liquid_seen
    assert "by its probe" not in gas_words(watch.state())
