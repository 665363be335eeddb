"""Judges the ramps a schedule asks for against the maker's sheet, and against what the wall is reckoned to stand.

The sheet outranks everything here; the wall's own figure is an estimate and says so in every line.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from rampwarden.core.schedule import SegmentKind
from rampwarden.plan.bodies import CLASSES
from rampwarden.plan.judgement import Judgement, Verdict
from rampwarden.plan.sheet import SheetLimit
from rampwarden.plan.timeline import Stretch, Timeline
from rampwarden.plan.wall import (
    SAFETY_FACTOR,
    Body,
    limit_cooling_k_per_h,
    limit_heating_k_per_h,
    settling_s,
    stress,
    through_wall_k,
)
from rampwarden.plan.workshop import Pot

_LABEL = "an estimate; the maker's sheet outranks it"
# A rate written as 16.7 C / 10 min is meant to be 100 °C/h.
_ROUNDING = 1.01


@dataclass(frozen=True, slots=True)
class _Load:
    """One segment's ramp against what the wall stands that way."""

    stretch: Stretch
    asked_k_per_h: float
    stands_k_per_h: float

    @property
    def share(self) -> float:
        return self.asked_k_per_h / self.stands_k_per_h


def judge_sheet(timeline: Timeline, pot: Pot) -> list[Judgement]:
    """Judge every segment against the maker's sheet; nothing where no sheet has been entered."""
    if not pot.sheet and pot.sheet_top_c is None:
        return []
    faults = [fault for stretch in timeline.stretches for limit in pot.sheet for fault in _faults(stretch, limit)]
    if pot.sheet_top_c is not None and timeline.peak_c > pot.sheet_top_c:
        faults.insert(0, f"it may go to {timeline.peak_c:.0f} °C, and the sheet ends at {pot.sheet_top_c:.0f}")
    figures: dict[str, object] = {"limits": [str(limit) for limit in pot.sheet], "top_c": pot.sheet_top_c}
    if faults:
        remedy = "the sheet's own figures in the schedule: it outranks every number here"
        return [Judgement("maker's sheet", Verdict.WILL_NOT_WORK, "; ".join(faults), remedy, figures)]
    return [Judgement("maker's sheet", Verdict.FINE, "every segment keeps within it", "", figures)]


def judge_wall(timeline: Timeline, pot: Pot) -> list[Judgement]:
    """Judge heating and cooling against the ramp this wall is reckoned to stand."""
    if pot.crucible_class is None:
        finding = "of what class the crucible is, is not known"
        return [Judgement("wall", Verdict.LOOK_AGAIN, finding, "--crucible MARK, or --class and --wall-mm")]
    body = CLASSES[pot.crucible_class].body
    if body is None:
        finding = f"nothing is known of a wall of class {pot.crucible_class}"
        return [Judgement("wall", Verdict.LOOK_AGAIN, finding, "the maker's sheet, entered with the crucible")]
    if pot.wall_mm is None:
        finding = "how thick its wall is, is not known"
        return [Judgement("wall", Verdict.LOOK_AGAIN, finding, "--wall-mm, or the crucible's own wall_mm")]
    wall_m = pot.wall_mm / 1000.0
    heating = list(_loads(timeline, limit_heating_k_per_h(body, wall_m), cooling=False))
    cooling = list(_loads(timeline, limit_cooling_k_per_h(body, wall_m), cooling=True))
    judged = []
    for topic, loads, side in (("wall, heating", heating, False), ("wall, cooling", cooling, True)):
        if loads:
            judged.append(_judge(topic, max(loads, key=lambda load: load.share), body, wall_m, cooling=side))
    return judged


def _loads(timeline: Timeline, stands_k_per_h: float, *, cooling: bool) -> Iterator[_Load]:
    for stretch in timeline.stretches:
        falls = stretch.segment.kind is SegmentKind.COOL
        if falls == cooling and stretch.limit_k_per_h is not None and stretch.segment.kind is not SegmentKind.TRANSFER:
            yield _Load(stretch, stretch.limit_k_per_h, stands_k_per_h)


def _judge(topic: str, load: _Load, body: Body, wall_m: float, *, cooling: bool) -> Judgement:
    difference_k = through_wall_k(load.asked_k_per_h, wall_m, body.diffusivity_m2_per_s)
    heated = stress(body, difference_k)
    tension_mpa = -heated.hot_face_mpa if cooling else heated.cold_face_mpa
    face = "outer" if cooling else "inner"
    finding = (
        f"{load.stretch.segment.name!r} asks up to {load.asked_k_per_h:.0f} °C/h: {difference_k:.1f} °C through "
        f"{wall_m * 1000:g} mm, {tension_mpa:.2f} MPa of tension in the {face} face of some {body.strength_mpa:g}. "
        f"It stands about {_two_digits(load.stands_k_per_h)} °C/h with a factor of {SAFETY_FACTOR:g} kept: {_LABEL}"
    )
    figures: dict[str, object] = {
        "segment": load.stretch.segment.name,
        "asked_k_per_h": round(load.asked_k_per_h, 1),
        "stands_k_per_h": round(load.stands_k_per_h, 1),
        "safety_factor": SAFETY_FACTOR,
        "difference_k": round(difference_k, 2),
        "tension_mpa": round(tension_mpa, 3),
        "settling_s": round(settling_s(wall_m, body.diffusivity_m2_per_s), 1),
        "basis": f"{_LABEL}; {body.source}",
    }
    if load.share <= _ROUNDING:
        return Judgement(topic, Verdict.FINE, finding, "", figures)
    name = load.stretch.segment.name
    remedy = f"at most {_two_digits(load.stands_k_per_h)} °C/h in {name!r}, or the maker's word for more"
    verdict = Verdict.WILL_NOT_WORK if load.share > SAFETY_FACTOR else Verdict.LOOK_AGAIN
    return Judgement(topic, verdict, finding, remedy, figures)


def _faults(stretch: Stretch, limit: SheetLimit) -> Iterator[str]:
    segment = stretch.segment
    if segment.kind is SegmentKind.TRANSFER or (segment.kind is SegmentKind.COOL) != limit.cooling:
        return
    if not limit.overlaps(stretch.from_c, stretch.to_c):
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


def _two_digits(value: float) -> str:
    """Write an estimate with no more digits than it deserves.

    >>> _two_digits(5080.0)
    '5100'
    """
    return f"{float(f'{value:.2g}'):.0f}"
