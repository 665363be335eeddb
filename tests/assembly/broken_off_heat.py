"""A heat that was broken off in its soak, with an alarm that nobody has acknowledged. Not a test itself."""

import functools
import tomllib
from datetime import timedelta
from pathlib import Path

from rampwarden.clock import present_moment
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import ClockMark, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.records.record_lines import FORMAT, Header, Line, encode_line
from rampwarden.records.record_writer import RecordWriter
from rampwarden.settings import Settings

PORT = "/dev/board"
SCHEDULE = """
title = "Damaged"
[[segment]]
name = "up"
kind = "ramp"
to = "100 C"
max_rate = "25 C / 15 min"
[[segment]]
name = "soak"
kind = "soak"
at = "100 C"
band = ["-10 C", "+10 C"]
hold = "2 h"
"""
TABLE = tomllib.loads(SCHEDULE)
WATCHED_S = 900
SOAKED_S = 700


def broken_off(shop: Settings, **fields: object) -> Path:
    """Watch a quarter of an hour in the soak, a minute ago, and break off without an end."""
    now = present_moment()
    began_s = WATCHED_S + 60.0
    about: dict[str, object] = {
        "started": (now.wall - timedelta(seconds=began_s)).isoformat(),
        "id": "0123456789abcdef",
        "schedule": TABLE,
        "board": {"port": PORT},
        "boot": now.boot,
        "zero_s": round(now.host_s - began_s, 3),
        "software": "rampwarden 0",
    } | fields
    path = shop.watch.records / "broken-off.jsonl"
    RecordWriter.create(path, Header(FORMAT, **about)).close()  # type: ignore[arg-type]
    with path.open("ab") as file:
        file.write(watched_lines())
    return path


@functools.cache
def watched_lines() -> bytes:
    """Give what stands in a record below its header after a quarter of an hour in the soak."""
    monitor = Monitor(parse_schedule(TABLE, "test"))
    steep = [Reading(float(second), temp_c=60.0 + 0.4 * second) for second in range(1, 101)]
    soak = [Reading(float(second), temp_c=100.0 + 0.2 * (second % 3)) for second in range(101, WATCHED_S + 1)]
    lines: list[Line] = []
    for item in (ClockMark(0.0), *steep, *soak):
        lines += [item, *monitor.feed(item)]
    assert {"ramp-high"} <= {alarm.alarm for alarm in monitor.status().alarms}
    assert monitor.soaked_s > SOAKED_S
    return b"".join(encode_line(line, seq) for seq, line in enumerate(lines, start=1))
