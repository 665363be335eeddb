"""Invented rows of an archive, as many as wanted and the same each time. Not a test itself."""

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from rampwarden.archive import HeatRow

_BEGAN = datetime(2026, 1, 1, 8, tzinfo=UTC)
_ALARMS = ("ramp-high", "soak-deviation", "flame-out", "signal-lost")
_SCHEDULES = ("Clay-graphite, first heat", "Bronze, daily_use", "Glass pot 100 %", "Aluminium")


def invented_rows(count: int, per_day: int = 2) -> Iterator[HeatRow]:
    """Give rows of a shop with several furnaces; a tenth are rehearsals, a tenth false starts."""
    draw = random.Random(17)
    for number in range(count):
        started = _BEGAN + timedelta(days=number // per_day, minutes=draw.randrange(600))
        names = [name for name in _ALARMS if draw.random() < 0.2]
        yield HeatRow(
            id=f"heat-{number}",
            sha256=f"{number:064x}",
            length=draw.randrange(10_000, 5_000_000),
            furnace=f"furnace-{draw.randrange(1, 21)}",
            started=started.isoformat().replace("+00:00", "Z"),
            month=f"{started:%Y-%m}",
            schedule=draw.choice(_SCHEDULES),
            mark=f"POT-{draw.randrange(60)}",
            metal=draw.choice(("bronze", "brass", "")),
            rehearsal=int(draw.random() < 0.1),
            was_heat=int(draw.random() > 0.1),
            closed=1,
            complete=int(draw.random() < 0.8),
            seconds=round(draw.uniform(3_000.0, 30_000.0), 1),
            peak_c=round(draw.uniform(600.0, 1250.0), 1),
            soaked_s=round(draw.uniform(0.0, 3_000.0), 1),
            hot_h=round(draw.uniform(0.0, 5.0), 3),
            dose_min=round(draw.uniform(0.0, 900.0), 2),
            alarms=len(names) and draw.randrange(len(names), 9),
            alarm_names=" ".join(names),
            over_min=round(draw.uniform(0.0, 30.0), 2),
            soak_error_c=None if draw.random() < 0.1 else round(draw.gauss(0.0, 8.0), 2),
            gas_kg=None if draw.random() < 0.5 else round(draw.uniform(1.0, 9.0), 3),
        )
