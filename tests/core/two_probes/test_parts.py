"""The parts of what two probes settle, each by courses worked out by hand."""

import random
from collections.abc import Callable, Iterator

import pytest

from rampwarden.core.two_probes import Between, Settled, TwoProbes
from rampwarden.core.two_probes.expected import Expected
from rampwarden.core.two_probes.pairs import LENGTH_S, Pair, PairMeter
from rampwarden.core.two_probes.parting import Parting
from rampwarden.core.two_probes.pot_law import PotLaw
from rampwarden.core.two_probes.unseated import Unseated

Course = Callable[[float], float]


def followed(chamber_c: Course, seconds: int, follows_s: float = 120.0, start_c: float = 20.0) -> list[float]:
    """Give the pot's course each second when it follows a chamber by Newton's law."""
    pot_c, course = start_c, []
    for second in range(seconds):
        course.append(pot_c)
        pot_c += (chamber_c(float(second)) - pot_c) / follows_s
    return course


def climbing(time_s: float) -> float:
    """Give a chamber that climbs at 15 °C/min from 100 °C, with a hand's waves on it."""
    return 100.0 + 0.25 * time_s + (10.0 if int(time_s / 240.0) % 2 else 0.0)


def pairs(pot_c: Course, chamber_c: Course, seconds: int, noise_c: float = 0.3) -> Iterator[Pair]:
    """Give the pairs of two courses with some noise."""
    dice = random.Random("pairs")
    for number in range(round(seconds / LENGTH_S)):
        time_s = (number + 0.5) * LENGTH_S
        yield Pair(time_s, pot_c(time_s) + dice.gauss(0.0, noise_c), chamber_c(time_s) + dice.gauss(0.0, noise_c))


def settle(pot_c: Course, chamber_c: Course, seconds: int, *, soaks: bool = False) -> list[Settled]:
    """Give what is found of readings, one a second of each probe."""
    dice, both, found = random.Random("readings"), TwoProbes(), []
    both.enter(0.0, heats=True, soaks=soaks, carries=False)
    for second in range(seconds):
        time_s = float(second)
        for on_pot, course in ((True, pot_c), (False, chamber_c)):
            settled = both.feed(time_s, course(time_s) + dice.gauss(0.0, 0.5), on_pot=on_pot)
            if settled is not None:
                found.append(settled)
    return found


def test_a_pair_holds_what_both_showed_in_the_same_ten_seconds() -> None:
    """And where one of them is silent there is none."""
    meter, found = PairMeter(), []
    for second in range(40):
        for on_pot in (True, False):
            if not on_pot and 10 <= second < 20:
                continue
            pair = meter.feed(float(second), 100.0 + second + (0.0 if on_pot else 50.0), on_pot=on_pot)
            if pair is not None:
                found.append(pair)
    assert [round(pair.time_s, 1) for pair in found] == [4.5, 24.5]
    assert found[0].pot_c == pytest.approx(104.5)
    assert found[0].chamber_c == pytest.approx(154.5)


def test_the_pots_law_is_learnt_and_foretells_its_climb() -> None:
    """Within a tenth, of a pot whose law has another form than the one that is learnt first."""
    course = followed(climbing, 2400)
    law, passed = PotLaw(), []
    for pair in pairs(lambda time_s: course[int(time_s)], climbing, 2400):
        law.feed(pair)
        passed.append(pair)
    assert law.is_known
    last = passed[-24:]
    assert law.foretold_k(last) == pytest.approx(last[-1].pot_c - last[0].pot_c, rel=0.1)
    assert law.follows_s(passed[-1].pot_c) == pytest.approx(120.0, rel=0.3)


def test_a_law_that_has_seen_no_climb_foretells_nothing() -> None:
    """Noise on a soak is no climb."""
    law = PotLaw()
    for pair in pairs(lambda _: 900.0, lambda _: 910.0, 3600, noise_c=1.0):
        law.feed(pair)
    assert not law.is_known


def test_expected_follows_the_law_through_a_turn_of_the_chamber() -> None:
    """A flame turned up bends the pot as its law says: no step, where a straight line would see one."""

    def chamber_c(time_s: float) -> float:
        return climbing(time_s) + max(0.0, time_s - 2000.0)

    course = followed(chamber_c, 2200)
    law, passed = PotLaw(), []
    for pair in pairs(lambda time_s: course[int(time_s)], chamber_c, 2200, noise_c=0.0):
        if pair.time_s < 2000.0:
            law.feed(pair)
        passed.append(pair)
    begin = next(number for number, pair in enumerate(passed) if pair.time_s > 2000.0)
    expected = Expected(law, passed[begin - 9 : begin])
    beside = [expected.beside(pair) for pair in passed[begin : begin + 10]][-1]
    assert abs(beside.pot_k) < 3.0
    assert beside.foretold_k > 15.0
    assert beside.ignored_k > 15.0


def test_a_pots_probe_that_slips_is_named_and_a_lid_is_not() -> None:
    """A step of one alone; under a lid both fall."""
    course = followed(climbing, 3000)

    def slipped(time_s: float) -> float:
        return course[int(time_s)] - (60.0 if time_s > 2400.0 else 0.0)

    def under_a_lid(time_s: float) -> float:
        return climbing(time_s) - (90.0 if time_s > 2400.0 else 0.0)

    alone = settle(slipped, climbing, 3000)
    assert [each.between for each in alone] == [Between.POT_PROBE_STEPPED]
    assert alone[0].changed_k == pytest.approx(-60.0, abs=6.0)
    assert alone[0].since_s == pytest.approx(2400.0, abs=25.0)
    assert settle(slipped, under_a_lid, 2600) == []


def test_a_pot_that_falls_while_the_chamber_leaps_as_well_is_no_probe() -> None:
    """Cold metal under an open lid: the chamber's dip is small beside it, and is there."""
    course = followed(climbing, 3000)

    def charged(time_s: float) -> float:
        return course[int(time_s)] - (160.0 if time_s > 2400.0 else 0.0)

    def under_a_lid(time_s: float) -> float:
        return climbing(time_s) - (65.0 if 2400.0 < time_s < 2430.0 else 0.0)

    assert Between.POT_PROBE_STEPPED not in [each.between for each in settle(charged, under_a_lid, 3000)]


def test_a_chambers_probe_that_slips_is_named_and_a_flame_that_goes_out_is_not() -> None:
    """The pot ignores the one and follows the other."""

    def fallen(time_s: float) -> float:
        return climbing(time_s) - (90.0 if time_s > 2400.0 else 0.0)

    ignoring, following = followed(climbing, 3000), followed(fallen, 3000)
    found = settle(lambda time_s: ignoring[int(time_s)], fallen, 3000)
    assert [each.between for each in found] == [Between.CHAMBER_PROBE_STEPPED]
    assert found[0].foretold_k < -15.0
    assert settle(lambda time_s: following[int(time_s)], fallen, 3000) == []


def test_a_pot_whose_metal_melts_lags() -> None:
    """It stands while its chamber climbs on."""
    course = followed(climbing, 3000)

    def melts(time_s: float) -> float:
        return course[min(int(time_s), 2300)]

    found = settle(melts, climbing, 2800)
    assert [each.between for each in found] == [Between.POT_LAGS]
    assert found[0].foretold_k > found[0].changed_k + 25.0


def test_a_probe_that_hangs_beside_its_pot_is_told_and_a_slow_pot_is_not() -> None:
    """The chamber is at 700 °C; what shows 90 °C and hardly climbs touches nothing."""
    beside, slow = Unseated(), Unseated()
    found = [each for pair in pairs(lambda _: 90.0, lambda _: 700.0, 600) if (each := beside.feed(pair)) is not None]
    assert [each.between for each in found] == [Between.OUT_OF_SEAT]
    course = followed(lambda _: 700.0, 600, follows_s=1200.0, start_c=90.0)
    assert all(slow.feed(pair) is None for pair in pairs(lambda time_s: course[int(time_s)], lambda _: 700.0, 600))


@pytest.mark.parametrize(
    ("pot_k_per_h", "chamber_k_per_h", "between"),
    [
        (0.0, 25.0, Between.POT_PROBE_DRIFTS),
        (0.0, -35.0, Between.CHAMBER_PROBE_DRIFTS),
        (0.0, 0.0, None),
        (-30.0, -30.0, None),
        (-30.0, -60.0, None),
    ],
    ids=["the gap grows", "the gap shrinks", "it stands", "both fall", "the soak sags"],
)
def test_a_gap_that_changes_on_a_held_soak_names_its_suspect(
    pot_k_per_h: float, chamber_k_per_h: float, between: Between | None
) -> None:
    """A gap that grows: the pot reads low; one that shrinks steadily: the chamber does; not where nobody holds it."""
    law = PotLaw()
    climbed = followed(climbing, 2400)
    for pair in pairs(lambda time_s: climbed[int(time_s)], climbing, 2400):
        law.feed(pair)
    parting = Parting(law)
    found = [
        each.between
        for pair in pairs(
            lambda time_s: 1000.0 + pot_k_per_h * time_s / 3600.0,
            lambda time_s: 1040.0 + chamber_k_per_h * time_s / 3600.0,
            5400,
            noise_c=1.0,
        )
        if (each := parting.feed(pair)) is not None
    ]
    assert found == ([] if between is None else [between])


def test_a_lining_that_warms_through_is_no_drift() -> None:
    """The gap shrinks by the root of time: fast, and ever more slowly."""
    law = PotLaw()
    climbed = followed(climbing, 2400)
    for pair in pairs(lambda time_s: climbed[int(time_s)], climbing, 2400):
        law.feed(pair)
    parting = Parting(law)
    for pair in pairs(lambda _: 1000.0, lambda time_s: 1080.0 - 60.0 * (1.0 - 2.718 ** (-time_s / 1500.0)), 5400):
        assert parting.feed(pair) is None


def test_nothing_is_settled_while_the_pot_is_carried_nor_while_it_stands_elsewhere() -> None:
    """In an oven of its own it is hot, and the furnace's chamber cold; in the transfer it falls by itself."""
    both, found = TwoProbes(), []
    both.enter(0.0, heats=True, soaks=False, carries=False)
    for second in range(4000):
        time_s = float(second)
        if second == 3000:
            both.enter(time_s, heats=False, soaks=False, carries=True)
        pot_c = 20.0 + 0.05 * time_s if second < 3000 else 170.0 - 0.1 * (time_s - 3000.0)
        for on_pot, temp_c in ((True, pot_c), (False, 20.0 + (300.0 if second > 3300 else 0.0))):
            settled = both.feed(time_s, temp_c, on_pot=on_pot)
            if settled is not None:
                found.append(settled)
    assert found == []
    assert both.standing is None


def test_a_step_of_a_pot_that_stands_in_an_oven_of_its_own_is_no_matter_of_the_chambers_probe() -> None:
    """The furnace is cold, and its probe has gone its way: that says nothing of the oven."""

    def pot_c(time_s: float) -> float:
        return 60.0 + 0.05 * time_s - (45.0 if time_s > 2400.0 else 0.0)

    assert settle(pot_c, lambda _: 20.0, 3000) == []
