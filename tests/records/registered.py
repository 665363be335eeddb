"""Crucibles and heats for the tests of the register. Not a test itself."""

import msgspec

from rampwarden.records.crucibles import Crucible
from rampwarden.records.figures import HeatFigures, SegmentFigures

A3 = Crucible("A3", "clay-graphite", wall_mm=20.0, mass_new_kg=3.41, metal="bronze")

SEGMENTS = (
    SegmentFigures(1, "drying", "ramp", 7200.0, 24.1, 25.0, 900.0, 0.0, 0.0),
    SegmentFigures(2, "carry", "transfer", 400.0, None, None, None, 0.0, 0.0),
    SegmentFigures(3, "hold", "soak", 2100.0, 3.0, 40.0, 120.0, 1800.0, 1800.0),
)


def figures(record_id: str = "r1", **changes: object) -> HeatFigures:
    """Give the figures of a heat, changed as wished."""
    usual = HeatFigures(
        record_id=record_id,
        file=f"/heats/{record_id}.jsonl",
        started="2026-01-10T09:00:00Z",
        title="Clay-graphite, first heat",
        mark="A3",
        metal="bronze",
        thermocouple="K",
        rehearsal=False,
        closed=True,
        complete=True,
        readings=14_000,
        seconds=14_000.0,
        peak_c=1151.0,
        soaked_s=1800.0,
        hot_h=1.8,
        dose_min=705.0,
        unseen_s=0.0,
        alarms={"ramp-high": 2, "signal-lost": 1},
        segments=SEGMENTS,
    )
    return msgspec.structs.replace(usual, **changes)
