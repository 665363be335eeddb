"""The payload of each datatype of the Homie convention, version 5, and nothing else.

A function gives None where there is no value to publish; what then happens to the topic is not decided here. NaN and
infinity are no values: the convention forbids them, and a reader would trip over them.
"""

import math
from datetime import UTC, datetime, timedelta

import msgspec


def number(value: float | None, digits: int = 1) -> str | None:
    """Write a float as the convention wants it; None where there is none, and NaN and infinity are none."""
    return None if value is None or not math.isfinite(value) else f"{value:.{digits}f}"


def duration(seconds: float | None) -> str | None:
    """Write a duration as ISO 8601, in whole seconds.

    >>> duration(3725)
    'PT1H2M5S'
    """
    if seconds is None or not math.isfinite(seconds) or seconds < 0:
        return None
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    parts = f"{hours}H" * bool(hours) + f"{minutes}M" * bool(minutes) + f"{rest}S" * bool(rest)
    return f"PT{parts or '0S'}"


def text(value: str | None) -> str | None:
    """Write a string; the empty one is a single zero byte, because an empty payload deletes a topic."""
    return None if value is None else value or "\x00"


def moment(started: datetime, time_s: float) -> str:
    """Write the wall time of a heat's second `time_s`, ISO 8601 in UTC, to the millisecond."""
    wall = (started + timedelta(seconds=time_s)).astimezone(UTC)
    return wall.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def json_text(value: object) -> str:
    """Write JSON; NaN and infinity become null."""
    return msgspec.json.encode(value).decode()
