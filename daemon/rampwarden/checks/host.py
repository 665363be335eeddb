"""Is there room for the record, and is this computer's clock set?"""

import os
import shutil
from pathlib import Path

from rampwarden.checks.check import Check, fine, look_again, will_not_work
from rampwarden.core.quantities import format_duration

# A reading's line with EMF, junction, time and number has 80 to 100 bytes; events and the end are few.
_BYTES_A_LINE = 120
# A heat may take twice as long as planned.
_RESERVE = 2.0
# Where the schedule does not tell: a long day and the night after it.
_UNKNOWN_LENGTH_S = 24 * 3600.0
# Less room than this fills up by itself on a small computer: logs, updates.
_COMFORTABLE = 100_000_000
_TIME_ERROR = 5  # adjtimex(2): the clock is not synchronised


def judge_room(folder: Path, heat_s: float | None, interval_s: float) -> Check:
    """Judge whether the folder of the records can be written and has room for a heat of `heat_s` seconds."""
    standing = next(place for place in (folder, *folder.absolute().parents) if place.exists())
    if not standing.is_dir():
        return will_not_work("disk", f"{standing}: is a file, not a folder")
    if not os.access(standing, os.W_OK | os.X_OK):
        return will_not_work("disk", f"{standing}: you may not write there")
    try:
        free = shutil.disk_usage(standing).free
    except OSError as error:
        return will_not_work("disk", f"{standing}: {error.strerror}")
    planned = "a day and a night" if heat_s is None else f"a heat of {format_duration(heat_s)}"
    need = int(_RESERVE * (_UNKNOWN_LENGTH_S if heat_s is None else heat_s) / interval_s * _BYTES_A_LINE)
    words = f"{_size(free)} are free in {standing}; {planned} may need {_size(need)}"
    if free < need:
        return will_not_work("disk", words)
    return look_again("disk", words) if free < need + _COMFORTABLE else fine("disk", words)


def judge_clock(state: int | None) -> Check:
    """Judge the computer's clock by its state, as `clock_state` gives it."""
    if state is None:
        return look_again(
            "clock", "whether it is set cannot be told here; records bear its date, durations do not need it"
        )
    if state == _TIME_ERROR:
        return look_again(
            "clock", "not kept in step with any time server; records bear its date, durations do not need it"
        )
    return fine("clock", "set, and kept in step with a time server")


def _size(count: int) -> str:
    for unit, size in (("GB", 1_000_000_000), ("MB", 1_000_000)):
        if count >= size:
            return f"{count / size:.1f} {unit}"
    return f"{count / 1000:.0f} kB"
