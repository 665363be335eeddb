"""Records of invented heats for the tests of the report. Not a test itself."""

import json
import random
from collections.abc import Sequence
from pathlib import Path

from rampwarden.core.instrument.thermocouple import thermocouple

JUNCTION_C = 25.0
Line = dict[str, object]

SCHEDULE: Line = {
    "title": "To 800 and back",
    "crucible_class": "clay-graphite",
    "segment": [
        {"name": "up", "kind": "ramp", "to": "800 C", "max_rate": "100 C / 5 min"},
        {"name": "hold", "kind": "soak", "at": "800 C", "band": ["-15 C", "+15 C"], "hold": "5 min"},
        {"name": "down", "kind": "cool", "to": "700 C", "max_rate": "100 C / 5 min"},
    ],
}

OVEN: Line = {
    "title": "An hour in the oven",
    "crucible_class": "clay-graphite",
    "segment": [
        {"name": "up", "kind": "ramp", "to": "166 C", "max_rate": "60 C / 5 min"},
        {"name": "dry", "kind": "soak", "at": "166 C", "band": ["-15 C", "+15 C"], "hold": "30 min"},
        {"name": "red", "kind": "ramp", "to": "700 C", "max_rate": "100 C / 5 min"},
    ],
}
"""Of a sculpture school's bronze workshop."""


def write_record(
    path: Path,
    courses: Sequence[tuple[float, float]],
    inputs: Sequence[Line] = (),
    schedule: Line | None = None,
    **header: object,
) -> Path:
    """Write a record: straight lines through (time_s, temp_c), a reading each 5 s, and other inputs between them."""
    couple, dice = thermocouple("K"), random.Random(7)
    first: Line = {"kind": "header", "format": "rampwarden-heat/1", "started": "2026-01-01T09:00:00Z", "id": path.stem}
    lines: list[Line] = []
    (time_s, temp_c), *corners = courses
    for to_s, to_c in corners:
        while time_s < to_s:
            lines.append(_reading(couple.emf_uv(temp_c + dice.gauss(0.0, 0.2)) - couple.emf_uv(JUNCTION_C), time_s))
            temp_c += (to_c - temp_c) * 5.0 / (to_s - time_s)
            time_s += 5.0
    lines = sorted([*lines, *inputs], key=lambda line: float(str(line["time_s"])))
    written = [{**first, "schedule": schedule or SCHEDULE, **header}, *lines, {"kind": "end", "time_s": time_s}]
    path.write_text("".join(json.dumps(line) + "\n" for line in written), encoding="utf-8")
    return path


GOOD = ((0.0, 20.0), (4000.0, 801.0), (4500.0, 801.0), (5300.0, 698.0))
"""Kept within the schedule, about 59 °C in 5 minutes up and 39 down."""
FAST = ((0.0, 20.0), (600.0, 20.0), (1200.0, 320.0), (3600.0, 801.0), (4100.0, 801.0), (4900.0, 698.0))
"""Climbs 150 °C in 5 minutes from 20 °C on."""


def note(time_s: float, text: str) -> Line:
    """Give a note of an operator."""
    return {"kind": "command", "time_s": time_s, "command": "note", "text": text}


def mark(time_s: float, text: str) -> Line:
    """Give a mark of an operator."""
    return {"kind": "command", "time_s": time_s, "command": "mark", "text": text}


def _reading(emf_uv: float, time_s: float) -> Line:
    return {"kind": "reading", "time_s": time_s, "emf_uv": round(emf_uv, 1), "junction_c": JUNCTION_C}
