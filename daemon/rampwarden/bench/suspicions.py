"""Wrong scaling, guessed: what a board's numbers look like when two are exchanged, a factor is missing, a wire crossed.

Each suspicion looks at one mistake that people make, and says how sure it is. Gain and polarity show only where the
tip is at another temperature than the terminals; where that of the tip is known, they show surely.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rampwarden.bench.finding import BoardFinding, Sureness
from rampwarden.core.instrument import Thermocouple
from rampwarden.plan import Verdict

# Factors that boards are wrong by, and what makes them. Common practice, no source; each follows from its cause.
USUAL_FACTORS: tuple[tuple[float, str], ...] = (
    (1000.0, "nanovolts are sent where microvolts are meant, or microvolts for millivolts"),
    (0.001, "microvolts are sent where nanovolts are meant, or millivolts for microvolts"),
    (1e6, "the unit is wrong by a million"),
    (1e-6, "the unit is wrong by a million: volts for microvolts?"),
    (2.0, "one bit too few in the scaling, a gain set twice as high as is reckoned with, or a reference of half"),
    (0.5, "one bit too many in the scaling, or a gain set half as high as is reckoned with"),
    (4.0, "two bits too few in the scaling, or a gain four times as high as is reckoned with"),
    (0.25, "two bits too many in the scaling, or a gain a quarter of what is reckoned with"),
    (5.0 / 3.3, "reckoned with 5 V, and the reference is 3.3 V"),
    (3.3 / 5.0, "reckoned with 3.3 V, and the reference is 5 V"),
    (2.5 / 2.048, "reckoned with 2.5 V, and the reference is 2.048 V"),
    (2.048 / 2.5, "reckoned with 2.048 V, and the reference is 2.5 V"),
    (1.8, "the difference was turned into °F"),
    (1.0 / 1.8, "the difference was turned from °F twice"),
    (8.0, "a gain eight times as high as is reckoned with, or three bits"),
    (0.125, "a gain an eighth of what is reckoned with, or three bits"),
    (16.0, "a gain sixteen times as high as is reckoned with, or four bits"),
    (0.0625, "a gain a sixteenth of what is reckoned with, or four bits"),
    (10.0, "a gain ten times as high as is reckoned with"),
    (0.1, "a gain a tenth of what is reckoned with"),
)
# A factor is recognised within what a gain resistor and a reference may be off by (common practice, no source).
_FACTOR_WITHIN = 0.05
# Below this EMF (10 °C of type K) an offset looks like a wrong gain.
_TELLING_UV = 400.0
# What a new probe of class 2 may be off by near room temperature (IEC 60584-1), and the junction's sensor (common
# practice, no source), °C: together what no scaling is blamed for.
_PROBE_C, _JUNCTION_C = 2.5, 1.0
# So far below the terminals no tip lies in a workshop, unless somebody put it into frost.
_COLDER_C, _FAR_COLDER_C = 12.0, 40.0
# Thermal noise of the filter resistors alone is some nV (4kTRB: 200 Ω over 10 Hz, 6 nV); nothing real is quieter.
_LEAST_SCATTER_UV = 0.003
# A junction sensor moves by hundredths of a degree from one reading to the next; one that jumps so far is none.
_JUMPS_C = 0.5
_ALIKE_C = 2.0
_UV_PER_C = 40.0  # type K near room temperature
# What a common digital sensor shows until its first conversion (common practice, no source).
_POWER_ON_C = 85.0


@dataclass(frozen=True, slots=True)
class Seen:
    """What a listening comes to, for guessing: medians and scatter of EMF (µV) and junction (°C).

    `emf_jump_uv` and `junction_jump_c` are the median steps between neighbours; `tip_c` is where the tip is said to be.
    """

    emf_uv: float
    emf_jump_uv: float
    emf_scatter_uv: float
    junction_c: float
    junction_jump_c: float
    junction_span_c: float
    tip_c: float | None = None


def suspect_scaling(seen: Seen, couple: Thermocouple) -> Iterator[BoardFinding]:
    """Give what is wrong with the scaling, gravest guess first and no second one that the first explains."""
    for suspicion in (_exchanged, _without_noise, _compensated_already, _junction_unit):
        found = suspicion(seen, couple)
        if found is not None:
            yield found
            return
    if seen.tip_c is not None:
        yield from _against_known_tip(seen, couple, seen.tip_c)
    else:
        yield from _colder_than_the_board(seen, couple)


def suspect_refused(refused: list[tuple[int, int]]) -> BoardFinding | None:
    """Say what lines with a right checksum and an impossible number (EMF nV, junction m°C) may be."""
    if not refused:
        return None
    emf_nv, junction_mc = refused[len(refused) // 2]
    looks_exchanged = 0 < emf_nv <= 100_000 and abs(junction_mc) > 200_000
    words = f"{len(refused)} frames with a right checksum and a number no board can mean: EMF {emf_nv} nV, "
    if looks_exchanged:
        words += f"junction {junction_mc} m°C; the two are exchanged"
        do = "send the EMF in nV first, the junction in m°C after it"
        return BoardFinding("scaling", Verdict.WILL_NOT_WORK, words, Sureness.VERY_LIKELY, do)
    words += f"junction {junction_mc} m°C"
    do = "look at the units: EMF in nV within ±300 mV, junction in thousandths of a °C"
    return BoardFinding("scaling", Verdict.WILL_NOT_WORK, words, Sureness.CERTAIN, do)


def name_factor(size: float, within: float) -> str:
    """Give what makes a board's numbers wrong by about `size`, to a share of `within`; empty for none of the usual."""
    near = _nearest_factor(size, within)
    return "" if near is None else near[1]


def _nearest_factor(size: float, within: float) -> tuple[float, str] | None:
    near = [(abs(size / factor - 1.0), factor, cause) for factor, cause in USUAL_FACTORS]
    off, factor, cause = min(near)
    return (factor, cause) if off <= within else None


def _exchanged(seen: Seen, couple: Thermocouple) -> BoardFinding | None:
    """The junction jumps like a voltage, and the EMF stands as still as a sensor near room temperature."""
    if not (seen.junction_jump_c > _JUMPS_C and 2.0 < seen.emf_uv < 60.0 and seen.emf_jump_uv <= 0.5):
        return None
    words = (
        f"EMF and junction are exchanged: the 'junction' jumps by {seen.junction_jump_c:.1f} °C between readings, "
        f"and the 'EMF' stands at {seen.emf_uv:.1f}, as a temperature would"
    )
    return BoardFinding("scaling", Verdict.WILL_NOT_WORK, words, Sureness.VERY_LIKELY, "exchange the two columns")


def _without_noise(seen: Seen, couple: Thermocouple) -> BoardFinding | None:
    """Quieter than its own resistors: the numbers are too small by a factor."""
    if seen.emf_scatter_uv >= _LEAST_SCATTER_UV or seen.emf_scatter_uv == 0.0:
        return None
    words = (
        f"readings scatter by {seen.emf_scatter_uv * 1e3:.1f} nV, less than the noise of any resistor: "
        "the EMF is too small by a factor, likely 1000"
    )
    do = "send nanovolts (frames), or name the column's unit rightly (emf_mv for millivolts)"
    return BoardFinding("scaling", Verdict.WILL_NOT_WORK, words, Sureness.VERY_LIKELY, do, {"factor": 0.001})


def _compensated_already(seen: Seen, couple: Thermocouple) -> BoardFinding | None:
    """The EMF is that of the terminals' temperature against 0 °C: the board has added the junction itself."""
    junction_uv = _emf_uv(couple, seen.junction_c)
    tip_uv = junction_uv if seen.tip_c is None else _emf_uv(couple, seen.tip_c)
    if junction_uv is None or tip_uv is None or junction_uv < _TELLING_UV:
        return None
    if abs(seen.emf_uv - tip_uv) > _ALIKE_C * _UV_PER_C:
        return None
    tip_c = seen.junction_c if seen.tip_c is None else seen.tip_c
    words = (
        f"the EMF, {seen.emf_uv:.0f} µV, is what a tip at {tip_c:.0f} °C gives against 0 °C: "
        "the board adds the junction itself, and it would be added twice"
    )
    do = "send the EMF as measured, nothing compensated; or is the tip really twice as warm as the board?"
    sureness = Sureness.POSSIBLE if seen.tip_c is None else Sureness.VERY_LIKELY
    return BoardFinding("scaling", Verdict.LOOK_AGAIN, words, sureness, do)


def _junction_unit(seen: Seen, couple: Thermocouple) -> BoardFinding | None:
    """The junction's number is no temperature in °C."""
    junction_c = seen.junction_c
    if junction_c == _POWER_ON_C:
        words = "the junction stands at exactly 85 °C, what a common sensor shows before its first conversion"
        do = "wait for its conversion before reading it; look at its supply"
        return BoardFinding("junction", Verdict.WILL_NOT_WORK, words, Sureness.VERY_LIKELY, do)
    if junction_c == 0.0 and seen.junction_span_c == 0.0:
        words = "the junction stands at exactly 0 °C: no sensor answers, or none is read"
        do = "look at the sensor's wires and address; send flag bit 4 when it fails"
        return BoardFinding("junction", Verdict.WILL_NOT_WORK, words, Sureness.VERY_LIKELY, do)
    if 0.0 < abs(junction_c) < 0.06:
        words = f"the junction stands at {junction_c:.3f} °C: whole degrees are sent where thousandths are meant"
        do = "send thousandths of a °C: 25 °C is 25000"
        return BoardFinding("junction", Verdict.WILL_NOT_WORK, words, Sureness.VERY_LIKELY, do, {"factor": 0.001})
    if 60.0 <= junction_c <= 110.0:
        words = f"the junction stands at {junction_c:.0f} °C, which in °F would be {(junction_c - 32) / 1.8:.0f} °C"
        do = "send °C; or is the board really that hot?"
        return BoardFinding("junction", Verdict.LOOK_AGAIN, words, Sureness.LIKELY, do)
    return None


def _against_known_tip(seen: Seen, couple: Thermocouple, tip_c: float) -> Iterator[BoardFinding]:
    """Compare with a tip whose temperature is known: polarity, then gain."""
    expected_uv = couple.emf_uv(tip_c) - couple.emf_uv(seen.junction_c)
    bound_uv = couple.sensitivity_uv_per_c(tip_c) * math.hypot(_PROBE_C, _JUNCTION_C)
    if abs(expected_uv) < _TELLING_UV:
        if abs(seen.emf_uv - expected_uv) > 2.0 * bound_uv:
            words = (
                f"with the tip at {tip_c:.0f} °C the EMF should be near {expected_uv:.0f} µV and is {seen.emf_uv:.0f}"
            )
            yield BoardFinding("scaling", Verdict.LOOK_AGAIN, words, Sureness.VERY_LIKELY, "look for an offset")
        return
    ratio = seen.emf_uv / expected_uv
    off_by = bound_uv / abs(expected_uv)
    figures = {"factor": round(ratio, 4), "factor_uncertainty": round(off_by, 4), "expected_uv": round(expected_uv, 1)}
    what = f"with the tip at {tip_c:.0f} °C the EMF should be {expected_uv:.0f} µV and is {seen.emf_uv:.0f}"
    if abs(ratio + 1.0) <= max(off_by, 0.1):
        words = f"{what}: the leads are reversed"
        do = "swap the two wires where they are crossed, at the board or at the probe's head"
        yield BoardFinding("polarity", Verdict.WILL_NOT_WORK, words, Sureness.VERY_LIKELY, do, figures)
        return
    if abs(ratio - 1.0) <= off_by:
        words = (
            f"right to {abs(ratio - 1.0):.1%} with the tip at {tip_c:.0f} °C; a new probe may be off by {off_by:.1%}"
        )
        yield BoardFinding("scaling", Verdict.FINE, words, Sureness.CERTAIN, "", figures)
        return
    yield _wrong_gain(what, ratio, off_by, figures)


def _wrong_gain(what: str, ratio: float, off_by: float, figures: dict[str, float]) -> BoardFinding:
    polarity = "" if ratio > 0 else ", and the leads are reversed"
    size = abs(ratio)
    near = _nearest_factor(size, max(_FACTOR_WITHIN, off_by))
    if near is not None:
        factor, cause = near
        words = f"{what}: wrong by a factor of {_factor(factor)}{polarity}"
        do = f"look whether {cause}"
        return BoardFinding("scaling", Verdict.WILL_NOT_WORK, words, Sureness.VERY_LIKELY, do, figures)
    words = f"{what}: wrong by a factor of {size:.3g}, which is none of the usual{polarity}"
    grave = size < 0.8 or size > 1.25 or ratio < 0
    do = "look at gain resistors, reference and type of thermocouple; then calibrate with --walk"
    return BoardFinding(
        "scaling", Verdict.WILL_NOT_WORK if grave else Verdict.LOOK_AGAIN, words, Sureness.LIKELY, do, figures
    )


def _colder_than_the_board(seen: Seen, couple: Thermocouple) -> Iterator[BoardFinding]:
    """Without a known tip a reversed pair shows as a cold one."""
    lowest_uv, highest_uv = couple.emf_uv(couple.range_c[0]), couple.emf_uv(couple.range_c[1])
    sum_uv = seen.emf_uv + couple.emf_uv(seen.junction_c)
    if not lowest_uv <= sum_uv <= highest_uv:
        turned_uv = couple.emf_uv(seen.junction_c) - seen.emf_uv
        reversed_ = lowest_uv <= turned_uv <= highest_uv
        words = f"{seen.emf_uv / 1e3:.3f} mV at {seen.junction_c:.0f} °C is outside type {couple.letter}"
        do = "reversed leads? a factor too many? another type of thermocouple?"
        if reversed_:
            words += f"; with the leads swapped it would be {couple.temp_c(-seen.emf_uv, seen.junction_c):.0f} °C"
            do = "swap the two wires where they are crossed"
        yield BoardFinding("polarity" if reversed_ else "scaling", Verdict.WILL_NOT_WORK, words, Sureness.LIKELY, do)
        return
    temp_c = couple.temp_c(seen.emf_uv, seen.junction_c)
    below_c = seen.junction_c - temp_c
    if below_c > _COLDER_C:
        turned_c = couple.temp_c(-seen.emf_uv, seen.junction_c)
        words = (
            f"shows {temp_c:.0f} °C, {below_c:.0f} °C colder than the board: the leads are reversed, "
            f"and the tip is at {turned_c:.0f} °C"
        )
        sureness = Sureness.VERY_LIKELY if below_c > _FAR_COLDER_C else Sureness.LIKELY
        do = "swap the two wires where they are crossed; or does the tip lie in the cold?"
        yield BoardFinding("polarity", Verdict.WILL_NOT_WORK, words, sureness, do)


def _factor(factor: float) -> str:
    if factor >= 1.0:
        return f"{factor:,.3g}".replace(",", " ")
    return f"1/{1.0 / factor:,.3g}".replace(",", " ")


def _emf_uv(couple: Thermocouple, temp_c: float) -> float | None:
    try:
        return couple.emf_uv(temp_c)
    except ValueError:
        return None
