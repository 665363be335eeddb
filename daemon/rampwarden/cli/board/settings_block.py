"""The block of settings that a board needs, to be pasted into a settings file."""

import json
from collections.abc import Mapping, Sequence

from rampwarden.bench import BoardFinding
from rampwarden.settings import OF_ONE_PROBE, BoardSection

# What a person would write of an interval: finer is the scatter of the listening.
_INTERVAL_DIGITS = 2


def settings_block(keys: Mapping[str, object], section: str = "board") -> str:
    """Give a board's section with these keys as TOML; what is at its default is left out, and what is its probe's.

    >>> print(settings_block({"port": "/dev/ttyACM0", "format": "labels", "values": ["T1"], "baud": 115200}))
    [board]
    port = "/dev/ttyACM0"
    format = "labels"
    values = ["T1"]
    """
    usual = BoardSection().model_dump(mode="json")
    lines = [f"[{section}]"]
    of_probe = () if section == "board" else OF_ONE_PROBE
    for key in BoardSection.model_fields:
        value = None if key in of_probe else keys.get(key)
        if value is not None and value != usual[key]:
            lines.append(f"{key} = {_toml(key, value)}")
    return "\n".join(lines)


def interval_found(findings: Sequence[BoardFinding]) -> float | None:
    """Give the time between two lines that a listening found, s; None if it found none."""
    for finding in findings:
        interval_s = finding.figures.get("interval_s")
        if isinstance(interval_s, float) and interval_s > 0.0:
            return max(round(interval_s, _INTERVAL_DIGITS), 0.01)
    return None


def _toml(key: str, value: object) -> str:
    if key == "interval" and isinstance(value, float):
        return f'"{value:g} s"'
    # JSON's texts, numbers and lists of them are TOML's too; only the letter DEL is not.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
