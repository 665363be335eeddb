"""From the results of a bring-up to the board's calibration, and to what it is sure of.

Rules. The offset comes from the shorted input, which shows the converter alone; without that from the ice, which holds
the whole chain. The gain comes from injected millivolts; without them from the span between ice and boiling water, and
only where that is off by more than a probe may be: a probe of class 2 knows a hundred degrees to three, and a gain made
from that would carry its error up to 1200 °C. What was not measured stays as it came, and so does its uncertainty.
"""

import math
from collections.abc import Sequence

from rampwarden.bench.bring_up import Result, Step
from rampwarden.core.instrument import BoardCalibration

# Fewer standard uncertainties from 1, and a gain from baths is not applied.
_SURE = 2.0


def calibration_from(results: Sequence[Result], made: str) -> BoardCalibration | None:
    """Give the calibration that the results allow, dated `made`; None where they measure nothing.

    Raises `SettingsError` when the board is so far off that it must be mended first.
    """
    measured = {result.step: result for result in results if result.steady is not None}
    offset_uv, offset_by_uv, made_from = 0.0, None, []
    zero = measured.get(Step.SHORT) or measured.get(Step.ICE)
    if zero is not None and zero.steady is not None and zero.expected_uv is not None:
        offset_uv = zero.steady.emf_uv - zero.expected_uv
        offset_by_uv = math.hypot(zero.steady.error_uv, zero.expected_by_uv)
        made_from.append(zero.point)
    gain, gain_by = 1.0, None
    voltages = [result for result in results if result.step is Step.MILLIVOLTS and result.steady is not None]
    if voltages:
        gain, gain_by = _gain_from_voltages(voltages, offset_uv, offset_by_uv or 0.0)
        made_from += [result.point for result in voltages]
    elif Step.ICE in measured and Step.STEAM in measured:
        found, found_by = _gain_from_baths(measured[Step.ICE], measured[Step.STEAM])
        if abs(found - 1.0) > _SURE * found_by:
            gain, gain_by = found, found_by
            made_from.append("ice and boiling water")
    if not made_from:
        return None
    return BoardCalibration(
        offset_uv=round(offset_uv, 2),
        gain=round(gain, 6),
        offset_uncertainty_uv=None if offset_by_uv is None else round(offset_by_uv, 2),
        gain_uncertainty=None if gain_by is None else round(gain_by, 6),
        made=made,
        made_from=tuple(made_from),
    )


def _gain_from_voltages(voltages: Sequence[Result], offset_uv: float, offset_by_uv: float) -> tuple[float, float]:
    """Give what the reading less its offset is to be multiplied by, each voltage weighted by what it is sure of."""
    total = weights = 0.0
    for result in voltages:
        if result.steady is None or result.expected_uv is None:
            continue
        shown_uv = result.steady.emf_uv - offset_uv
        by = math.hypot(result.expected_by_uv, result.steady.error_uv, offset_by_uv) / abs(result.expected_uv)
        total += result.expected_uv / shown_uv / by**2
        weights += 1.0 / by**2
    gain = total / weights
    # One source made them all, so its error does not average out: the surest of them bounds it.
    surest = min(
        math.hypot(result.expected_by_uv, offset_by_uv) / abs(result.expected_uv)
        for result in voltages
        if result.expected_uv
    )
    return gain, max(surest, math.sqrt(1.0 / weights))


def _gain_from_baths(ice: Result, steam: Result) -> tuple[float, float]:
    """Give the gain by the span between two baths; the junction is in both and falls out."""
    if ice.steady is None or steam.steady is None or ice.expected_uv is None or steam.expected_uv is None:
        return 1.0, math.inf
    expected_uv = steam.expected_uv - ice.expected_uv
    shown_uv = steam.steady.emf_uv - ice.steady.emf_uv
    by_uv = math.hypot(ice.expected_by_uv, steam.expected_by_uv, ice.steady.error_uv, steam.steady.error_uv)
    return expected_uv / shown_uv, by_uv / abs(expected_uv)
