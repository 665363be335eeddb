"""The ceiling that will be passed: foretold about a minute ahead, and not while the heat holds below it."""

import math

import numpy as np
import pytest

from benchmarks.noise_model import CLASSES, Pace, simulate
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.limits.ceiling_forecast import CeilingForecast, CeilingOutlook
from rampwarden.core.limits.noise_meter import NoiseMeter
from rampwarden.core.model import Noise, Quality

QUIET = Noise(0.02, 0.05, 5.0, 1.0)


class TestTheCeiling:
    def outlooks(
        self, noise: str, c_per_s: float, ceiling_c: float, seed: int = 2
    ) -> list[tuple[float, CeilingOutlook]]:
        """Watch a heat at a steady ramp until its ceiling; gives what was foretold with the seconds that were left."""
        heats = simulate(
            lambda time_s: c_per_s * time_s, CLASSES[noise], round(ceiling_c / c_per_s), 1, seed, Pace(gaps_per_h=0.0)
        )
        gate, meter, ceiling = OutlierGate(), NoiseMeter(), CeilingForecast(ceiling_c)
        found = []
        for time_s, temp_c in zip(heats.time_s[:, 0].tolist(), heats.temp_c[:, 0].tolist(), strict=True):
            if gate.feed(time_s, temp_c) is Quality.GOOD:
                meter.feed(time_s, temp_c)
                one = ceiling.feed(time_s, temp_c, meter.noise)
                if one is not None:
                    found.append((ceiling_c / c_per_s - time_s, one))
        return found

    @pytest.mark.parametrize("c_per_s", [10.0 / 60.0, 50.0 / 60.0])
    def test_is_foretold_about_a_minute_ahead(self, c_per_s: float) -> None:
        """In a flame of middling roughness; a probe's lag of 5 s comes off."""
        leads_s = []
        for seed in range(5):
            leads_s.append(
                max(left_s for left_s, one in self.outlooks("mid", c_per_s, 1800.0 * c_per_s, seed) if one.present)
            )
        assert 45.0 < np.median(leads_s) < 75.0

    def test_is_told_with_the_ramp_and_the_time_that_is_left(self) -> None:
        left_s, one = self.outlooks("low", 10.0 / 60.0, 300.0)[-61]
        assert one.c_per_s == pytest.approx(10.0 / 60.0, rel=0.1)
        assert one.reach_in_s == pytest.approx(left_s + 5.0, abs=8.0)

    @pytest.mark.parametrize("noise", ["low", "mid", "high"])
    def test_is_not_foretold_while_the_heat_holds_below_it(self, noise: str) -> None:
        """Eight degrees below, for two hours: flicker is no ramp."""
        heats = simulate(lambda time_s: 0.0 * time_s + 1142.0, CLASSES[noise], 7200, 1, 15)
        gate, meter, ceiling = OutlierGate(), NoiseMeter(), CeilingForecast(1150.0)
        for time_s, temp_c in zip(heats.time_s[:, 0].tolist(), heats.temp_c[:, 0].tolist(), strict=True):
            if gate.feed(time_s, temp_c) is Quality.GOOD:
                meter.feed(time_s, temp_c)
                one = ceiling.feed(time_s, temp_c, meter.noise)
                assert one is None or not one.present

    def test_that_has_been_passed_is_reached_in_no_time(self) -> None:
        ceiling = CeilingForecast(100.0)
        said = [ceiling.feed(float(n), 80.0 + 0.5 * n, QUIET) for n in range(60)]
        assert said[-1] is not None
        assert (said[-1].present, said[-1].reach_in_s) == (True, 0.0)

    def test_below_which_the_heat_falls_is_never_reached(self) -> None:
        ceiling = CeilingForecast(1000.0)
        said = [ceiling.feed(float(n), 900.0 - 0.5 * n, QUIET) for n in range(60)]
        assert said[-1] is not None
        assert said[-1].reach_in_s == math.inf

    def test_is_judged_anew_after_a_start(self) -> None:
        ceiling = CeilingForecast(1000.0)
        for n in range(60):
            ceiling.feed(float(n), 900.0 + 1.5 * n, QUIET)
        ceiling.start(60.0)
        assert ceiling.feed(60.0, 300.0, QUIET) is None
        one = ceiling.feed(61.0, 300.0, QUIET)
        assert one is not None
        assert not one.present

    def test_is_not_foretold_while_the_heat_falls(self) -> None:
        """Up to a little above the ceiling and down again, 0.1 °C/s: who falls through it is not on the way to it."""
        ceiling = CeilingForecast(1000.0)
        falling = []
        for time_s in range(600):
            one = ceiling.feed(time_s, 1004.0 - 0.1 * abs(time_s - 300), QUIET)
            if one is not None and one.c_per_s < 0.0:
                falling.append(one.present)
        assert len(falling) > 250
        assert not any(falling)
