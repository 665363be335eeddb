"""Judges the ramps a schedule asks for against the maker's sheet, and against what the wall is reckoned to stand.

The sheet outranks everything here; the wall's own figure is an estimate and says so in every line.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rampwarden.core.quantities import Rate, format_slope
from rampwarden.core.schedule import SegmentKind
from rampwarden.plan.bodies import CLASSES
from rampwarden.plan.drying import HOTTEST_C, drying_soak
from rampwarden.plan.judgement import Judgement, Verdict
from rampwarden.plan.sheet import SheetLimit
from rampwarden.plan.timeline import Stretch, Timeline
from rampwarden.plan.wall import (
    HANDBOOK_SCATTER,
    SAFETY_FACTOR,
    Body,
    even_pull_k,
    settling_s,
    tension_mpa,
    through_wall_k,
    worst_course,
    worst_pull_k,
)
from rampwarden.plan.workshop import Pot

_LABEL = "An estimate, good to a factor of two; the maker's sheet outranks it"
_WHY_SLOWER = (
    ". No leave to go faster: schedules are slower for what this does not see, steam, one side heated first, the bond"
)
# A rate written as 16.7 C / 10 min is meant to be 100 °C/h.
_ROUNDING = 1.01


@dataclass(frozen=True, slots=True)
class _Load:
    """One segment's limits against the wall: what pulls at a face spread evenly, and spent at once, K."""

    stretch: Stretch
    limits: tuple[Rate, ...]
    even_k: float
    worst_k: float
    stands_k: float

    @property
    def is_fine(self) -> bool:
        even, at_once = self.stands_k / self.even_k, self.stands_k / self.worst_k
        return even * _ROUNDING >= SAFETY_FACTOR and at_once * _ROUNDING >= HANDBOOK_SCATTER


def judge_sheet(timeline: Timeline, pot: Pot) -> list[Judgement]:
    """Judge every segment against the maker's sheet; nothing where no sheet has been entered."""
    if not pot.sheet and pot.sheet_top_c is None:
        return []
    faults: list[str] = []
    spared: list[str] = []
    for stretch, start_c, is_dried in _climbs(timeline):
        for limit in pot.sheet:
            if is_dried and _is_for_drying(limit) and any(_faults(stretch, start_c, limit)):
                spared.append(
                    f"{limit} is taken for the drying, and not held against {stretch.segment.name!r} after it"
                )
                continue
            faults += _faults(stretch, start_c, limit)
    if pot.sheet_top_c is not None and timeline.peak_c > pot.sheet_top_c:
        faults.insert(0, f"it may go to {timeline.peak_c:.0f} °C, and the sheet ends at {pot.sheet_top_c:.0f}")
    figures: dict[str, object] = {"limits": [str(limit) for limit in pot.sheet], "top_c": pot.sheet_top_c}
    if faults:
        remedy = "the sheet's own figures in the schedule: it outranks every number here"
        return [Judgement("maker's sheet", Verdict.WILL_NOT_WORK, "; ".join(faults), remedy, figures)]
    finding = "; ".join(["every segment keeps within it", *spared])
    return [Judgement("maker's sheet", Verdict.FINE, finding, "", figures)]


def _climbs(timeline: Timeline) -> Iterator[tuple[Stretch, float, bool]]:
    """Give each stretch with where it begins as a sheet means it, and whether the pot has had its drying soak by then.

    A pot that cools while it is carried has been as hot as it was: what it passes again on the way up is no first time.
    """
    soak = drying_soak(timeline.schedule)
    dried_from = len(timeline.schedule.segments) if soak is None else timeline.schedule.segments.index(soak) + 1
    highest_c = -math.inf
    for stretch in timeline.stretches:
        falls = stretch.segment.kind is SegmentKind.COOL
        start_c = stretch.from_c if falls else min(max(stretch.from_c, highest_c), max(stretch.from_c, stretch.to_c))
        yield stretch, start_c, not falls and stretch.index >= dried_from
        highest_c = max(highest_c, stretch.from_c, stretch.to_c)


def _is_for_drying(limit: SheetLimit) -> bool:
    return not limit.cooling and not limit.at_least and limit.to_c <= HOTTEST_C


def judge_wall(timeline: Timeline, pot: Pot) -> list[Judgement]:
    """Judge what heating and cooling put through the wall, by the worst course that each budget allows."""
    if pot.crucible_class is None:
        finding = "the crucible's class is not known"
        return [Judgement("wall", Verdict.LOOK_AGAIN, finding, "--crucible MARK, or --class and --wall-mm")]
    body = CLASSES[pot.crucible_class].body
    if body is None:
        finding = f"nothing is known of a wall of class {pot.crucible_class}"
        return [Judgement("wall", Verdict.LOOK_AGAIN, finding, "the maker's sheet, entered with the crucible")]
    if pot.wall_mm is None:
        finding = "the thickness of its wall is not known"
        return [Judgement("wall", Verdict.LOOK_AGAIN, finding, "--wall-mm, or the crucible's own wall_mm")]
    judged = []
    for topic, cooling in (("wall, heating", False), ("wall, cooling", True)):
        loads = list(_loads(timeline, body, pot.wall_mm / 1000.0, cooling=cooling))
        if loads:
            judged.append(_judge(topic, max(loads, key=lambda load: load.worst_k), body, pot.wall_mm, cooling=cooling))
    return judged


def _loads(timeline: Timeline, body: Body, wall_m: float, *, cooling: bool) -> Iterator[_Load]:
    for stretch in timeline.stretches:
        falls = stretch.segment.kind is SegmentKind.COOL
        limits = timeline.schedule.limits_in_force(stretch.index)
        way_k = abs(stretch.to_c - stretch.from_c)
        if falls != cooling or not limits or way_k == 0.0 or stretch.segment.kind is SegmentKind.TRANSFER:
            continue
        diffusivity, slope = body.diffusivity_m2_per_s, min(limit.c_per_s for limit in limits)
        yield _Load(
            stretch,
            limits,
            even_pull_k(slope, wall_m, diffusivity, cooling=cooling),
            worst_pull_k(worst_course(limits, way_k), wall_m, diffusivity, cooling=cooling),
            body.shock_resistance_k,
        )


def _judge(topic: str, load: _Load, body: Body, wall_mm: float, *, cooling: bool) -> Judgement:
    name, wall_m = load.stretch.segment.name, wall_mm / 1000.0
    slowest = min(load.limits, key=lambda limit: limit.c_per_s)
    even_k = through_wall_k(slowest.c_per_s * 3600.0, wall_m, body.diffusivity_m2_per_s)
    share = load.stands_k / load.worst_k
    finding = (
        f"{name!r} allows {format_slope(slowest.c_per_s, slowest.window_s)}: climbed evenly, it puts "
        f"{even_k:.0f} °C through {wall_mm:g} mm; climbed all at once, {load.worst_k:.0f} °C pull at the "
        f"{'outer' if cooling else 'inner'} face, "
        f"{_times(share)}. {_LABEL}{_WHY_SLOWER if share >= SAFETY_FACTOR else ''}"
    )
    figures: dict[str, object] = {
        "segment": name,
        "limits": [format_slope(limit.c_per_s, limit.window_s) for limit in load.limits],
        "even_difference_k": round(even_k, 2),
        "even_pull_k": round(load.even_k, 2),
        "worst_pull_k": round(load.worst_k, 2),
        "worst_tension_mpa": round(tension_mpa(body, load.worst_k), 3),
        "strength_mpa": body.strength_mpa,
        "factor_even": round(load.stands_k / load.even_k, 2),
        "factor_at_once": round(share, 2),
        "settling_s": round(settling_s(wall_m, body.diffusivity_m2_per_s), 1),
        "basis": f"{_LABEL}; {body.source}",
    }
    if load.is_fine:
        return Judgement(topic, Verdict.FINE, finding, "", figures)
    remedy = f"the maker's word; a shorter limit beside it in {name!r}, so that it cannot be spent at once"
    # If even the gentlest course within the limit is reckoned to break it, nobody should try.
    verdict = Verdict.WILL_NOT_WORK if load.stands_k < load.even_k else Verdict.LOOK_AGAIN
    return Judgement(topic, verdict, finding, remedy, figures)


def _times(share: float) -> str:
    """Word how far it is from the strength, no closer than handbooks agree."""
    if share >= 10.0:
        return "a tenth or less of what such a wall stands by handbook figures"
    if share >= 1.0:
        return f"{1.0 / share:.0%} of what such a wall stands by handbook figures"
    return "more than such a wall stands by handbook figures"


def _faults(stretch: Stretch, start_c: float, limit: SheetLimit) -> Iterator[str]:
    segment = stretch.segment
    if segment.kind is SegmentKind.TRANSFER or (segment.kind is SegmentKind.COOL) != limit.cooling:
        return
    if not limit.overlaps(start_c, stretch.to_c):
        return
    asked = limit.rate.c_per_s * 3600.0
    if limit.at_least:
        least = segment.min_rate.c_per_s * 3600.0 if segment.min_rate else None
        if segment.kind is SegmentKind.RAMP and (least is None or least * _ROUNDING < asked):
            has = "has no min_rate" if least is None else f"lets it go as slowly as {least:.0f} °C/h"
            yield f"{segment.name!r} {has}, and the sheet wants {limit}"
    elif stretch.limit_k_per_h is None or stretch.limit_k_per_h > asked * _ROUNDING:
        has = "has no max_rate" if stretch.limit_k_per_h is None else f"allows {stretch.limit_k_per_h:.0f} °C/h"
        yield f"{segment.name!r} {has}, and the sheet says {limit}"
