"""Judges whether this thermocouple is fit for this heat: its range, its life, what it can tell, and how quickly."""

import math

from rampwarden.core.instrument import thermocouple
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import SegmentKind
from rampwarden.plan.bodies import CLASSES
from rampwarden.plan.judgement import Judgement, Verdict
from rampwarden.plan.probe import Probe, time_constant_s, uncertainty_c, use_limits
from rampwarden.plan.timeline import Timeline
from rampwarden.plan.workshop import Pot

# A window this many time constants long holds 99 % of a step at its far end. Common practice, no source.
_WINDOW_PER_TIME_CONSTANT = 5.0
_PLACEMENT = "where the probe hangs adds 5 to 20 °C more"


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
        return [Judgement("thermocouple type", Verdict.LOOK_AGAIN, finding, "another type, or patience", figures)]
    finding = f"type {probe.letter} covers {timeline.aim_c:.0f} °C with class {probe.tolerance_class}"
    return [Judgement("thermocouple type", Verdict.FINE, finding, "", figures)]


def judge_life(timeline: Timeline, probe: Probe) -> list[Judgement]:
    """Judge the peak against what wire and sheath are good for."""
    aim_c, limits = timeline.aim_c, use_limits(probe)
    figures: dict[str, object] = {
        "aim_c": aim_c,
        "limits": [{"limit_c": limit.limit_c, "of": limit.because} for limit in limits],
    }
    if not limits:
        finding = "how hot wire and sheath may be used is not known"
        remedy = "--sheath-mm or --wire-mm, and --sheath"
        return [Judgement("wire and sheath", Verdict.LOOK_AGAIN, finding, remedy, figures)]
    lowest = limits[0]
    finding = f"{lowest.because}: suggested up to {lowest.limit_c:.0f} °C, the heat goes to {aim_c:.0f}"
    if aim_c <= lowest.limit_c:
        return [Judgement("wire and sheath", Verdict.FINE, finding, "", figures)]
    remedy = "a thicker wire or sheath, or a ceramic tube around a thick wire"
    # Limits are of a useful life, not of melting: a hundred degrees over it is a short one, but it is one.
    verdict = Verdict.LOOK_AGAIN if aim_c <= lowest.limit_c + 100.0 else Verdict.WILL_NOT_WORK
    return [Judgement("wire and sheath", verdict, finding, remedy, figures)]


def judge_uncertainty(timeline: Timeline, probe: Probe, pot: Pot) -> list[Judgement]:
    """Judge what the readings are worth at the temperatures that matter: soaks, inversions, the peak."""
    stated: dict[float, float] = {}
    for temp_c in _that_matter(timeline, pot):
        try:
            stated[temp_c] = uncertainty_c(probe.letter, probe.tolerance_class, temp_c)
        except ValueError:
            continue  # said already of the type's range
    figures: dict[str, object] = {
        "uncertainty_c": {f"{temp_c:.0f}": round(off_c, 1) for temp_c, off_c in stated.items()}
    }
    if not stated:
        return []
    told = ", ".join(f"±{off_c:.0f} °C at {temp_c:.0f}" for temp_c, off_c in stated.items())
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
            f"{told}; {name!r} has a band of {side_c:g} °C, less than the ±{off_c:.0f} °C a reading is worth there"
        )
        remedy = "a thermocouple of class 1 or one calibrated, or a wider band"
        return [Judgement("uncertainty", Verdict.LOOK_AGAIN, f"{finding}; {_PLACEMENT}", remedy, figures)]
    return [Judgement("uncertainty", Verdict.FINE, f"{told} (new wire, k = 2); {_PLACEMENT}", "", figures)]


def judge_response(timeline: Timeline, probe: Probe) -> list[Judgement]:
    """Judge the probe's slowness against the shortest window that a limit averages over."""
    schedule = timeline.schedule
    windows = [
        (rate.window_s, stretch.segment.name, stretch.limit_k_per_h or 0.0)
        for stretch in timeline.stretches
        for rate in schedule.limits_in_force(stretch.index)
    ]
    if not windows:
        return []
    window_s, name, _ = min(windows, key=lambda window: window[0])
    slowness_s = time_constant_s(probe)
    figures: dict[str, object] = {"time_constant_s": slowness_s, "shortest_window_s": window_s, "segment": name}
    if slowness_s is None:
        finding = "how quickly the probe follows is not known"
        return [Judgement("response", Verdict.LOOK_AGAIN, finding, "--sheath-mm or --wire-mm", figures)]
    fastest_k_per_h = max(slope for _, _, slope in windows)
    lag_c = slowness_s * fastest_k_per_h / 3600.0
    finding = (
        f"time constant about {slowness_s:.0f} s in furnace gas (an order of magnitude): {lag_c:.0f} °C behind at "
        f"{fastest_k_per_h:.0f} °C/h; shortest window {format_duration(window_s)} in {name!r}"
    )
    figures["lag_c"] = round(lag_c, 1)
    if window_s >= _WINDOW_PER_TIME_CONSTANT * slowness_s:
        return [Judgement("response", Verdict.FINE, finding, "", figures)]
    wanted = format_duration(60.0 * math.ceil(_WINDOW_PER_TIME_CONSTANT * slowness_s / 60.0))
    remedy = f"a thinner probe, or windows of {wanted}; a burst shows late until then"
    return [Judgement("response", Verdict.LOOK_AGAIN, finding, remedy, figures)]


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
