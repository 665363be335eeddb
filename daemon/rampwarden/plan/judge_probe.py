"""Judges whether this thermocouple is fit for this heat: its range, its life, what it can tell, and how quickly."""

import math

from rampwarden.core.instrument import NOT_IN_IT, expanded_uncertainty_c, is_covered, thermocouple, what_is_in_it
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import SegmentKind
from rampwarden.plan.bodies import CLASSES
from rampwarden.plan.judgement import Judgement, Verdict
from rampwarden.plan.probe import (
    CHAMBER_AHEAD_S,
    RICH_FLAME_ABOVE_C,
    Probe,
    ProbePlace,
    Sheath,
    time_constant_s,
    use_limits,
)
from rampwarden.plan.timeline import Stretch, Timeline
from rampwarden.plan.workshop import Pot

# A window this many time constants long holds 99 % of a step at its far end. Common practice, no source.
_WINDOW_PER_TIME_CONSTANT = 5.0


def judge_range(timeline: Timeline, probe: Probe) -> list[Judgement]:
    """Judge the peak against the type's range, and against what its tolerance class covers."""
    peak_c = timeline.peak_c
    couple = thermocouple(probe.letter)
    lowest_c, highest_c = couple.measurable_c
    figures: dict[str, object] = {"peak_c": peak_c, "type": probe.letter, "highest_c": highest_c}
    if peak_c > highest_c:
        finding = f"up to {peak_c:.0f} °C, and type {probe.letter} ends at {highest_c:.0f}"
        return [Judgement("thermocouple type", Verdict.WILL_NOT_WORK, finding, _other_type(peak_c), figures)]
    try:
        couple.tolerance_c(timeline.aim_c, probe.tolerance_class)
    except ValueError as error:
        remedy = f"{_other_type(timeline.aim_c)}, or a calibration of this one"
        return [
            Judgement(
                "thermocouple type", Verdict.LOOK_AGAIN, f"no tolerance is stated there: {error}", remedy, figures
            )
        ]
    coldest_c = timeline.stretches[0].from_c
    if coldest_c < lowest_c:
        finding = f"type {probe.letter} tells nothing below {lowest_c:.0f} °C; the beginning of the heat is not seen"
        return [
            Judgement(
                "thermocouple type", Verdict.LOOK_AGAIN, finding, "another type; until then, watch by eye", figures
            )
        ]
    finding = f"type {probe.letter} covers {timeline.aim_c:.0f} °C with class {probe.tolerance_class}"
    return [Judgement("thermocouple type", Verdict.FINE, finding, "", figures)]


def judge_place(timeline: Timeline, probe: Probe) -> list[Judgement]:
    """Judge what the place of the probe makes of every temperature here: the pot's, or the chamber's."""
    fastest = max((stretch.limit_k_per_h or 0.0 for stretch in timeline.stretches), default=0.0)
    few_c, many_c = (ahead_s * fastest / 3600.0 for ahead_s in CHAMBER_AHEAD_S)
    figures: dict[str, object] = {"place": probe.place, "chamber_ahead_c": [round(few_c, 1), round(many_c, 1)]}
    if probe.place is ProbePlace.POT:
        finding = "on the pot: budgets, soaks and drying are the pot's own at that one spot"
        return [Judgement("probe's place", Verdict.FINE, finding, "", figures)]
    apart = (
        f"the chamber runs some {few_c:.0f} to {many_c:.0f} °C ahead of the pot at up to {fastest:.0f} °C/h "
        "(an order of magnitude), and a wet pot stays behind for longer"
    )
    if probe.place is ProbePlace.CHAMBER:
        finding = f"in the chamber: its temperature is watched, not the pot's; {apart}"
        remedy = "the probe against the pot, or soaks that are longer by as much as the pot is behind"
    else:
        finding = f"where the probe hangs is not known, and so whose temperature this is; {apart}"
        remedy = "--place pot or --place chamber ([thermocouple] place)"
    return [Judgement("probe's place", Verdict.LOOK_AGAIN, finding, remedy, figures)]


def judge_life(timeline: Timeline, probe: Probe, *, gas: bool = True) -> list[Judgement]:
    """Judge the highest temperature that the schedule allows against what wire, sheath and flame make of them."""
    peak_c, limits = timeline.peak_c, use_limits(probe)
    figures: dict[str, object] = {
        "aim_c": timeline.aim_c,
        "peak_c": peak_c,
        "limits": [{"limit_c": limit.limit_c, "of": limit.because} for limit in limits],
    }
    if not limits:
        finding = "how hot its wire and sheath may get is not known"
        remedy = "--sheath-mm or --wire-mm, and --sheath"
        return [Judgement("wire and sheath", Verdict.LOOK_AGAIN, finding, remedy, figures)]
    lowest = limits[0]
    finding = f"{lowest.because}: suggested up to {lowest.limit_c:.0f} °C, the heat may go to {peak_c:.0f}"
    verdict, remedies = Verdict.FINE, []
    if peak_c > lowest.limit_c:
        # Limits are of a useful life, not of melting: a hundred degrees over it is a short one, but it is one.
        verdict = Verdict.LOOK_AGAIN if peak_c <= lowest.limit_c + 100.0 else Verdict.WILL_NOT_WORK
        remedies.append("a thicker wire or sheath, or a ceramic tube around a thick wire")
    if probe.sheath is Sheath.ALLOY_600 and gas and peak_c > RICH_FLAME_ABOVE_C:
        # Not merely a shorter life: what rots reads low, so the pot is hotter than shown.
        verdict = max(verdict, Verdict.LOOK_AGAIN, key=list(Verdict).index)
        finding += (
            "; a flame short of air ruins this alloy, and a wire that rots in it reads low: the pot is then hotter"
        )
        remedies.append("a flame that is never rich at the probe, or a ceramic tube")
    return [Judgement("wire and sheath", verdict, finding, "; ".join(remedies), figures)]


def judge_uncertainty(timeline: Timeline, probe: Probe, pot: Pot) -> list[Judgement]:
    """Judge what the readings are worth at the temperatures that matter: soaks, inversions, the peak."""
    stated: dict[float, float] = {}
    couple = thermocouple(probe.letter)
    for temp_c in _that_matter(timeline, pot):
        if is_covered(couple, probe.tolerance_class, temp_c):  # else it is said of the type's range already
            stated[temp_c] = expanded_uncertainty_c(couple, probe.tolerance_class, temp_c)
    figures: dict[str, object] = {
        "uncertainty_c": {f"{temp_c:.0f}": round(off_c, 1) for temp_c, off_c in stated.items()}
    }
    if not stated:
        return []
    told = ", ".join(f"±{off_c:.1f} °C at {temp_c:.0f}" for temp_c, off_c in stated.items())
    narrow = [
        (stretch.segment.name, side_c, off_c)
        for stretch in timeline.stretches
        if stretch.segment.kind is SegmentKind.SOAK
        and (off_c := stated.get(stretch.to_c)) is not None
        and off_c > (side_c := min(-stretch.segment.band_c[0], stretch.segment.band_c[1]))
    ]
    if narrow:
        name, side_c, off_c = narrow[0]
        finding = (
            f"{told}; {name!r} has a band of {side_c:g} °C, less than the ±{off_c:.1f} °C a reading is worth there"
        )
        remedy = "a thermocouple of class 1 or one calibrated, or a wider band"
        return [Judgement("uncertainty", Verdict.LOOK_AGAIN, f"{finding}; {NOT_IN_IT}", remedy, figures)]
    return [Judgement("uncertainty", Verdict.FINE, f"{told} ({what_is_in_it(probe.letter)}); {NOT_IN_IT}", "", figures)]


def judge_response(timeline: Timeline, probe: Probe) -> list[Judgement]:
    """Judge the probe's slowness against each window that a limit averages over, where the segment begins."""
    loads = [
        (rate, stretch, time_constant_s(probe, _coldest_c(stretch)))
        for stretch in timeline.stretches
        for rate in timeline.schedule.limits_in_force(stretch.index)
    ]
    if not loads:
        return []
    shortest = min(loads, key=lambda load: load[0].window_s)
    figures: dict[str, object] = {"shortest_window_s": shortest[0].window_s}
    if any(slowness_s is None for _, _, slowness_s in loads):
        finding = "how quickly the probe follows is not known"
        figures |= {"time_constant_s": None, "segment": shortest[1].segment.name}
        return [Judgement("response", Verdict.LOOK_AGAIN, finding, "--sheath-mm or --wire-mm", figures)]
    rate, stretch, slowness_s = max(loads, key=lambda load: (load[2] or 0.0) / load[0].window_s)
    slowness_s = slowness_s or 0.0
    cold_c, hot_c = _coldest_c(stretch), max(stretch.from_c, stretch.to_c)
    lag_c = slowness_s * rate.c_per_s
    finding = (
        f"time constant about {slowness_s:.0f} s at {cold_c:.0f} °C and {time_constant_s(probe, hot_c) or 0.0:.0f} s "
        f"at {hot_c:.0f} (an order of magnitude): {lag_c:.0f} °C behind at {rate.c_per_s * 3600.0:.0f} °C/h; window "
        f"{format_duration(rate.window_s)} in {stretch.segment.name!r}"
    )
    figures |= {
        "time_constant_s": round(slowness_s, 1),
        "at_c": cold_c,
        "window_s": rate.window_s,
        "segment": stretch.segment.name,
        "lag_c": round(lag_c, 1),
    }
    if rate.window_s >= _WINDOW_PER_TIME_CONSTANT * slowness_s:
        return [Judgement("response", Verdict.FINE, finding, "", figures)]
    wanted = format_duration(60.0 * math.ceil(_WINDOW_PER_TIME_CONSTANT * slowness_s / 60.0))
    remedy = f"a thinner probe, or windows of {wanted}; a burst shows late until then"
    return [Judgement("response", Verdict.LOOK_AGAIN, finding, remedy, figures)]


def _coldest_c(stretch: Stretch) -> float:
    """Give where a probe is slowest, °C."""
    return min(stretch.from_c, stretch.to_c)


def _that_matter(timeline: Timeline, pot: Pot) -> list[float]:
    soaks = {stretch.to_c for stretch in timeline.stretches if stretch.segment.kind is SegmentKind.SOAK}
    inversions = CLASSES[pot.crucible_class].inverts_c if pot.crucible_class else ()
    return sorted({*soaks, timeline.aim_c, *(temp_c for temp_c in inversions if temp_c < timeline.aim_c)})


def _other_type(peak_c: float) -> str:
    """Name the usual types whose class 2 covers the peak."""
    fitting = [letter for letter in "KNRSB" if _covers(letter, peak_c)]
    return f"type {' or '.join(fitting)}" if fitting else "no usual type reaches that high; a pyrometer"


def _covers(letter: str, temp_c: float) -> bool:
    try:
        thermocouple(letter).tolerance_c(temp_c, 2)
    except ValueError:
        return False
    return True
