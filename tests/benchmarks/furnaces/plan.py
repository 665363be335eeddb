"""Draws a heat's plan: schedule, pace, and what befalls it when."""

from dataclasses import dataclass

import numpy as np

from benchmarks.furnaces.story import Row
from rampwarden.core.model import FREEZING_POINTS_C
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

_CLIMB_ROWS = (
    Row.FLAME_OUT_CLIMB,
    Row.FREEZING,
    Row.DOWN_ONCE,
    Row.DOWN_STEPS,
    Row.LID_120_CLIMB,
    Row.MOVED_CLIMB,
    Row.PLATEAU,
)
OVEN_ROWS = (Row.OVEN_CYCLING, Row.OVEN_OFF)
_POINTS_C = tuple(FREEZING_POINTS_C.values())
_OVEN_RATE = Rate(25.0, 900.0)


@dataclass(frozen=True)
class Plan:
    """How a furnace heat is to go. `pace_c_per_s` is what the operator aims at in the climb."""

    schedule: Schedule
    start_c: float
    target_c: float
    pace_c_per_s: float
    full_c_per_s: float
    in_climb: bool
    at_c: float
    after_s: float
    lasts_s: float
    strength: float
    second: float
    oven_c: float = 180.0
    oven_from_c: float = 0.0
    marked: bool = False


def draw_plan(dice: np.random.Generator, row: Row) -> Plan:
    """Draw the plan of a heat of this row."""
    whole = row is Row.ARRIVAL or (row is Row.SOUND and dice.random() < 0.6)
    target_c = float(dice.uniform(950.0, 1170.0))
    pace = float(dice.choice((dice.uniform(8.0, 20.0), dice.uniform(20.0, 45.0), dice.uniform(45.0, 82.0)))) / 60.0
    if row is Row.FREEZING:
        pace = float(dice.uniform(15.0, 80.0)) / 60.0
    in_climb = row in _CLIMB_ROWS or (
        row in (Row.BOTTLE_CHANGE, Row.IN_FLAME, Row.INTERFERENCE, Row.STUCK, Row.CHARGE, Row.OUT_OF_SEAT)
        and dice.random() < 0.4
    )
    earliest_c = target_c - pace * dice.uniform(1500.0, 2400.0)
    start_c = 20.0 if earliest_c < 60.0 else min(earliest_c, 600.0)
    at_c = float(
        dice.uniform(max(start_c + 240.0 * pace + 60.0, 450.0), max(target_c - 320.0 * pace, target_c - 250.0))
    )
    if row is Row.FREEZING:
        start_c, at_c = 20.0, float(dice.uniform(300.0, 550.0))
    point_c = 0.0
    if row is Row.PLATEAU:
        pace = float(dice.uniform(8.0, 40.0)) / 60.0
        point_c = float(dice.choice(_POINTS_C))
        target_c = max(target_c, point_c + 70.0)
        at_c, start_c = point_c, max(20.0, point_c - pace * 900.0)
    if whole:
        pace = min(pace, 0.65)
        start_c = 180.0
    window_s = float(dice.choice((120.0, 180.0, 300.0)))
    limit = Rate(round(pace / dice.uniform(0.65, 0.85) * window_s, 1), window_s)
    band_c = float(dice.choice((15.0, 20.0, 25.0)))
    hold_s = 900.0 + float(dice.uniform(600.0, 1800.0)) if row is Row.SOUND else 3600.0
    if row is Row.LEFT_ON or (row is Row.SOUND and whole):
        hold_s = float(dice.uniform(600.0, 1200.0))
    free = pace > 0.7 and dice.random() < 0.5
    return Plan(
        schedule=_schedule(target_c, limit, band_c, hold_s, whole=whole),
        start_c=start_c,
        target_c=target_c,
        pace_c_per_s=pace * (1.5 if free else 1.0),
        full_c_per_s=pace * (1.05 if free else float(dice.uniform(1.2, 1.9))),
        in_climb=in_climb,
        at_c=at_c,
        after_s=float(dice.uniform(500.0, 1000.0)),
        lasts_s=_lasting_s(dice, row),
        strength=float(dice.random()),
        second=float(dice.random()),
        oven_from_c=20.0 if whole and row is Row.SOUND and dice.random() < 0.3 else 0.0,
        marked=bool(dice.random() < 0.5),
    )


def draw_oven_plan(dice: np.random.Generator, row: Row) -> Plan:
    """Draw an oven heat: notches of 25 °C up to a drying soak."""
    schedule = Schedule(
        "drying",
        (
            Segment("oven drying", SegmentKind.RAMP, to_c=180.0, max_rates=(_OVEN_RATE,)),
            Segment("dry soak", SegmentKind.SOAK, at_c=180.0, band_c=(-15.0, 15.0), hold_s=5400.0),
        ),
    )
    in_climb = row is Row.OVEN_OFF and bool(dice.random() < 0.5)
    return Plan(
        schedule=schedule,
        start_c=float(dice.uniform(60.0, 110.0)) if in_climb else 165.5,
        target_c=180.0,
        pace_c_per_s=25.0 / 900.0 * float(dice.uniform(0.6, 0.85)),
        full_c_per_s=0.0,
        in_climb=in_climb,
        at_c=float(dice.uniform(125.0, 155.0)),
        after_s=float(dice.uniform(1500.0, 3000.0)),
        lasts_s=2400.0,
        strength=float(dice.random()),
        second=float(dice.random()),
    )


def _lasting_s(dice: np.random.Generator, row: Row) -> float:
    match row:
        case Row.FLAME_OUT_CLIMB | Row.FLAME_OUT_SOAK:
            return float(dice.uniform(300.0, 700.0))
        case Row.BOTTLE_CHANGE:
            return 75.0
        case Row.GAS_SAG | Row.POT_DRIFTS | Row.LONG_SOAK:
            return 2400.0
        case Row.FREEZING:
            return 1200.0
        case Row.DOWN_ONCE | Row.DOWN_STEPS:
            return 900.0
        case Row.LID_20_SOAK:
            return 20.0
        case Row.LID_120_SOAK | Row.LID_120_CLIMB:
            return 120.0
        case Row.CHARGE:
            return 900.0
        case Row.IN_FLAME | Row.STUCK:
            return float(dice.uniform(300.0, 600.0))
        case Row.PLATEAU:
            return float(dice.uniform(150.0, 480.0))
        case Row.LEFT_ON:
            return 1500.0
        case _:
            return 900.0


def _schedule(target_c: float, limit: Rate, band_c: float, hold_s: float, *, whole: bool) -> Schedule:
    furnace = (
        Segment("climb", SegmentKind.RAMP, to_c=target_c, max_rates=(limit,)),
        Segment("hold", SegmentKind.SOAK, at_c=target_c, band_c=(-band_c, band_c), hold_s=hold_s),
        Segment("closed furnace", SegmentKind.COOL, to_c=200.0, max_rates=(Rate(400.0, 600.0),)),
    )
    if not whole:
        return Schedule("furnace", furnace)
    oven = (
        Segment("oven drying", SegmentKind.RAMP, to_c=180.0, max_rates=(_OVEN_RATE,)),
        Segment("dry soak", SegmentKind.SOAK, at_c=180.0, band_c=(-15.0, 15.0), hold_s=1200.0),
        Segment("oven to furnace", SegmentKind.TRANSFER, within_s=1200.0, arrive_above_c=80.0),
    )
    return Schedule("oven and furnace", oven + furnace)
