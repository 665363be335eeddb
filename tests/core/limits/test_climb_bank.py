"""Long means of a climb: exact on lines, blind to what was not read, silent about what is over."""

import numpy as np
import pytest

from benchmarks.noise_model import Array
from rampwarden.core.limits.climb_bank import BankState, ClimbBank
from rampwarden.core.model import Noise
from rampwarden.core.noise_formulas import wider

WINDOW_S = 60.0
BUDGET_C = 10.0
ROUGH = Noise(0.32, 1.5, 30.0, 1.0)
QUIET = Noise(0.02, 0.02, 5.0, 1.0)


def made(noise: Noise = QUIET) -> ClimbBank:
    bank = ClimbBank(WINDOW_S)
    bank.set_noise(noise)
    return bank


def led(bank: ClimbBank, temps_c: Array, start_s: float = 0.0) -> list[BankState | None]:
    """Lead a bank along readings a second apart; gives what it says after each."""
    said = []
    if start_s == 0.0:
        bank.start(0.0, float(temps_c[0]))
    for second, temp_c in enumerate(temps_c.tolist()):
        if bank.course.feed(start_s + second, temp_c):
            bank.judge(BUDGET_C, 0.0, 0.5)
        said.append(bank.over)
    return said


def ramp(c_per_min: float, seconds: int, from_c: float = 500.0) -> Array:
    return from_c + c_per_min / 60.0 * np.arange(float(seconds))


@pytest.mark.parametrize("start_s", [0.0, 1.7e9])
def test_the_mean_climb_of_a_steady_ramp_is_the_climb(start_s: float) -> None:
    """12 °C a minute: 12 °C within the minute, whatever span it is averaged over and whatever the clock says."""
    bank = made()
    bank.start(start_s, 500.0)
    for second, temp_c in enumerate(ramp(12.0, 900).tolist()):
        if bank.course.feed(start_s + second, temp_c):
            bank.judge(BUDGET_C, 0.0, 0.5)
    assert bank.over is not None
    assert bank.over.climb_c == pytest.approx(12.0, abs=1e-3)


@pytest.mark.parametrize("c_per_min", [9.0, 9.99])
def test_a_ramp_within_the_limit_is_never_more_than_it(c_per_min: float) -> None:
    assert not any(led(made(), ramp(c_per_min, 2000)))


def test_a_bend_of_the_programme_cannot_make_it_more_than_the_greatest_climb() -> None:
    """Notches, holds and falls, none of which climbs more than 10 °C within the minute."""
    notches = np.repeat(np.arange(30.0) * 10.0, 61)
    saw = np.concatenate([ramp(9.95, 300, 500.0), ramp(-30.0, 60, 550.0), ramp(9.95, 300, 520.0)])
    for temps_c in (500.0 + notches, saw):
        assert not any(led(made(), temps_c))


def test_the_rougher_the_flame_the_longer_it_averages_and_it_does_tell() -> None:
    """1.2 times the limit: within seconds when quiet, within minutes when rough, in both cases told."""
    temps_c = np.concatenate([ramp(8.0, 900), ramp(12.0, 900, 620.0)])
    first = [next(n for n, each in enumerate(led(made(noise), temps_c)) if each) for noise in (QUIET, ROUGH)]
    assert 930 <= first[0] <= 940
    assert 1000 <= first[1] <= 1200


def test_what_is_over_is_told_no_more() -> None:
    """Ten minutes at 1.3 times the limit, then half of it: long means remember, the shorter ones deny."""
    temps_c = np.concatenate([ramp(8.0, 600), ramp(13.0, 600, 580.0), ramp(5.0, 600, 710.0)])
    said = led(made(ROUGH), temps_c)
    assert said[1190] is not None
    assert not any(said[1270:])


def test_what_was_not_read_says_nothing() -> None:
    """Two minutes without a reading, a line between: no mean that lies for half of it in there may speak."""
    bank = made()
    led(bank, ramp(8.0, 300))
    after = led(bank, ramp(8.0, 60, 620.0), 420.0)  # 40 °C in 121 s: twenty a minute on the line
    assert not any(after[:3])


def test_a_dip_is_replaced_by_a_line_from_where_it_began() -> None:
    """A lid for half a minute: the way back up is no climb, and neither is the way down one taken off."""
    bank = made()
    bank.start(0.0, 500.0)
    for second in range(900):
        away_c = 60.0 if 600 <= second < 630 else 0.0
        temp_c = 500.0 + 0.15 * second - away_c
        if 600 <= second < 640:
            continue
        if second == 640:
            bank.course.bridge(599.0, 640.0, temp_c)
        elif bank.course.feed(float(second), temp_c):
            bank.judge(BUDGET_C, 0.0, 0.5)
        assert bank.over is None
    assert bank.course._last_c == pytest.approx(0.15 * 899.0)
    climb_c = (bank.course.sums[-1] - bank.course.sums[-31] - bank.course.sums[-121] + bank.course.sums[-151]) / 15.0
    assert climb_c == pytest.approx(9.0, abs=0.05)


def test_bridging_rewinds_what_was_led_into_the_dip() -> None:
    """Readings on the way down were taken in before it was known for a dip."""
    bank = made()
    bank.start(0.0, 500.0)
    for second in range(300):
        bank.course.feed(float(second), 500.0)
    for second in range(300, 320):
        bank.course.feed(float(second), 440.0)
    bank.course.bridge(299.0, 340.0, 500.0)
    assert bank.course.sums[-1] == pytest.approx(0.0, abs=30.0)


def test_the_margin_is_wider_while_the_noise_is_hardly_known() -> None:
    """By half in the first quarter of an hour, a thirtieth after forty minutes, and by the spread at all times."""
    young, old = Noise(0.1, 0.7, 12.0, 1.0, learnt_s=300.0), Noise(0.1, 0.7, 12.0, 1.0, learnt_s=2400.0)
    mixed = Noise(0.1, 0.7, 12.0, 1.0, spread=1.3)
    # Blocks of a few seconds have been seen by the hundred whatever the noise is; of slow ones few or none.
    assert [wider(each, 8.0) for each in (young, old, mixed)] == [1.0, 1.0, 1.0]
    assert wider(young, 64.0) == wider(young, 640.0) == 1.5
    assert wider(old, 64.0) == pytest.approx(1.03, abs=0.001)
    assert 1.0 < wider(mixed, 32.0) < wider(mixed, 128.0) < wider(mixed, 512.0) == pytest.approx(1.54, abs=0.01)


def test_memory_is_bounded() -> None:
    """Two windows of the longest mean, however long the heat."""
    bank = made()
    led(bank, ramp(9.0, 20_000))
    assert len(bank.course.sums) <= 2 * 1080 + 2
