"""What each check expects and says, and the calibration that comes of them."""

import pytest

from rampwarden.bench.bring_up import (
    Step,
    bar_at_height,
    boiling_c,
    judge_bath,
    judge_hand,
    judge_millivolts,
    judge_open,
    judge_short,
)
from rampwarden.bench.fit import calibration_from
from rampwarden.bench.steadiness import Steady
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.errors import SettingsError
from rampwarden.plan.judgement import Verdict

TYPE_K = thermocouple("K")


def steady(emf_uv: float, junction_c: float = 23.0) -> Steady:
    """A stretch that was taken."""
    return Steady(emf_uv, 0.3, junction_c, 200, 20.0)


def bath(step: Step, temp_c: float, shown_c: float, by_c: float = 0.2):  # type: ignore[no-untyped-def]  # noqa: ANN201
    """A bath at `temp_c` that the board shows as `shown_c`."""
    emf_uv = TYPE_K.emf_uv(shown_c) - TYPE_K.emf_uv(23.0)
    return judge_bath(step, steady(emf_uv), temp_c, by_c, TYPE_K, 2)


@pytest.mark.parametrize(
    ("height_m", "bar", "water_c"), [(0, 1.01325, 99.97), (1000, 0.8988, 96.7), (3000, 0.7012, 89.9)]
)
def test_water_boils_cooler_the_higher_one_is(height_m: float, bar: float, water_c: float) -> None:
    """Standard atmosphere (ISO 2533: 1013.25, 898.76 and 701.21 hPa) and the IAPWS saturation curve."""
    assert bar_at_height(height_m) == pytest.approx(bar, abs=2e-4)
    assert boiling_c(bar_at_height(height_m)) == pytest.approx(water_c, abs=0.1)


@pytest.mark.parametrize(
    ("emf_uv", "verdict"), [(12.0, Verdict.FINE), (-60.0, Verdict.LOOK_AGAIN), (900.0, Verdict.WILL_NOT_WORK)]
)
def test_a_shorted_input_shows_the_offset(emf_uv: float, verdict: Verdict) -> None:
    """Fine up to half a °C, a fault from five."""
    assert judge_short(steady(emf_uv)).finding.verdict is verdict


def test_an_open_input_must_be_noticed() -> None:
    """By its flag, or at least by the end of the scale."""
    assert judge_open(flagged=True, emf_uv=0.0).finding.verdict is Verdict.FINE
    assert judge_open(flagged=False, emf_uv=78_000.0).finding.verdict is Verdict.LOOK_AGAIN
    assert judge_open(flagged=False, emf_uv=200.0).finding.verdict is Verdict.WILL_NOT_WORK


def test_a_warm_hand_tells_the_polarity() -> None:
    """Up, down, or not at all."""
    assert judge_hand(200.0).finding.verdict is Verdict.FINE
    assert "reversed" in judge_hand(-200.0).finding.words
    assert judge_hand(10.0).finding.verdict is Verdict.LOOK_AGAIN


@pytest.mark.parametrize(
    ("shown_c", "verdict"), [(0.6, Verdict.FINE), (2.4, Verdict.FINE), (3.5, Verdict.WILL_NOT_WORK)]
)
def test_ice_is_held_to_what_probe_and_junction_may_be_off_by(shown_c: float, verdict: Verdict) -> None:
    """2.5 °C of class 2 and 1 °C of the junction's sensor make 2.7 together."""
    assert bath(Step.ICE, 0.0, shown_c).finding.verdict is verdict


def test_millivolts_tell_the_gain() -> None:
    """Less the offset that was found."""
    assert judge_millivolts(steady(20_658.0), 20_644.0, 0.001, 14.0).finding.verdict is Verdict.FINE
    assert judge_millivolts(steady(20_727.0), 20_644.0, 0.001, 0.0).finding.verdict is Verdict.LOOK_AGAIN
    halved = judge_millivolts(steady(10_322.0), 20_644.0, 0.001, 0.0).finding
    assert halved.verdict is Verdict.WILL_NOT_WORK
    assert "one bit too many" in halved.do


def test_offset_and_gain_come_from_short_and_millivolts() -> None:
    """A board with 14 µV and 1.004 is corrected to what is put in, and how sure that is stands beside it."""
    results = [judge_short(steady(14.0))]
    results += [judge_millivolts(steady(14.0 + 1.004 * uv), uv, 0.001, 14.0) for uv in (4096.0, 20_644.0, 41_276.0)]
    calibration = calibration_from(results, "2026-01-01")
    assert calibration is not None
    assert calibration.correct(14.0 + 1.004 * 33_275.0) == pytest.approx(33_275.0, abs=0.5)
    assert calibration.offset_uncertainty_uv == pytest.approx(2.02, abs=0.05)
    # The source's own 0.1 %, half-width, does not average out.
    assert calibration.gain_uncertainty == pytest.approx(0.001 / 3**0.5, rel=0.05)
    assert calibration.made_from == ("shorted input", "4.096 mV", "20.644 mV", "41.276 mV")


def test_a_gain_from_ice_and_steam_is_applied_only_when_it_is_plain() -> None:
    """Three degrees in a hundred are what a probe may be off by; six are not."""
    ice = bath(Step.ICE, 0.0, 0.2)
    small = calibration_from([ice, bath(Step.STEAM, 99.97, 102.5)], "2026-01-01")
    assert small is not None
    assert (small.gain, small.gain_uncertainty) == (1.0, None)
    assert small.made_from == ("ice at 0.00 °C",)
    large = calibration_from([ice, bath(Step.STEAM, 99.97, 109.0)], "2026-01-01")
    assert large is not None
    assert large.gain == pytest.approx(1 / 1.09, abs=0.005)
    assert large.gain_uncertainty is not None
    assert large.gain_uncertainty > 0.015


def test_without_a_short_the_offset_is_that_of_the_whole_chain_in_ice() -> None:
    """And as unsure as its probe: 40 µV of junction and 100 µV of class 2, over the root of three."""
    calibration = calibration_from([bath(Step.ICE, 0.0, 1.5)], "2026-01-01")
    assert calibration is not None
    assert calibration.offset_uv == pytest.approx(59.2, abs=1.0)
    assert calibration.offset_uncertainty_uv == pytest.approx(62, abs=3)


def test_nothing_measured_is_no_calibration_and_a_broken_board_is_refused() -> None:
    """A calibration hides no fault."""
    assert calibration_from([judge_hand(100.0)], "2026-01-01") is None
    with pytest.raises(SettingsError, match="to be mended"):
        calibration_from([judge_short(steady(0.0)), judge_millivolts(steady(10_322.0), 20_644.0, 0.001, 0.0)], "x")
