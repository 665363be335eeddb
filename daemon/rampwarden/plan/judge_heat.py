"""Judges the schedule itself: can it be kept at all, does it dry the pot, and how does it take it past red heat."""

from rampwarden.core.physics import ATMOSPHERE_BAR, WATER
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import Segment, SegmentKind
from rampwarden.plan.bodies import CLASSES, schedule_fits
from rampwarden.plan.drying import LEAST_S, drying_s, drying_soak
from rampwarden.plan.judgement import Judgement, Verdict
from rampwarden.plan.oxidation import PRONE_C, SEALS_C, UNSEALED_C, unsealed_dose_s
from rampwarden.plan.probe import ProbePlace
from rampwarden.plan.timeline import Stretch, Timeline
from rampwarden.plan.workshop import Pot

# Water leaves fastest from 75 to 100 °C and pushes hardest towards 200. The fastest drying that is usual for a pot that
# was dry before is 150 °C/h; for a first heat advice runs from 20 to 150. Common practice, no source.
_WET_C = (75.0, 200.0)
_FASTEST_DRYING_K_PER_H = 150.0
# Minutes at 600 °C: a passage from 315 to 650 °C at 140 °C/h; slower is lingering. Common practice, no source.
_DEAREST_PASSAGE_MIN = 45.0
# Minutes at 600 °C until the glaze has sealed: 315 to 650 °C at 240 °C/h and on at 480 come to some 100, half an hour
# of halt at 750 °C to another 96. Common practice, no source; the sum is own arithmetic.
_DEAREST_UNSEALED_MIN = 120.0
_HOT_C = (PRONE_C[0], 3000.0)
# The yardstick is good to a tenth at the very best.
_CLOSE_TO = 0.9


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
        finding = f"how long {', '.join(map(repr, unknown))} takes cannot be told: it has no limit to go by"
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


def judge_drying(timeline: Timeline, pot: Pot, place: ProbePlace | None = None) -> list[Judgement]:
    """Judge whether the pot has time to dry before steam could harm it; "dried" it is only by weight."""
    soak = drying_soak(timeline.schedule)
    # Once it has been dried, the way up again after a transfer is no drying.
    until = len(timeline.schedule.segments) if soak is None else timeline.schedule.segments.index(soak)
    wet = [stretch for stretch in timeline.stretches if stretch.index < until and _passes(stretch, _WET_C)]
    fastest = max((stretch.limit_k_per_h for stretch in wet if stretch.limit_k_per_h is not None), default=None)
    counted_s = drying_s(timeline)
    figures: dict[str, object] = {
        "soak_c": soak.at_c if soak else None,
        "soak_s": soak.hold_s if soak else None,
        "fastest_k_per_h": fastest,
        "minutes_at_200_c": None if counted_s is None else round(counted_s / 60.0, 1),
        "least_minutes_at_200_c": LEAST_S / 60.0,
    }
    if soak is None and pot.must_dry == "":
        return [Judgement("drying", Verdict.FINE, "no drying soak; a dry pot in use needs none", "", figures)]
    faults, remedies = [], []
    if soak is None:
        why = pot.must_dry or "whether the pot is dry is not known here"
        push = f"{_over_air_bar(200.0):.0f} bar over the air at 200 °C, {_over_air_bar(300.0):.0f} at 300"
        faults.append(f"no drying soak, and {why}: steam in a closed pore would push with {push}")
        remedies.append(
            "a soak of an hour or more at 150 to 200 °C of the pot first; dry means weighed dry, not just warm"
        )
    if soak is not None and pot.must_dry != "" and fastest is not None and fastest > _FASTEST_DRYING_K_PER_H * 1.01:
        faults.append(f"up to {fastest:.0f} °C/h while water leaves ({_WET_C[0]:.0f} to {_WET_C[1]:.0f} °C)")
        remedies.append(f"at most {_FASTEST_DRYING_K_PER_H:.0f} °C/h below 200 °C, less for a first heat")
    if soak is not None and pot.must_dry != "" and counted_s is not None and counted_s < LEAST_S * _CLOSE_TO:
        faults.append("less than the least that is usual, 20 min at 260 °C, 30 at 180 or two hours at 150")
        remedies.append("a longer or warmer soak (150 to 200 °C of the pot)")
    told = "" if soak is None else _told(soak, counted_s, place)
    finding = "; ".join([*faults, told] if told else faults)
    if not faults:
        return [Judgement("drying", Verdict.FINE, finding, "", figures)]
    return [Judgement("drying", Verdict.LOOK_AGAIN, finding, "; ".join(remedies), figures)]


def _told(soak: Segment, counted_s: float | None, place: ProbePlace | None) -> str:
    """Say what time and temperature the soak gives, and that neither is dryness."""
    at_c = soak.at_c or 0.0
    worth = "" if counted_s is None else f", with the way there as much as {counted_s / 60.0:.0f} min at 200"
    push = (
        f"; steam in a closed pore then stands {_over_air_bar(at_c):.0f} bar over the air" if at_c > _WET_C[0] else ""
    )
    whose = " of the chamber, and the pot comes after it" if place is ProbePlace.CHAMBER else ""
    return (
        f"{format_duration(soak.hold_s)} at {at_c:.0f} °C{whose}{worth}{push}. "
        "Time proves no dryness: until the pot is weighed, dry is in doubt"
    )


def _over_air_bar(temp_c: float) -> float:
    """Give the pressure of boiling water less that of the air, bar: what acts on a pore's wall."""
    return WATER.bar(temp_c) - ATMOSPHERE_BAR


def judge_passage(timeline: Timeline, pot: Pot) -> list[Judgement]:
    """Judge the time in which bare graphite burns, up to where a glaze seals it; nothing for other classes."""
    if pot.crucible_class is None or not any(_passes(stretch, PRONE_C) for stretch in timeline.stretches):
        return []
    data = CLASSES[pot.crucible_class]
    prone_s = timeline.seconds_within(PRONE_C, heating_only=True)
    prone_dose_s = timeline.dose_s(PRONE_C, heating_only=True)
    open_dose_s = timeline.dose_s(UNSEALED_C, heating_only=True, of_line=unsealed_dose_s)
    whole_s = timeline.dose_s(_HOT_C)
    figures: dict[str, object] = {
        "prone_s": prone_s,
        "prone_dose_min": None if prone_dose_s is None else round(prone_dose_s / 60.0, 2),
        "unsealed_dose_min": None if open_dose_s is None else round(open_dose_s / 60.0, 1),
        "heat_dose_min": None if whole_s is None else round(whole_s / 60.0, 1),
    }
    if not data.oxidises:
        return []
    if prone_s is None or prone_dose_s is None or open_dose_s is None or whole_s is None:
        finding = "how long it stays where graphite burns cannot be told"
        return [Judgement("graphite", Verdict.LOOK_AGAIN, finding, "a min_rate from 315 to 900 °C", figures)]
    prone_min, open_min = prone_dose_s / 60.0, open_dose_s / 60.0
    finding = (
        f"burns at most as in {prone_min:.0f} min at 600 °C on its {format_duration(prone_s)} from {PRONE_C[0]:.0f} to "
        f"{PRONE_C[1]:.0f} °C; as in {open_min:.0f} min up to {UNSEALED_C[1]:.0f} °C, where the glaze, molten "
        f"from {SEALS_C[0]:.0f} °C on, has sealed it; as in {whole_s / 60.0:.0f} min in the whole heat "
        "(bare graphite in free air)"
    )
    if prone_min > _DEAREST_PASSAGE_MIN or open_min > _DEAREST_UNSEALED_MIN:
        where = "500 and 650" if prone_min > _DEAREST_PASSAGE_MIN else "650 and 900"
        remedy = f"a higher min_rate between {where} °C and no halt there; no air beyond what the flame needs"
        return [Judgement("graphite", Verdict.LOOK_AGAIN, finding, remedy, figures)]
    return [Judgement("graphite", Verdict.FINE, finding, "", figures)]


def _is_late(stretch: Stretch) -> bool:
    within_s, earliest_s = stretch.segment.within_s, stretch.earliest_s
    return within_s is not None and earliest_s is not None and earliest_s > within_s


def _passes(stretch: Stretch, range_c: tuple[float, float]) -> bool:
    if stretch.segment.kind is not SegmentKind.RAMP:
        return False
    return max(stretch.from_c, range_c[0]) < min(stretch.to_c, range_c[1])
