"""Judges the schedule itself: can it be kept at all, does it dry the pot, and how does it take it past red heat."""

from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import SegmentKind
from rampwarden.plan.bodies import CLASSES, schedule_fits
from rampwarden.plan.drying import drying_soak
from rampwarden.plan.judgement import Judgement, Verdict
from rampwarden.plan.oxidation import PRONE_C
from rampwarden.plan.saturation import WATER
from rampwarden.plan.timeline import Stretch, Timeline
from rampwarden.plan.workshop import Pot

# Water leaves fastest from 75 to 100 °C and pushes hardest towards 200. The fastest drying that is usual for a pot that
# was dry before is 150 °C/h; for a first heat advice runs from 20 to 150. Common practice, no source.
_WET_C = (75.0, 200.0)
_FASTEST_DRYING_K_PER_H = 150.0
# Minutes at 600 °C: a passage from 315 to 650 °C at 140 °C/h; slower is lingering. Common practice, no source.
_DEAREST_PASSAGE_MIN = 45.0
_HOT_C = (PRONE_C[0], 3000.0)


def judge_schedule(timeline: Timeline) -> list[Judgement]:
    """Judge whether the segments can be done within their own limits."""
    unknown = [stretch.segment.name for stretch in timeline.stretches if stretch.likely_s is None]
    late = [stretch for stretch in timeline.stretches if _is_late(stretch)]
    figures: dict[str, object] = {"total_s": timeline.total_s, "aim_c": timeline.aim_c, "peak_c": timeline.peak_c}
    if late:
        first = late[0]
        within = format_duration(first.segment.within_s or 0.0)
        finding = (
            f"{first.segment.name!r} must be done within {within}, but its own limits let it take no less than "
            f"{format_duration(first.earliest_s or 0.0)}"
        )
        remedy = (
            f"a longer 'within' in {', '.join(repr(stretch.segment.name) for stretch in late)}, or a faster max_rate"
        )
        return [Judgement("schedule", Verdict.WILL_NOT_WORK, finding, remedy, figures)]
    if unknown:
        finding = f"how long {', '.join(map(repr, unknown))} takes is not to be known: it has no limit to go by"
        return [Judgement("schedule", Verdict.LOOK_AGAIN, finding, "a max_rate or a 'within' in it", figures)]
    finding = (
        f"about {format_duration(timeline.total_s or 0.0)} at four fifths of its limits, up to {timeline.aim_c:.0f} °C"
    )
    return [Judgement("schedule", Verdict.FINE, finding, "", figures)]


def judge_class(timeline: Timeline, pot: Pot) -> list[Judgement]:
    """Judge whether the schedule is for this class of crucible; nothing where the class is not known."""
    theirs = timeline.schedule.crucible_class
    if pot.crucible_class is None or schedule_fits(theirs, pot.crucible_class):
        return []
    finding = f"the schedule is for {theirs}, the crucible is {pot.crucible_class}"
    remedy = f"a schedule for {pot.crucible_class}, or the maker's sheet"
    return [Judgement("class", Verdict.LOOK_AGAIN, finding, remedy)]


def judge_drying(timeline: Timeline, pot: Pot) -> list[Judgement]:
    """Judge whether the pot is dry before steam could harm it."""
    soak = drying_soak(timeline.schedule)
    # Once it has been dried, the way up again after a transfer is no drying.
    until = len(timeline.schedule.segments) if soak is None else timeline.schedule.segments.index(soak)
    wet = [stretch for stretch in timeline.stretches if stretch.index < until and _passes(stretch, _WET_C)]
    fastest = max((stretch.limit_k_per_h for stretch in wet if stretch.limit_k_per_h is not None), default=None)
    figures: dict[str, object] = {
        "soak_c": soak.at_c if soak else None,
        "soak_s": soak.hold_s if soak else None,
        "fastest_k_per_h": fastest,
    }
    if soak is None:
        push = f"{WATER.bar(200.0):.0f} bar at 200 °C, {WATER.bar(300.0):.0f} at 300"
        steam = f"water left in the pores would push with {push}"
        if pot.must_dry == "":
            return [Judgement("drying", Verdict.FINE, "no drying soak; a dry pot in use needs none", "", figures)]
        why = pot.must_dry or "whether the pot is dry is not known here"
        remedy = "a soak of half an hour or more at 150 to 200 °C first; dry means weighed dry, not just warm"
        return [Judgement("drying", Verdict.LOOK_AGAIN, f"no drying soak, and {why}: {steam}", remedy, figures)]
    at_c = soak.at_c or 0.0
    push = f"; what water is left then pushes with {WATER.bar(at_c):.0f} bar" if at_c > _WET_C[0] else ""
    finding = f"{format_duration(soak.hold_s)} at {at_c:.0f} °C{push}. A soak proves time, not dryness: weigh the pot"
    if pot.must_dry != "" and fastest is not None and fastest > _FASTEST_DRYING_K_PER_H * 1.01:
        finding = f"up to {fastest:.0f} °C/h while water leaves ({_WET_C[0]:.0f} to {_WET_C[1]:.0f} °C); {finding}"
        remedy = f"at most {_FASTEST_DRYING_K_PER_H:.0f} °C/h below 200 °C, less for a first heat"
        return [Judgement("drying", Verdict.LOOK_AGAIN, finding, remedy, figures)]
    return [Judgement("drying", Verdict.FINE, finding, "", figures)]


def judge_passage(timeline: Timeline, pot: Pot) -> list[Judgement]:
    """Judge the time in which bare graphite burns, and its dose; nothing for classes without graphite to lose."""
    if pot.crucible_class is None or not any(_passes(stretch, PRONE_C) for stretch in timeline.stretches):
        return []
    data = CLASSES[pot.crucible_class]
    prone_s = timeline.seconds_within(PRONE_C, heating_only=True)
    prone_dose_s = timeline.dose_s(PRONE_C, heating_only=True)
    whole_s = timeline.dose_s(_HOT_C)
    figures: dict[str, object] = {
        "prone_s": prone_s,
        "prone_dose_min": None if prone_dose_s is None else round(prone_dose_s / 60.0, 2),
        "heat_dose_min": None if whole_s is None else round(whole_s / 60.0, 1),
    }
    if not data.oxidises:
        return []
    if prone_s is None or prone_dose_s is None or whole_s is None:
        finding = "how long it lingers where graphite burns is not to be known"
        return [Judgement("graphite", Verdict.LOOK_AGAIN, finding, "a min_rate from 315 to 650 °C", figures)]
    dose_min = prone_dose_s / 60.0
    finding = (
        f"{format_duration(prone_s)} from {PRONE_C[0]:.0f} to {PRONE_C[1]:.0f} °C on the way up, as much as "
        f"{dose_min:.0f} min at 600 °C; the whole heat {whole_s / 60.0:.0f} min (upper bounds: bare graphite, free air)"
    )
    if dose_min > _DEAREST_PASSAGE_MIN:
        remedy = "a higher min_rate between 500 and 650 °C, and a flame that is slightly rich"
        return [Judgement("graphite", Verdict.LOOK_AGAIN, finding, remedy, figures)]
    return [Judgement("graphite", Verdict.FINE, finding, "", figures)]


def _is_late(stretch: Stretch) -> bool:
    within_s, earliest_s = stretch.segment.within_s, stretch.earliest_s
    return within_s is not None and earliest_s is not None and earliest_s > within_s


def _passes(stretch: Stretch, range_c: tuple[float, float]) -> bool:
    if stretch.segment.kind is not SegmentKind.RAMP:
        return False
    return max(stretch.from_c, range_c[0]) < min(stretch.to_c, range_c[1])
