"""Judges the gas: is there enough of it, and can the bottle give it off as fast as the burner takes it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from rampwarden.core.physics import Bottle, burns_kw
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import Schedule
from rampwarden.plan.gas import (
    HEEL,
    RESERVE,
    Demand,
    Withdrawal,
    fuel_kg,
    steady_kw,
    usable_kg,
    usual_diameter_m,
    withdraw,
)
from rampwarden.plan.judgement import Judgement, Verdict
from rampwarden.plan.timeline import Timeline, lay_out
from rampwarden.plan.workshop import BottleSettings, Workshop

# Gauge pressure that must be left over what is needed for the plan to be called fine: the model is good to about that.
_SPARE_BAR = 0.5
_MOST_BOTTLES = 6
# Of the moles: what gas sold as propane may well hold where nobody says what it is. Common practice, no source.
_MAYBE_BUTANE = 0.2
_NEVER_WARM = "never warm a bottle with a flame"


def demands(timeline: Timeline, workshop: Workshop) -> list[Demand] | None:
    """Give the gas each segment asks for, in order; None where a power or a length is not known.

    Which segments burn is the watch's own rule.
    """
    wanted = []
    for stretch in timeline.stretches:
        kw = burns_kw(timeline.schedule, stretch.index, workshop.burner_kw)
        if stretch.likely_s is None:
            if kw > 0.0:
                return None
            continue
        wanted.append(Demand(stretch.likely_s, kw))
    return wanted if workshop.burner_kw else None


def planned_gas(schedule: Schedule, ambient_c: float, powers: Mapping[str, float]) -> tuple[float, float] | None:
    """Give what a schedule should burn, kg, and for how long, s; None where a segment's length is not known."""
    wanted = demands(lay_out(schedule, ambient_c), Workshop(ambient_c=ambient_c, burner_kw=powers))
    if wanted is None:
        return None
    return fuel_kg(wanted), sum(each.seconds for each in wanted if each.kw > 0.0)


def judge_gas(timeline: Timeline, workshop: Workshop) -> list[Judgement]:
    """Judge fuel by mass and by withdrawal; nothing for a furnace that burns no gas."""
    if not workshop.gas:
        return []
    wanted = demands(timeline, workshop)
    if wanted is None:
        unknown = "the burner's power is not known" if not workshop.burner_kw else "a segment's length is not known"
        remedy = (
            "--burner-kw, one figure or by segment" if not workshop.burner_kw else "limits in every segment that burns"
        )
        return [Judgement("gas", Verdict.LOOK_AGAIN, f"whether the gas lasts cannot be told: {unknown}", remedy)]
    bottle = bottle_of(workshop.bottle)
    need_kg = fuel_kg(wanted) * (1.0 + RESERVE)
    if bottle is None:
        finding = f"{need_kg:.2f} kg of propane with {RESERVE:.0%} of reserve; what the bottle holds is not known"
        remedy = "--bottle-kg, and --gross-kg and --tare-kg: weigh it, a pressure gauge shows no level"
        return [Judgement("gas, mass", Verdict.LOOK_AGAIN, finding, remedy, {"need_kg": round(need_kg, 3)})]
    return [_judge_mass(need_kg, bottle, workshop.bottle.count), _judge_withdrawal(timeline, workshop, bottle, wanted)]


def bottle_of(known: BottleSettings) -> Bottle | None:
    """Give one bottle; without its weights it is taken for full, and without a tare for about as heavy as its gas."""
    if known.full_kg is None:
        return None
    steel_kg = known.tare_kg if known.tare_kg is not None else 0.9 * known.full_kg
    content_kg = known.full_kg
    if known.gross_kg is not None and known.tare_kg is not None:
        content_kg = max(0.0, known.gross_kg - known.tare_kg)
    diameter_m = known.diameter_m if known.diameter_m is not None else usual_diameter_m(known.full_kg)
    return Bottle(known.full_kg, content_kg, steel_kg, diameter_m, known.butane_share or 0.0)


def _judge_mass(need_kg: float, bottle: Bottle, count: int) -> Judgement:
    have_kg = usable_kg(bottle) * count
    bottles = "" if count == 1 else f" in {count} bottles"
    finding = (
        f"{need_kg:.2f} kg with {RESERVE:.0%} of reserve, of {have_kg:.2f} kg that can be got out{bottles} "
        f"({HEEL:.0%} of a full bottle stays in it)"
    )
    figures: dict[str, object] = {"need_kg": round(need_kg, 3), "have_kg": round(have_kg, 3), "bottles": count}
    if need_kg <= have_kg:
        return Judgement("gas, mass", Verdict.FINE, finding, "", figures)
    full_kg = bottle.full_kg * (1.0 - HEEL)
    bottles_needed = math.ceil(need_kg / full_kg)
    remedy = "a full bottle" if bottles_needed == 1 else f"{bottles_needed} full bottles, or a bigger one"
    short_of_reserve = need_kg / (1.0 + RESERVE) <= have_kg
    verdict = Verdict.LOOK_AGAIN if short_of_reserve else Verdict.WILL_NOT_WORK
    return Judgement("gas, mass", verdict, finding, remedy, figures)


def _judge_withdrawal(timeline: Timeline, workshop: Workshop, bottle: Bottle, wanted: Sequence[Demand]) -> Judgement:
    known, ambient_c = workshop.bottle, workshop.ambient_c
    fared = _fare(bottle, workshop, wanted, known.count)
    peak_kw = max((demand.kw for demand in wanted), default=0.0)
    steady = steady_kw(bottle, fared.left_kg, ambient_c, known.needed_bar) * known.count
    figures: dict[str, object] = {
        "peak_kw": peak_kw,
        "steady_kw_at_the_end": round(steady, 2),
        "lowest_bar": round(fared.lowest_bar, 2),
        "needed_bar": known.needed_bar,
        "coldest_liquid_c": round(fared.coldest_c, 1),
        "butane_share": known.butane_share,
        "short_at_s": fared.short_at_s,
        "short_left_kg": None if fared.short_at_s is None else round(fared.short_left_kg, 2),
    }
    where = f"at {ambient_c:.0f} °C"
    if fared.short_at_s is not None and fared.short_left_kg <= 0.0:
        finding = f"the bottle is empty {format_duration(fared.short_at_s)} after the start"
        remedy = "more gas, as said above"
        return Judgement("gas, withdrawal", Verdict.WILL_NOT_WORK, finding, remedy, figures)
    if fared.short_at_s is not None:
        finding = (
            f"{where} the bottle goes cold by its own boiling and falls below {known.needed_bar:g} bar "
            f"{format_duration(fared.short_at_s)} after the start{_in_segment(timeline, fared.short_at_s)}, "
            f"with {fared.short_left_kg:.1f} kg still in it{_of_what(known)}"
        )
        remedy = _enough_bottles(bottle, workshop, wanted)
        return Judgement("gas, withdrawal", Verdict.WILL_NOT_WORK, finding, f"{remedy}; {_NEVER_WARM}", figures)
    finding = (
        f"{where} bottle pressure stays above {fared.lowest_bar:.1f} bar; the burner needs {known.needed_bar:g} "
        f"(liquid down to {fared.coldest_c:.0f} °C){_of_what(known)}"
    )
    if peak_kw > steady:
        finding += (
            f"; it lives on the warmth in the bottle: nearly empty, it can keep up {steady:.0f} kW, not {peak_kw:g}"
        )
    if known.butane_share is None:
        mixed = _fare(replace(bottle, butane_share=_MAYBE_BUTANE), workshop, wanted, known.count)
        if mixed.short_at_s is not None:
            finding += (
                f"; with a fifth of butane in it, it falls short {format_duration(mixed.short_at_s)} after the start"
            )
            remedy = "ask what the gas holds (--butane-percent), or a bigger bottle or two in parallel"
            return Judgement("gas, withdrawal", Verdict.LOOK_AGAIN, finding, f"{remedy}; {_NEVER_WARM}", figures)
    if fared.lowest_bar >= known.needed_bar + _SPARE_BAR or peak_kw <= steady:
        return Judgement("gas, withdrawal", Verdict.FINE, finding, "", figures)
    remedy = f"a bigger bottle or two in parallel, a warmer place; {_NEVER_WARM}"
    return Judgement("gas, withdrawal", Verdict.LOOK_AGAIN, finding, remedy, figures)


def _of_what(known: BottleSettings) -> str:
    """Say what the bottle is taken to hold: butane makes it fail sooner, and nobody sees it."""
    if known.butane_share is None:
        return "; reckoned for pure propane, and butane in it would make it fall short sooner"
    return f"; with {known.butane_share:.0%} of butane in it" if known.butane_share else ""


def _fare(bottle: Bottle, workshop: Workshop, wanted: Sequence[Demand], count: int) -> Withdrawal:
    known = workshop.bottle
    return withdraw(bottle, workshop.ambient_c, known.needed_bar, _shared(wanted, count), known.liquid_c)


def _enough_bottles(bottle: Bottle, workshop: Workshop, wanted: Sequence[Demand]) -> str:
    for count in range(workshop.bottle.count + 1, _MOST_BOTTLES + 1):
        fared = _fare(bottle, workshop, wanted, count)
        if fared.short_at_s is None:
            return f"{count} such bottles in parallel, or a bigger one"
    return "much bigger bottles in a warmer place, or another burner"


def _shared(wanted: Sequence[Demand], count: int) -> list[Demand]:
    return [Demand(demand.seconds, demand.kw / count) for demand in wanted]


def _in_segment(timeline: Timeline, at_s: float) -> str:
    """Say in which segment that is; nothing where a segment of unknown length has put the clock out."""
    for stretch in timeline.stretches:
        if stretch.starts_s is None or stretch.ends_s is None:
            break
        if at_s <= stretch.ends_s:
            return f", in {stretch.segment.name!r}"
    return ""
