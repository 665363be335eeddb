"""Steps through a lag, and the other accounts of the same readings."""

import math

import numpy as np
import pytest

from rampwarden.core.explanation.step_fit import charge_odds, course_before, fit_step, lagged_step, turn_misfit

TIMES = [2.5 + 5.0 * n for n in range(-1, 17)]


def test_the_course_before_is_a_parabola_and_goes_on_as_a_line_after_a_minute() -> None:
    times = [-60.0 + 5.0 * n for n in range(13)]
    before = course_before(times, [800.0 + 0.5 * time_s for time_s in times], 0.0)
    assert before.level_c == pytest.approx(800.0, abs=0.01)
    assert before.c_per_s == pytest.approx(0.5, abs=0.001)
    assert before.at(200.0) == pytest.approx(900.0, abs=0.5)


@pytest.mark.parametrize("lag_s", [3.0, 6.0, 11.0, 19.0])
def test_a_step_is_found_with_its_size_and_lag(lag_s: float) -> None:
    offs = [-80.0 * lagged_step(time_s, lag_s) for time_s in TIMES]
    fitted = fit_step(TIMES, offs, 2.5, 0.3)
    assert fitted.lag_s == lag_s
    assert fitted.step_c == pytest.approx(-80.0, rel=0.05)
    assert fitted.misfit < 1.0


def test_a_bucket_before_a_step_shows_nothing_of_it_and_one_across_it_a_part() -> None:
    assert lagged_step(-3.0, 6.0) == 0.0
    assert 0.0 < lagged_step(0.0, 6.0) < lagged_step(2.5, 6.0) < lagged_step(60.0, 6.0) <= 1.0


def test_a_turn_of_the_heat_is_no_step_and_a_step_no_turn() -> None:
    turn = [-1.2 * (max(t, 0.0) - 50.0 * (1.0 - math.exp(-max(t, 0.0) / 50.0))) for t in TIMES]
    assert turn_misfit(TIMES, turn, 2.5, 0.3) < 1.0
    step = [-40.0 * lagged_step(time_s, 11.0) for time_s in TIMES]
    assert turn_misfit(TIMES, step, 2.5, 0.3) > fit_step(TIMES, step, 2.5, 0.3).misfit + 10.0


def test_cold_metal_and_an_open_lid_are_told_apart() -> None:
    dice = np.random.default_rng(5)
    noise = 0.5 * dice.standard_normal(len(TIMES))
    lid = [
        -100.0 * lagged_step(t, 8.0) - 0.3 * max(t - 20.0, 0.0) + float(n) for t, n in zip(TIMES, noise, strict=True)
    ]
    cold = [
        -90.0 * (lagged_step(t, 8.0) - lagged_step(t - 20.0, 8.0))
        - 180.0 * (1.0 - math.exp(-max(t, 0.0) / 45.0))
        + float(n)
        for t, n in zip(TIMES, noise, strict=True)
    ]
    assert charge_odds(TIMES, lid, fit_step(TIMES, lid, 2.5, 0.5), 0.5) < 0.0
    assert charge_odds(TIMES, cold, fit_step(TIMES, cold, 2.5, 0.5), 0.5) > 7.0
