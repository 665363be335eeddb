"""The checks of a bring-up: what each expects of the EMF, how sure that is, and what a difference means.

The list a person goes through stands in firmware_notes/bring_up.md; the steps here are those of it that a reading can
decide. Expectations carry their own uncertainty: a probe of class 2 in an ice bath is no proof of a tenth of a degree.
"""

import math
from dataclasses import dataclass, field
from enum import StrEnum

from rampwarden.bench.finding import BoardFinding, Sureness
from rampwarden.bench.steadiness import Steady
from rampwarden.bench.suspicions import name_factor
from rampwarden.core.instrument import Thermocouple, tolerance_limit_c
from rampwarden.core.physics import WATER
from rampwarden.plan import Verdict

_RECTANGULAR = math.sqrt(3.0)

# Screws of two metals at not quite one temperature, µV (common practice, no source).
COPPER_UV = 2.0
# Half-widths, °C: ice in pure water, well mixed; water boiling under a pressure that was read off; and under one that
# was reckoned from the height, since weather moves it by 25 hPa (common practice, no source).
ICE_C, STEAM_C, STEAM_BY_HEIGHT_C = 0.1, 0.2, 0.7
# What a board's junction sensor may be off by, °C (common practice, no source).
_JUNCTION_C = 1.0
# The bounds of firmware_notes: half a °C of offset, one °C in ice and steam, 0.2 % of gain.
_OFFSET_UV, _BATH_C, _GAIN = 20.0, 1.0, 0.002
_GRAVE_OFFSET_UV = 200.0
# Two degrees of a hand: more than any noise, less than the coldest fingers give.
HAND_UV = 60.0


class Step(StrEnum):
    """The checks in the order they are made."""

    SHORT = "shorted input"
    OPEN = "open input"
    HAND = "tip in the hand"
    ICE = "ice"
    STEAM = "boiling water"
    MILLIVOLTS = "millivolts"


@dataclass(frozen=True, slots=True)
class Result:
    """What a step came to. `expected_uv` with its standard uncertainty, where it measures; `point` says what it was."""

    step: Step
    finding: BoardFinding
    steady: Steady | None = None
    expected_uv: float | None = None
    expected_by_uv: float = 0.0
    point: str = ""
    figures: dict[str, object] = field(default_factory=dict)


def boiling_c(bar: float) -> float:
    """Give the temperature of water that boils under `bar` absolute, °C (IAPWS saturation curve)."""
    return WATER.temp_c(bar)


def bar_at_height(height_m: float) -> float:
    """Give the usual air pressure at a height above the sea, bar: the standard atmosphere (ISO 2533), up to 11 km.

    >>> round(bar_at_height(1000.0), 4)
    0.8987
    """
    return float(1.01325 * (1.0 - 2.25577e-5 * height_m) ** 5.25588)


def judge_short(steady: Steady) -> Result:
    """Judge a shorted input: nothing but the converter's offset is left."""
    offset_uv = steady.emf_uv
    words = f"offset {offset_uv:+.1f} µV ({offset_uv / 40.0:+.2f} °C); shows the terminals' {steady.junction_c:.1f} °C"
    finding = BoardFinding(Step.SHORT, Verdict.FINE, words)
    if abs(offset_uv) > _GRAVE_OFFSET_UV:
        do = "is the copper wire really across the input? else look at the amplifier's offset and the scaling"
        finding = BoardFinding(Step.SHORT, Verdict.WILL_NOT_WORK, words, Sureness.CERTAIN, do)
    elif abs(offset_uv) > _OFFSET_UV:
        do = f"more than {_OFFSET_UV:.0f} µV: the calibration takes it out; look again when it has drifted"
        finding = BoardFinding(Step.SHORT, Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do)
    return Result(Step.SHORT, finding, steady, 0.0, COPPER_UV, "shorted input")


def judge_open(*, flagged: bool, emf_uv: float | None) -> Result:
    """Judge an open input: the board must say so, or be driven to the end of its scale."""
    if flagged:
        return Result(Step.OPEN, BoardFinding(Step.OPEN, Verdict.FINE, "the board reports it"))
    if emf_uv is not None and abs(emf_uv) > 60_000.0:
        words = f"no flag, but driven to {emf_uv / 1e3:.0f} mV: shown as sensor-range"
        do = "set flag bit 0 for an open input: it says what is wrong"
        return Result(Step.OPEN, BoardFinding(Step.OPEN, Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do))
    words = "not noticed: a broken wire would look like some temperature"
    do = "give the input a break detection: a few ten nA to the supply, and flag bit 0"
    return Result(Step.OPEN, BoardFinding(Step.OPEN, Verdict.WILL_NOT_WORK, words, Sureness.CERTAIN, do))


def judge_hand(moved_uv: float) -> Result:
    """Judge which way the reading went when the tip was warmed, µV."""
    if moved_uv >= HAND_UV:
        words = f"rises when it is warmed, by {moved_uv / 40.0:.1f} °C"
        return Result(Step.HAND, BoardFinding(Step.HAND, Verdict.FINE, words))
    if moved_uv <= -HAND_UV:
        words = f"falls when it is warmed, by {-moved_uv / 40.0:.1f} °C: the leads are reversed"
        do = "swap the two wires where they are crossed: at the board, or at the probe's head"
        return Result(Step.HAND, BoardFinding(Step.HAND, Verdict.WILL_NOT_WORK, words, Sureness.CERTAIN, do))
    words = f"hardly moves ({moved_uv / 40.0:+.1f} °C): a pair shorted in the cable, or a hand as cold as the room"
    do = "try warm water; a pair shorted on its way shows the temperature of the short"
    return Result(Step.HAND, BoardFinding(Step.HAND, Verdict.LOOK_AGAIN, words, Sureness.LIKELY, do))


def judge_bath(
    step: Step, steady: Steady, bath_c: float, bath_by_c: float, couple: Thermocouple, tolerance_class: int
) -> Result:
    """Judge a bath of known temperature (°C, sure to `bath_by_c`): probe, cable, junction sensor and board together."""
    expected_uv = couple.emf_uv(bath_c) - couple.emf_uv(steady.junction_c)
    uv_per_c = couple.sensitivity_uv_per_c(bath_c)
    junction_uv_per_c = couple.sensitivity_uv_per_c(steady.junction_c)
    tolerance_c = tolerance_limit_c(couple, tolerance_class, bath_c)
    by_uv = math.hypot(tolerance_c * uv_per_c, _JUNCTION_C * junction_uv_per_c, bath_by_c * uv_per_c) / _RECTANGULAR
    off_c = (steady.emf_uv - expected_uv) / uv_per_c
    borne_c = math.hypot(tolerance_c, _JUNCTION_C, bath_by_c)
    words = f"shows {bath_c + off_c:.2f} °C, should be {bath_c:.2f}: off by {off_c:+.2f} °C"
    figures: dict[str, object] = {"off_c": round(off_c, 3), "bath_c": round(bath_c, 3)}
    if abs(off_c) <= _BATH_C:
        finding = BoardFinding(step, Verdict.FINE, words, figures=figures)
    elif abs(off_c) <= borne_c:
        do = f"a new probe and a junction sensor together may be off by {borne_c:.1f} °C: know it, and look for drift"
        finding = BoardFinding(step, Verdict.FINE, words, Sureness.CERTAIN, do, figures)
    else:
        finding = BoardFinding(step, Verdict.WILL_NOT_WORK, words, Sureness.CERTAIN, _bath_remedy(step), figures)
    point = f"{step} at {bath_c:.2f} °C"
    return Result(step, finding, steady, expected_uv, by_uv, point, figures)


def judge_millivolts(steady: Steady, input_uv: float, source_share: float, offset_uv: float) -> Result:
    """Judge an injected voltage, µV, of a source that is sure to `source_share` (half-width): the converter's gain."""
    by_uv = abs(input_uv) * source_share / _RECTANGULAR
    shown_uv = steady.emf_uv - offset_uv
    ratio = shown_uv / input_uv
    words = f"{input_uv / 1e3:.3f} mV are read as {shown_uv / 1e3:.3f}, {ratio - 1.0:+.2%}"
    figures: dict[str, object] = {"ratio": round(ratio, 5)}
    if abs(ratio - 1.0) <= _GAIN + source_share:
        finding = BoardFinding(Step.MILLIVOLTS, Verdict.FINE, words, figures=figures)
    elif 0.8 <= ratio <= 1.25:
        do = f"more than {_GAIN:.1%}: the calibration takes it out; look at gain resistors and reference"
        finding = BoardFinding(Step.MILLIVOLTS, Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)
    else:
        cause = name_factor(abs(ratio), 0.01)
        do = f"look whether {cause}" if cause else "look at gain, reference and bits of the scaling"
        finding = BoardFinding(Step.MILLIVOLTS, Verdict.WILL_NOT_WORK, words, Sureness.VERY_LIKELY, do, figures)
    return Result(Step.MILLIVOLTS, finding, steady, input_uv, by_uv, f"{input_uv / 1e3:.3f} mV", figures)


def _bath_remedy(step: Step) -> str:
    if step is Step.ICE:
        return "stir, the tip in the middle of crushed ice; else the junction sensor's place, or the wire's type"
    return "right in ice and off here: the gain, or a wrong type of wire; is the height above the sea right?"
