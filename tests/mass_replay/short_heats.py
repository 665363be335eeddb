"""Short invented heats: five minutes with one climb that is too fast. Not a test itself."""

import random
from pathlib import Path

from rampwarden.core.model import Reading
from rampwarden.records import FORMAT, End, Header, encode_line

OWN: dict[str, object] = {
    "title": "Up",
    "segment": [{"name": "up", "kind": "ramp", "to": "900 C", "max_rate": "20 C / 2 min"}],
}
LAXER: dict[str, object] = {
    "title": "Up, faster",
    "segment": [{"name": "up", "kind": "ramp", "to": "900 C", "max_rate": "80 C / 2 min"}],
}


def short_heat(folder: Path, number: int, seconds: int = 300) -> Path:
    """Write a heat that climbs by 8 °C/min, and for some two minutes in its middle by 30."""
    draw = random.Random(number)
    fast = range(100 + 10 * number % 50, 240)
    header = Header(
        format=FORMAT, started=f"2026-01-{1 + number % 28:02d}T09:00:00Z", id=f"h{number}", title="Up", schedule=OWN
    )
    temp_c, lines = 25.0, [header]
    path = folder / f"h{number:04d}.jsonl"
    with path.open("wb") as file:
        file.write(encode_line(lines[0]))
        for second in range(seconds):
            temp_c += (30.0 if second in fast else 8.0) / 60.0
            file.write(encode_line(Reading(float(second), temp_c=round(temp_c + draw.gauss(0.0, 0.2), 2))))
        file.write(encode_line(End(float(seconds))))
    return path
