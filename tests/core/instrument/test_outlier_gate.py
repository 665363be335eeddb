"""The outlier gate: sparks out, steps through, never locked out."""

import math
import random

import pytest

from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.model import Quality

GOOD, HELD = Quality.GOOD, Quality.HELD


def judged(temps_c: list[float], interval_s: float = 1.0, gate: OutlierGate | None = None) -> list[Quality]:
    """Feed readings at an even pace; gives what the gate says of each."""
    gate = gate or OutlierGate()
    return [gate.feed(interval_s * n, temp_c) for n, temp_c in enumerate(temps_c)]


def settled(temp_c: float = 100.0) -> list[float]:
    return [temp_c] * 5


class TestTheFirstReadings:
    @pytest.mark.parametrize("spark", range(4))
    def test_are_believed_from_the_third_that_agrees_on_though_a_spark_came_between(self, spark: int) -> None:
        """A board that speaks each five seconds would else need five or six for it."""
        temps_c = [100.0, 101.0, 102.0, 101.0]
        temps_c[spark] = 300.0
        assert judged(temps_c, 5.0).index(GOOD) == (3 if spark < 3 else 2)
        assert judged([100.0, 300.0, 500.0, 101.0, 700.0], 5.0) == [HELD] * 5


class TestASpark:
    @pytest.mark.parametrize("size_c", [20.0, 60.0, 400.0, -20.0, -400.0])
    def test_is_held_and_what_follows_it_is_not(self, size_c: float) -> None:
        assert judged([*settled(), 100.0 + size_c, 100.0])[5:] == [HELD, GOOD]

    def test_of_two_readings_is_held_as_well(self) -> None:
        """Sparks come in pairs often enough, and now and then a third of their size with them."""
        assert judged([*settled(), 300.0, 300.0, 100.0])[5:] == [HELD, HELD, GOOD]
        assert judged([*settled(), 300.0, 300.0, 308.0, 100.0])[5:] == [HELD, HELD, HELD, GOOD]

    def test_after_a_gap_is_held_too(self) -> None:
        """However long the gap, it excuses only so much."""
        gate = OutlierGate()
        judged(settled(), gate=gate)
        assert gate.feed(600.0, 160.0) is HELD
        assert gate.feed(601.0, 101.0) is GOOD

    @pytest.mark.parametrize("sign", [1.0, -1.0])
    @pytest.mark.parametrize("gap_s", [2.0, 3.0, 4.0])
    def test_after_a_dropout_on_a_fast_ramp_is_held(self, gap_s: float, sign: float) -> None:
        """90 °C/min, and a spark of 23 °C against it after two seconds without a reading: once a false ramp-high.

        The ramp has gone on meanwhile, so the spark stands nearer to the last believed reading than it is large.
        """
        gate, ramp = OutlierGate(), sign * 1.5
        for second in range(60):
            gate.feed(float(second), 500.0 + ramp * second)
        spark_s = 59.0 + gap_s
        assert gate.feed(spark_s, 500.0 + ramp * spark_s - sign * 19.0) is HELD
        assert gate.feed(spark_s + 1.0, 500.0 + ramp * (spark_s + 1.0)) is GOOD

    @pytest.mark.parametrize("gap_s", [1.0, 2.0, 5.0, 30.0])
    def test_gap_and_a_ramp_turned_back_are_believed_within_the_tolerance(self, gap_s: float) -> None:
        """What the course led to is a guess; where the last reading stood is none."""
        gate = OutlierGate()
        for second in range(60):
            gate.feed(float(second), 500.0 + 1.5 * second)
        assert gate.feed(59.0 + gap_s, 588.5 - 5.0) is GOOD

    def test_as_the_first_reading_does_not_lock_the_gate(self) -> None:
        """Nothing is believed until three readings agree, so an odd first one is only one odd one."""
        assert judged([420.0, 20.0, 20.1, 20.0, 20.2])[1:] == [HELD, HELD, GOOD, GOOD]

    def test_pair_at_the_very_start_does_not_lock_the_gate(self) -> None:
        assert judged([420.0, 420.0, 20.0, 20.1, 20.0])[-1] is GOOD

    def test_is_counted(self) -> None:
        gate = OutlierGate()
        judged([*settled(), 300.0, 300.0, 100.0], gate=gate)
        assert gate.dropped == 2 + 2  # the first two of a cold start, and the pair


class TestATrueStep:
    @pytest.mark.parametrize("size_c", [20.0, 55.0, -20.0, -55.0])
    def test_is_followed_on_its_third_reading(self, size_c: float) -> None:
        """So much within five seconds may well be the furnace."""
        after_c = 100.0 + size_c
        assert judged([*settled(), after_c, after_c + 0.5, after_c], 5.0)[5:] == [HELD, HELD, GOOD]

    @pytest.mark.parametrize("size_c", [30.0, 300.0, -30.0, -300.0])
    def test_that_no_furnace_makes_is_followed_on_its_fourth(self, size_c: float) -> None:
        after_c = 100.0 + size_c
        assert judged([*settled(), after_c, after_c + 0.5, after_c, after_c])[5:] == [HELD, HELD, HELD, GOOD]

    def test_that_goes_on_rising_is_followed_too(self) -> None:
        """15 °C a second: no two readings alike, and yet they agree."""
        assert GOOD in judged([*settled(), *(100.0 + 15.0 * n for n in range(1, 6))])[5:8]

    def test_of_ten_degrees_a_second_is_not_even_held(self) -> None:
        assert HELD not in judged([*settled(), *(100.0 + 10.0 * n for n in range(1, 30))])[5:]

    @pytest.mark.parametrize("interval_s", [0.05, 1.0, 5.0])
    @pytest.mark.parametrize("c_per_s", [-50.0, -6.7, 6.7, 50.0])
    def test_never_locks_the_gate_out(self, c_per_s: float, interval_s: float) -> None:
        """However fast it goes: of ten readings in a row at least one is believed."""
        temps_c = [*settled(), *(100.0 + c_per_s * interval_s * n for n in range(1, 60))]
        said = judged(temps_c, interval_s)[5:]
        assert all(GOOD in said[n : n + 11] for n in range(len(said) - 11))

    def test_after_pure_garbage_is_found_again(self) -> None:
        """A plug that crackles for a minute; then it is 90 degrees cooler."""
        rng = random.Random(5)
        temps_c = [*settled(), *(rng.uniform(-200.0, 1300.0) for _ in range(60)), *[10.0] * 12]
        assert judged(temps_c)[-1] is GOOD


class TestWhatIsFollowed:
    """Held readings that come to be believed went on from what was believed before, or had leapt away from it."""

    def test_is_no_leap_at_the_beginning(self) -> None:
        gate = OutlierGate()
        judged(settled(), gate=gate)
        assert (gate.followed, gate.leapt) == (2, 0)

    @pytest.mark.parametrize("c_per_s", [4.0, -4.0, 9.0])
    def test_is_a_climb_too_steep_for_it(self, c_per_s: float) -> None:
        gate = OutlierGate()
        judged([*settled(), *(100.0 + 5.0 * c_per_s * n for n in range(1, 4))], 5.0, gate)
        assert (gate.followed, gate.leapt) == (4, 0)

    @pytest.mark.parametrize("after_c", [400.0, 40.0])
    def test_has_leapt_where_no_climb_leads(self, after_c: float) -> None:
        gate = OutlierGate()
        judged([*settled(), after_c, after_c, after_c, after_c], 5.0, gate)
        assert (gate.followed, gate.leapt) == (2, 1)

    def test_has_leapt_where_it_goes_faster_than_any_probe(self) -> None:
        """On one line with what was before, and 200 °C a second all the same."""
        gate = OutlierGate()
        judged([*settled(), 300.0, 500.0, 700.0, 900.0], 1.0, gate)
        assert gate.leapt == 1

    @pytest.mark.parametrize("to_c", [20.0, 1400.0])
    @pytest.mark.parametrize("slow_s", [6.0, 10.0, 40.0])
    def test_is_a_probe_that_takes_up_other_surroundings(self, to_c: float, slow_s: float) -> None:
        """Cold metal on a hot probe, or a probe put into the melt: steep, one way, in no single leap."""
        gate = OutlierGate()
        settled_c = [800.0] * 5
        judged([*settled_c, *(to_c + (800.0 - to_c) * math.exp(-0.7 * n / slow_s) for n in range(1, 40))], 0.7, gate)
        assert gate.followed > 1
        assert gate.leapt == 0
