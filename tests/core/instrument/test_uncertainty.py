"""The stated uncertainty: each part by hand, the sum by the GUM, and what happens outside a tolerance class."""

import math

import pytest

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.instrument.uncertainty import (
    BoardFigures,
    Uncertainty,
    is_covered,
    ramp_uncertainty,
    temperature_uncertainty,
    tolerance_limit_c,
)
from rampwarden.core.model import Noise, Ramp, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters

TYPE_K = thermocouple("K")
NO_NOISE = Noise(white_c=0.0, flicker_c=0.0, flicker_s=5.0, interval_s=1.0)
EXACT = BoardFigures(gain=0.0, offset_uv=0.0, junction_c=0.0, junction_lag_s=0.0)


class TestATemperature:
    def test_of_class_2_wire_at_900_is_uncertain_by_its_tolerance_over_the_root_of_three(self) -> None:
        """6.75 °C of tolerance (IEC 60584-1), rectangular."""
        parts = temperature_uncertainty(TYPE_K, 2, 900.0, 25.0, NO_NOISE, board=EXACT)
        assert parts == Uncertainty(
            pytest.approx(6.75 / math.sqrt(3.0)), 0.0, 0.0, 0.0, drift=pytest.approx(5.0 / math.sqrt(3.0))
        )
        assert temperature_uncertainty(TYPE_K, 1, 900.0, 25.0, NO_NOISE, board=EXACT).tolerance == pytest.approx(
            2.078, abs=1e-3
        )

    def test_is_off_by_about_its_junctions_error(self) -> None:
        """1 °C of junction is 0.95 to 1.11 °C of type K between 100 and 1200 °C."""
        for temp_c in (100.0, 500.0, 900.0, 1200.0):
            board = BoardFigures(gain=0.0, offset_uv=0.0, junction_c=1.0)
            part = temperature_uncertainty(TYPE_K, 2, temp_c, 25.0, NO_NOISE, board=board).junction
            assert 0.94 < part * math.sqrt(3.0) < 1.12

    def test_is_off_by_what_a_racing_junctions_sensor_lags_behind(self) -> None:
        """3 °C/min and 30 s: another 1.5 °C."""
        parts = temperature_uncertainty(TYPE_K, 2, 500.0, 25.0, NO_NOISE, junction_c_per_s=0.05)
        still = temperature_uncertainty(TYPE_K, 2, 500.0, 25.0, NO_NOISE)
        assert parts.junction == pytest.approx(still.junction * math.hypot(1.0, 1.5))

    def test_is_off_by_gain_and_offset_of_the_board(self) -> None:
        """A tenth of a percent at 900 °C is 0.9 °C, ten microvolts are a quarter of a degree."""
        gain = temperature_uncertainty(TYPE_K, 2, 900.0, 0.0, NO_NOISE, board=BoardFigures(0.001, 0.0, 0.0))
        offset = temperature_uncertainty(TYPE_K, 2, 900.0, 0.0, NO_NOISE, board=BoardFigures(0.0, 10.0, 0.0))
        assert gain.board * math.sqrt(3.0) == pytest.approx(0.93, abs=0.01)
        assert offset.board * math.sqrt(3.0) == pytest.approx(0.25, abs=0.01)

    def test_carries_the_noise_of_its_heat(self) -> None:
        """White and flicker add up as squares."""
        noise = Noise(white_c=0.3, flicker_c=0.4, flicker_s=5.0, interval_s=1.0)
        assert temperature_uncertainty(TYPE_K, 2, 900.0, 25.0, noise).noise == pytest.approx(0.5)

    def test_combines_its_parts_as_squares(self) -> None:
        """Independent parts, GUM 5.1.2."""
        parts = Uncertainty(2.0, 1.0, 2.0, 4.0, drift=4.0)
        assert (parts.instrument, parts.combined) == (5.0, pytest.approx(math.sqrt(41.0)))

    def test_has_an_uncertainty_whatever_the_junction_reads(self) -> None:
        """Type B knows no temperature below zero; a board in the frost must not stop the statement."""
        parts = temperature_uncertainty(thermocouple("B"), 2, 900.0, -5.0, NO_NOISE)
        assert math.isfinite(parts.combined)


class TestTheToleranceClass:
    @pytest.mark.parametrize(
        ("temp_c", "limit_c", "covered"),
        [(20.0, 2.5, True), (573.0, 4.3, True), (1200.0, 9.0, True), (1300.0, 9.75, False)],
    )
    def test_is_carried_on_beyond_its_range_and_says_so(self, temp_c: float, limit_c: float, covered: bool) -> None:
        """Class 2 of type K ends at 1200 °C; 573 and 1200 °C as printed in digests of IEC 60584-1."""
        assert tolerance_limit_c(TYPE_K, 2, temp_c) == pytest.approx(limit_c, abs=0.01)
        assert is_covered(TYPE_K, 2, temp_c) is covered

    def test_that_a_type_does_not_have_counts_as_class_2_and_is_not_covered(self) -> None:
        """Type B has no class 1."""
        type_b = thermocouple("B")
        assert tolerance_limit_c(type_b, 1, 1000.0) == tolerance_limit_c(type_b, 2, 1000.0) == 2.5
        assert not is_covered(type_b, 1, 1000.0)
        assert is_covered(type_b, 2, 1000.0)


class TestARamp:
    RAMP = Ramp(time_s=0.0, c_per_s=0.1, standard_error_c_per_s=0.002, span_s=300.0)

    def test_is_uncertain_by_the_share_of_the_tolerance_that_grows_with_temperature(self) -> None:
        """0.75 % of class 2, 0.4 % of class 1; an offset changes no slope."""
        parts = ramp_uncertainty(TYPE_K, 2, self.RAMP)
        assert parts.tolerance == pytest.approx(0.1 * 0.0075 / math.sqrt(3.0))
        assert ramp_uncertainty(TYPE_K, 1, self.RAMP).tolerance == pytest.approx(0.1 * 0.004 / math.sqrt(3.0))
        assert parts.board == pytest.approx(0.1 * 0.001 / math.sqrt(3.0))

    def test_carries_the_standard_error_of_its_fit(self) -> None:
        """Which counts white noise and flicker."""
        assert ramp_uncertainty(TYPE_K, 2, self.RAMP).noise == 0.002

    def test_is_uncertain_by_what_a_racing_junction_hides(self) -> None:
        """30 s of 300: a tenth of the junction's own ramp; all of it for a span as short as the lag."""
        part = ramp_uncertainty(TYPE_K, 2, self.RAMP, junction_c_per_s=-0.05).junction
        assert part == pytest.approx(0.005 / math.sqrt(3.0))
        short = Ramp(0.0, 0.1, 0.002, 10.0)
        assert ramp_uncertainty(TYPE_K, 2, short, 0.05).junction == pytest.approx(0.05 / math.sqrt(3.0))

    def test_downwards_is_as_uncertain_as_upwards(self) -> None:
        """An uncertainty has no sign."""
        down = Ramp(0.0, -0.1, 0.002, 300.0)
        assert ramp_uncertainty(TYPE_K, 2, down) == ramp_uncertainty(TYPE_K, 2, self.RAMP)


class TestThroughTheMonitor:
    @staticmethod
    def watched(parameters: MonitorParameters, seconds: int = 700) -> Monitor:
        segments = [
            {"name": "up", "kind": "ramp", "to": "100 C"},
            {"name": "on", "kind": "ramp", "to": "900 C"},
        ]
        monitor = Monitor(parse_schedule({"title": "test", "segment": segments}, "test"), parameters)
        for second in range(seconds):
            monitor.feed(Reading(float(second), TYPE_K.emf_uv(40.0 + second / 10.0), 0.0))
        return monitor

    def test_the_present_reading_is_stated_with_its_ramp(self) -> None:
        """By the tolerance class of the settings."""
        stated = self.watched(MonitorParameters(tolerance_class=1)).stated()
        assert stated is not None
        assert stated.temp_c == pytest.approx(109.9)
        assert stated.temperature.tolerance == pytest.approx(1.5 / math.sqrt(3.0))
        assert stated.ramp_c_per_s == pytest.approx(0.1, rel=0.01)
        assert stated.ramp is not None
        assert stated.ramp.tolerance == pytest.approx(0.1 * 0.004 / math.sqrt(3.0), rel=0.01)
        assert stated.covered

    def test_where_a_segment_ended_is_kept(self) -> None:
        """With the ramp that led there, not the one that begins."""
        end = self.watched(MonitorParameters()).segment_end
        assert end is not None
        assert end.temp_c == pytest.approx(100.0, abs=0.2)
        assert end.ramp is not None

    def test_without_a_temperature_nothing_is_stated(self) -> None:
        """Before the first reading, and on one that gives none."""
        assert self.watched(MonitorParameters(), 0).stated() is None
        monitor = self.watched(MonitorParameters())
        monitor.feed(Reading(700.0, 1e6, 0.0))
        assert monitor.stated() is None
